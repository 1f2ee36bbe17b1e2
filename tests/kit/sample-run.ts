// A made-up run around sample-case.ts.
import type { SummaryRun } from "../../harness/results/summary.ts";
import { drawCaseSection } from "../../harness/report/case-section.ts";
import type { CaseResult, RunCase } from "../../harness/results/types.ts";
import { SAMPLE_REPEAT, sampleCase, sampleCheck } from "./sample-case.ts";

export function sampleRun(plannedCount = 2): SummaryRun {
  const target = {
    kind: "core",
    identity: "fedcba9876543210",
    layoutVersion: 1,
    numericsVersion: 1,
  };
  return { packageVersion: "0.1.0", seed: 1, target, plannedCount };
}

/** Where cases came from, as a run tells it. */
export function sampleRunCases(cases: readonly CaseResult[]): RunCase[] {
  return cases.map(({ name, id }, place) => {
    const called = { name, file: "flights/sample.scenario.yaml", repeat: SAMPLE_REPEAT };
    return { ...called, place, id, elapsedS: 0.25 };
  });
}

/** A case's section with the command that repeats it. */
export function sampleSection(result: CaseResult): string {
  return drawCaseSection(result, SAMPLE_REPEAT);
}

/** A case whose level check is wrong and says `why`. */
export function wrongCase(why: string): CaseResult {
  const result = sampleCase({ id: "1123456789abcdef", name: "wrong case" });
  result.verdict.isRight = false;
  result.verdict.checks[0] = sampleCheck({ isRight: false, worstRatio: 2.3, why });
  return result;
}
