// What a scenario says there is to see, from its file to the terminal and the page.
import { parseHTML } from "linkedom";
import { describe, expect, it } from "vitest";
import { summaryLines } from "../../../harness/cli/console-summary.ts";
import { pageHead, pageTail } from "../../../harness/report/report-page.ts";
import { summaryOf, summaryRow } from "../../../harness/results/summary.ts";
import type { CaseResult } from "../../../harness/results/types.ts";
import { parseScenario } from "../../../harness/scenario/scenario-reader.ts";
import { sampleCase } from "../../kit/sample-case.ts";
import { sampleRun, sampleSection } from "../../kit/sample-run.ts";
import { scenarioText } from "../scenario/scenario-kit.ts";

const SEE = `The number rises <b>here</b> & "there".`;

function pageOf(result: CaseResult): Document {
  const summary = summaryOf([summaryRow(result)], [], sampleRun());
  return parseHTML(pageHead("Run", summary) + sampleSection(result) + pageTail()).document;
}

describe("what there is to see", () => {
  it("[DEMO-001] is read from the scenario, and may be left out", () => {
    const read = (see: string) => parseScenario("a.scenario.yaml", scenarioText({ see }))[0]!.see;
    expect(read("see: The number rises.")).toBe("The number rises.");
    expect(read("")).toBeUndefined();
  });

  it("[DEMO-002] stands in the summary and the case's section, as text", () => {
    const document = pageOf(sampleCase({ see: SEE }));
    expect(document.querySelector("#summary .see")?.textContent).toBe(SEE);
    expect(document.querySelector(".case .see")?.textContent).toBe(`What to see: ${SEE}`);
    expect(document.querySelectorAll("b")).toHaveLength(0);
    expect(pageOf(sampleCase()).querySelectorAll(".see")).toHaveLength(0);
  });

  it("[DEMO-003] stands on the terminal under the verdict of a right case", () => {
    const summary = summaryOf([summaryRow(sampleCase({ see: SEE }))], [], sampleRun());
    const lines = summaryLines(
      { summary, isInterrupted: false, resumedCount: 0, cases: [], stacks: [] },
      "out",
      "all",
    );
    const verdict = lines.findIndex((line) => line.startsWith("  right  "));
    expect(lines[verdict + 1]).toBe(`         ${SEE}`);
  });
});
