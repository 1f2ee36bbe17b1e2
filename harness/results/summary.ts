import { boxNote } from "./box-note.ts";
import { filterNote } from "./filter-note.ts";
import { methodCount } from "./method-note.ts";
import { marginNote } from "./margin-note.ts";
import type { CheckResult } from "../judge/types.ts";
import {
  RESULTS_VERSION,
  type CaseFailure,
  type CaseResult,
  type Summary,
  type SummaryRow,
  type TargetIdentity,
} from "./types.ts";

/** A check's ratio with what no multiple tells above all that have one. */
function worstness({ worstRatio }: CheckResult): number {
  return worstRatio ?? Infinity;
}

function worstOf(checks: CheckResult[]): CheckResult | undefined {
  let worst: CheckResult | undefined;
  for (const one of checks) {
    if (worst === undefined || worstness(one) > worstness(worst)) worst = one;
  }
  return worst;
}

/** A case as one row of the summary. */
export function summaryRow(result: CaseResult): SummaryRow {
  const { verdict } = result;
  const worst = worstOf(verdict.checks);
  const wrong = verdict.checks.find((one) => !one.isRight);
  let why = "";
  if (!verdict.isRight && verdict.isCanary) {
    const said = verdict.checks.find((one) => one.check === "expectation" && !one.isRight);
    why = said?.why ?? "a canary must be judged wrong by the check it names, and was not";
  } else if (!verdict.isRight) {
    why = wrong?.why ?? "no check says why";
  }
  const unit = result.timeUnit === "s" ? "s" : "samples";
  return {
    id: result.id,
    name: result.name,
    question: result.question,
    ...(result.see === undefined ? {} : { see: result.see }),
    isRight: verdict.isRight,
    isCanary: verdict.isCanary,
    ...(verdict.box === undefined ? {} : { decision: verdict.box.decision }),
    durationS: result.durationS,
    timeUnit: result.timeUnit,
    worstRatio: worst === undefined ? 0 : worst.worstRatio,
    worstCheck: worst?.check ?? "",
    why,
    notes: verdict.filters.map((filter) => filterNote(filter, verdict.events, unit)),
    margin: verdict.box === undefined ? marginNote(verdict) : boxNote(verdict.box),
    ...(result.methods === undefined ? {} : { methods: methodCount(result.methods) }),
  };
}

/** What a summary says of the run as a whole. */
export interface SummaryRun {
  packageVersion: string;
  seed: number;
  target: TargetIdentity;
  plannedCount: number;
}

/** Rows and failures as the summary of a run, in the order given. */
export function summaryOf(rows: SummaryRow[], failures: CaseFailure[], run: SummaryRun): Summary {
  const isOfBox = rows.some((one) => one.decision !== undefined);
  const guardBandCount = rows.filter((one) => one.decision === "within the guard band").length;
  return {
    resultsVersion: RESULTS_VERSION,
    packageVersion: run.packageVersion,
    seed: run.seed,
    target: run.target,
    plannedCount: run.plannedCount,
    caseCount: rows.length,
    rightCount: rows.filter((one) => one.isRight).length,
    wrongCount: rows.filter((one) => !one.isRight).length,
    ...(isOfBox ? { guardBandCount } : {}),
    canaryCount: rows.filter((one) => one.isCanary).length,
    simulatedS: rows.reduce((sum, one) => sum + one.durationS, 0),
    cases: rows,
    failures,
  };
}
