import { boxNote } from "./box-note.ts";
import { filterNote } from "./filter-note.ts";
import {
  type ProofTask,
  type RequirementMatrix,
  requirementMatrix,
} from "../requirement/matrix.ts";
import { methodCount } from "./method-note.ts";
import { marginNote } from "./margin-note.ts";
import type { BoxDecision, CheckResult } from "../judge/types.ts";
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
  // Of a box the decision comes first: a guard band may be nearer to its limit than what is outside.
  const [first] = byDecision(checks);
  const alike = checks.filter((one) => one.decision === first?.decision);
  for (const one of alike) {
    if (worst === undefined || worstness(one) > worstness(worst)) worst = one;
  }
  return worst;
}

/** From the best to the worst; a check of no box decides nothing of its own. */
const WORSE: readonly (BoxDecision | undefined)[] = [
  undefined,
  "inside",
  "not judged",
  "within the guard band",
  "outside",
];

/** Wrong checks in words: the first alone, of a box every one, so that none hides another. */
function whyOf(checks: readonly CheckResult[]): string {
  const wrong = checks.filter((one) => !one.isRight);
  if (wrong.length === 0) return "no check says why";
  if (wrong[0]!.decision === undefined) return wrong[0]!.why;
  return byDecision(wrong)
    .map(({ why, decision }) => `${why}: ${decision}`)
    .join(". ");
}

const byDecision = (checks: readonly CheckResult[]): CheckResult[] =>
  checks.toSorted((a, b) => WORSE.indexOf(b.decision) - WORSE.indexOf(a.decision));

/** A case as one row of the summary. */
export function summaryRow(result: CaseResult): SummaryRow {
  const { verdict } = result;
  const worst = worstOf(verdict.checks);
  let why = "";
  if (!verdict.isRight && verdict.isCanary) {
    const said = verdict.checks.find((one) => one.check === "expectation" && !one.isRight);
    why = said?.why ?? "a canary must be judged wrong by the check it names, and was not";
  } else if (!verdict.isRight) {
    why = whyOf(verdict.checks);
  }
  const unit = result.timeUnit === "s" ? "s" : "samples";
  return {
    id: result.id,
    name: result.name,
    question: result.question,
    ...(result.see === undefined ? {} : { see: result.see }),
    requirements: result.requirements,
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

/** A case without a verdict proves nothing, and leaves what it should prove not met. */
function provenBy(
  task: ProofTask,
  rows: readonly SummaryRow[],
  failures: readonly CaseFailure[],
): RequirementMatrix | undefined {
  const matrix = requirementMatrix(task, [
    ...rows,
    ...failures.map(({ name }) => ({ name, requirements: [], isRight: undefined })),
  ]);
  const isTold = !task.isOwn || matrix.rows.some(({ state }) => state !== "not run");
  return isTold ? matrix : undefined;
}

/** What a summary says of the run as a whole. */
export interface SummaryRun {
  packageVersion: string;
  seed: number;
  target: TargetIdentity;
  plannedCount: number;
  requirements?: ProofTask;
}

/** Rows and failures as the summary of a run, in the order given. */
export function summaryOf(rows: SummaryRow[], failures: CaseFailure[], run: SummaryRun): Summary {
  const isOfBox = rows.some((one) => one.decision !== undefined);
  const countOf = (decision: BoxDecision): number =>
    rows.filter((one) => one.decision === decision).length;
  const ofBox = {
    guardBandCount: countOf("within the guard band"),
    notJudgedCount: countOf("not judged"),
  };
  const matrix = run.requirements && provenBy(run.requirements, rows, failures);
  return {
    resultsVersion: RESULTS_VERSION,
    packageVersion: run.packageVersion,
    seed: run.seed,
    target: run.target,
    plannedCount: run.plannedCount,
    caseCount: rows.length,
    rightCount: rows.filter((one) => one.isRight).length,
    wrongCount: rows.filter((one) => !one.isRight).length,
    ...(isOfBox ? ofBox : {}),
    canaryCount: rows.filter((one) => one.isCanary).length,
    simulatedS: rows.reduce((sum, one) => sum + one.durationS, 0),
    cases: rows,
    failures,
    ...(matrix === undefined ? {} : { requirements: matrix }),
  };
}
