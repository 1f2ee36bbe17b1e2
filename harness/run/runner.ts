// Runs many cases over a pool of threads and leaves a folder of results. Cases end in any order; the
// results are in the order given.
import { setMaxListeners } from "node:events";
import { availableParallelism, cpus } from "node:os";
import { join } from "node:path";
import { Tinypool } from "tinypool";
import { packageVersion } from "../../host/package-root.ts";
import { writeReport } from "../report/report-file.ts";
import { caseIdentity } from "../results/identity.ts";
import {
  hasCase,
  prepareFolder,
  readCase,
  removeOtherCases,
  writeSummary,
} from "../results/results-folder.ts";
import { summaryOf } from "../results/summary.ts";
import {
  RESULTS_VERSION,
  type CaseFailure,
  type RunCase,
  type RunInfo,
  type Summary,
  type SummaryRow,
} from "../results/types.ts";
import type { Scene } from "../scene/scene.ts";
import { type CaseOutcome, type CaseTask, judged } from "./case-task.ts";
import { TargetFailure } from "./run-case.ts";
import { SectionSpool } from "./section-spool.ts";
import { type TargetSpec, makeTarget } from "./target-spec.ts";

export interface PlannedCase {
  scene: Scene;
  /** Its scenario file, as a report shows it. */
  file: string;
  /** The command that runs it alone again. */
  repeat: string;
}

export interface RunPlan {
  cases: PlannedCase[];
  target: TargetSpec;
  folder: string;
  jobs: number;
  seed: number;
  title: string;
  command: string[];
  signal: AbortSignal;
  onCase(done: number, total: number, name: string): void;
}

export interface RunOutcome {
  summary: Summary;
  isInterrupted: boolean;
  /** Where each case came from and how it is run again, in the order given. */
  cases: RunCase[];
  /** For --debug: the stack of each failure, in the order of `summary.failures`. */
  stacks: string[];
}

/** Threads where none are asked for. */
export function defaultJobs(): number {
  return availableParallelism();
}

/** The pool; a thread starts with its first task, so that a thread that cannot start fails one. */
function makePool(jobs: number): Tinypool {
  const isSource = import.meta.url.endsWith(".ts");
  const worker = isSource ? "./source-worker.mjs" : "./case-worker.js";
  return new Tinypool({
    filename: new URL(worker, import.meta.url).href,
    minThreads: 0,
    maxThreads: jobs,
    execArgv: [],
  });
}

async function identify(spec: TargetSpec, signal: AbortSignal): Promise<Summary["target"]> {
  try {
    const target = makeTarget(spec);
    const { kind, identity, layoutVersion, numericsVersion } = await target.open(signal);
    await target.close();
    return { kind, identity, layoutVersion, numericsVersion };
  } catch (error) {
    const said = error instanceof Error ? error.message : String(error);
    throw new TargetFailure(`the target cannot be opened: ${said}`, { cause: error });
  }
}

/** A case whose file was whole when its thread was ended, though it could not say so any more. */
function finishedCase(
  folder: string,
  { scene, repeat }: PlannedCase,
  target: Summary["target"],
): CaseOutcome | undefined {
  const id = caseIdentity(scene, target);
  return hasCase(folder, id) ? judged(readCase(folder, id), repeat) : undefined;
}

/** A case whose thread broke. */
function brokenCase(scene: Scene, error: unknown): CaseOutcome {
  const message = error instanceof Error ? error.message : String(error);
  const stack = error instanceof Error ? (error.stack ?? message) : message;
  return { kind: "failed", failure: { name: scene.name, kind: "defect", message }, stack };
}

/** Runs every case; undefined where one was cut off by the signal. */
async function runPool(
  plan: RunPlan,
  target: Summary["target"],
  spool: SectionSpool,
): Promise<(CaseOutcome | undefined)[]> {
  const pool = makePool(Math.max(1, Math.min(plan.jobs, plan.cases.length)));
  // The pool listens once for every case that waits: no leak, but more than Node expects.
  setMaxListeners(plan.cases.length + 10, plan.signal);
  let done = 0;
  const runOne = async (planned: PlannedCase): Promise<CaseOutcome | undefined> => {
    const { folder, signal } = plan;
    const { scene, repeat } = planned;
    const task: CaseTask = { scene, repeat, target: plan.target, folder };
    const outcome = await pool
      .run(task, { signal })
      .then((one) => one as CaseOutcome)
      .catch((error: unknown) =>
        signal.aborted ? finishedCase(folder, planned, target) : brokenCase(scene, error),
      );
    if (outcome?.kind === "judged") {
      spool.add(outcome.row.id, outcome.section);
      outcome.section = "";
    }
    done += 1;
    plan.onCase(done, plan.cases.length, scene.name);
    return outcome;
  };
  try {
    return await Promise.all(plan.cases.map(runOne));
  } finally {
    await pool.destroy();
  }
}

/** The cases as they were called, with what each took. */
function runCases(plan: RunPlan, outcomes: readonly (CaseOutcome | undefined)[]): RunCase[] {
  return plan.cases.map(({ scene, file, repeat }, i) => {
    const outcome = outcomes[i];
    const elapsedS = outcome?.kind === "judged" ? outcome.elapsedS : undefined;
    return { name: scene.name, file, repeat, ...(elapsedS === undefined ? {} : { elapsedS }) };
  });
}

function runInfo(
  plan: RunPlan,
  startedAt: Date,
  isInterrupted: boolean,
  cases: RunCase[],
): RunInfo {
  return {
    resultsVersion: RESULTS_VERSION,
    startedAt: startedAt.toISOString(),
    elapsedS: (Date.now() - startedAt.getTime()) / 1000,
    machine: {
      platform: process.platform,
      arch: process.arch,
      node: process.version,
      cpu: cpus()[0]?.model ?? "unknown",
      cores: availableParallelism(),
    },
    command: plan.command,
    isInterrupted,
    cases,
  };
}

/**
 * Runs the plan and writes the folder of results.
 *
 * Effect    finished cases are kept whatever happens to the others
 * Errors    ResultsError: the folder cannot be written; TargetFailure: the target cannot be opened
 */
export async function runPlan(plan: RunPlan): Promise<RunOutcome> {
  const startedAt = new Date();
  prepareFolder(plan.folder);
  const target = await identify(plan.target, plan.signal);
  const spool = new SectionSpool(join(plan.folder, "report.part"));
  try {
    const outcomes = await runPool(plan, target, spool);
    const rows: SummaryRow[] = [];
    const failures: CaseFailure[] = [];
    const stacks: string[] = [];
    for (const one of outcomes) {
      if (one?.kind === "judged") rows.push(one.row);
      if (one?.kind === "failed") {
        failures.push(one.failure);
        stacks.push(one.stack);
      }
    }
    const isInterrupted = outcomes.includes(undefined);
    const run = {
      packageVersion: packageVersion(),
      seed: plan.seed,
      target,
      plannedCount: plan.cases.length,
    };
    const summary = summaryOf(rows, failures, run);
    // An interrupted run may not have come to what an earlier one had finished.
    if (!isInterrupted) removeOtherCases(plan.folder, new Set(rows.map((row) => row.id)));
    const cases = runCases(plan, outcomes);
    writeSummary(plan.folder, runInfo(plan, startedAt, isInterrupted, cases), summary);
    writeReport(plan.folder, plan.title, summary, (id) => spool.read(id));
    return { summary, isInterrupted, cases, stacks };
  } finally {
    spool.remove();
  }
}
