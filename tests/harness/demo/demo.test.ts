// The demonstration as a user starts it: one run of all scenes, looked at from every side.
import { mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { parseHTML } from "linkedom";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { CAUTION_SENTENCE } from "../../../host/caution-sentence.ts";
import { PACKAGE_ROOT } from "../../../host/package-root.ts";
import type { CaseResult, Summary } from "../../../harness/results/types.ts";
import { readScenarioFile } from "../../../harness/scenario/scenario-reader.ts";
import { amberline, type Ended } from "../../kit/amberline-command.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const DEMO = join(PACKAGE_ROOT, "harness", "demo");
const SCENES = readdirSync(DEMO)
  .filter((name) => name.endsWith(".scenario.yaml"))
  .sort()
  .map((name) => readScenarioFile(join(DEMO, name))[0]!);
/** Words that a screen of this project never shows: they would advise, not indicate. */
const ADVICE = /benign|\bsafe|\bcontinu/i;
const NO_EVIDENCE = /no evidence that nothing is broken/;

let folder = "";
let ended: Ended;
let jsonEnded: Ended;
let report = "";
let summary: Summary;

function textOf(name: string): string {
  return readFileSync(join(folder, name), "utf8");
}

function caseOf(start: string): CaseResult {
  const row = summary.cases.find((one) => one.name.startsWith(start))!;
  return JSON.parse(textOf(join("cases", `${row.id}.json`))) as CaseResult;
}

function timesOf(result: CaseResult, name: string): number[] {
  return result.verdict.events.filter((one) => one.name === name).map((one) => one.timeS);
}

/** The number shown at the display step nearest to a time. */
function shownAt(result: CaseResult, timeS: number): number {
  const { trace } = result.verdict.filters[0]!;
  const at = trace.timeS.reduce((best, time, i) => {
    return Math.abs(time - timeS) < Math.abs(trace.timeS[best]! - timeS) ? i : best;
  }, 0);
  return trace.shown[at]!;
}

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "amberline-demo-"));
  ended = await amberline(["demo", "--out", folder], { cwd: PACKAGE_ROOT });
  const other = join(folder, "other");
  const words = ["demo", "--json", "--only", "loose", "--seed", String(TEST_SEED), "--out", other];
  jsonEnded = await amberline(words, { cwd: PACKAGE_ROOT });
  report = textOf("report.html");
  summary = JSON.parse(textOf("summary.json")) as Summary;
});

afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe("the demonstration", () => {
  it("[DEMO-010] has at least six scenes, and each says in one sentence what to see", () => {
    expect(SCENES.length).toBeGreaterThanOrEqual(6);
    for (const { name, see } of SCENES) expect(see, name).toMatch(/^[A-Z].*\.$/);
    expect(summary.cases.map((one) => one.see)).toEqual(SCENES.map((one) => one.see));
  });

  it("[DEMO-011] is judged right in every scene, and ends with code 0", () => {
    expect(summary.cases.filter((one) => !one.isRight)).toEqual([]);
    expect(summary).toMatchObject({ caseCount: SCENES.length, failures: [] });
    expect(ended).toMatchObject({ code: 0, stderr: "" });
    expect(jsonEnded).toMatchObject({ code: 0, stderr: "" });
  });

  it("[DEMO-012] tells it all on the terminal in 80 columns and 40 lines", () => {
    const lines = ended.stdout.split("\n");
    expect(Math.max(...lines.map((line) => line.length))).toBeLessThanOrEqual(80);
    expect(lines.length).toBeLessThanOrEqual(40);
    const flat = ended.stdout.replace(/\s+/g, " ");
    for (const { name, see } of SCENES) {
      expect(flat).toContain(`right ${name} `);
      expect(flat).toContain(see!);
    }
    expect(flat).toContain(`Report: ${join(folder, "report.html")}`);
  });

  it("[DEMO-013] gives no advice on the terminal, in JSON, in the report or in any file", () => {
    const files = readdirSync(folder, { recursive: true, encoding: "utf8" });
    const read = files.filter((name) => /\.(html|json|xml)$/.test(name));
    expect(read.length).toBeGreaterThan(SCENES.length + 3);
    const all = [ended.stdout, jsonEnded.stdout, ...read.map(textOf)];
    for (const text of all) expect(ADVICE.exec(text)?.[0]).toBeUndefined();
  });

  it("[DEMO-014] ends its report with the caution sentence", () => {
    const { document } = parseHTML(report);
    document.querySelector("script")?.remove();
    const body = document.querySelector("body")?.textContent.trimEnd() ?? "";
    expect(body.endsWith(CAUTION_SENTENCE)).toBe(true);
  });

  it("[DEMO-015] says in both cuts to idle that a level fallen at another speed shows nothing", () => {
    const cuts = SCENES.filter((one) => one.name.includes("cut-to-idle"));
    expect(cuts).toHaveLength(2);
    const { document } = parseHTML(report);
    const told = [...document.querySelectorAll(".case .see")].map((one) => one.textContent);
    for (const { see } of cuts) {
      expect(see).toMatch(NO_EVIDENCE);
      expect(told).toContain(`What to see: ${see}`);
    }
  });
});

describe("the picture of a report", () => {
  it("[DEMO-030] is a PNG of at most 300 kB and 1,600 to 2,000 pixels wide", () => {
    const picture = readFileSync(join(PACKAGE_ROOT, "harness", "report", "example.png"));
    expect(picture.subarray(1, 4).toString("latin1")).toBe("PNG");
    expect(picture.length).toBeLessThanOrEqual(300_000);
    expect(picture.readUInt32BE(16)).toBeGreaterThanOrEqual(1600);
    expect(picture.readUInt32BE(16)).toBeLessThanOrEqual(2000);
  });
});

describe("what the scenes show", () => {
  it("[DEMO-020] a bound blade shows next to nothing at idle, and a caution at survey power", () => {
    const bound = caseOf("2-");
    expect(shownAt(bound, 25)).toBeLessThanOrEqual(0.2);
    expect(timesOf(bound, "caution-on")).toHaveLength(1);
    expect(shownAt(bound, 54)).toBeGreaterThanOrEqual(5);
  });

  it("[DEMO-021] the support mode passed quickly brings no caution, slowly it does", () => {
    const passed = caseOf("3-");
    const onsets = passed.verdict.exceedances.map((one) => one.onsetS);
    expect(onsets).toHaveLength(2);
    expect(timesOf(passed, "caution-on")).toHaveLength(1);
    expect(timesOf(passed, "caution-on")[0]).toBeGreaterThan(onsets[1]!);
  });

  it("[DEMO-022] both cuts look alike at idle; only back at the same speed they differ", () => {
    const [clears, stays] = [caseOf("4-"), caseOf("5-")];
    expect(timesOf(clears, "caution-off")).toEqual(timesOf(stays, "caution-off"));
    expect(Math.abs(shownAt(clears, 44) - shownAt(stays, 44))).toBeLessThanOrEqual(0.1);
    expect(timesOf(clears, "caution-on")).toHaveLength(1);
    expect(timesOf(stays, "caution-on")).toHaveLength(2);
    expect(shownAt(clears, 74)).toBeLessThan(2);
    expect(shownAt(stays, 74)).toBeGreaterThanOrEqual(5);
  });

  it("[DEMO-023] a loose cable drives the number past the level, and no caution comes", () => {
    const loose = caseOf("6-");
    expect(loose.verdict.exceedances.length).toBeGreaterThan(0);
    expect(timesOf(loose, "caution-on")).toEqual([]);
    expect(timesOf(loose, "transducer-fault")).toHaveLength(1);
  });

  it("[DEMO-024] the core at twice the fan's speed does not move the fan's number", () => {
    const { filters } = caseOf("8-").verdict;
    const { trace, displayStep } = filters[0]!;
    const settled = trace.shown.filter((_, i) => trace.timeS[i]! > 5);
    const span =
      settled.reduce((a, b) => Math.max(a, b)) - settled.reduce((a, b) => Math.min(a, b));
    expect(span).toBeLessThanOrEqual(displayStep * 1.001);
  });
});
