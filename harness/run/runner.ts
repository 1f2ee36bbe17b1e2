// Runs many cases over a pool of threads and leaves a folder of results. Cases end in any order; the
// results are in the order given.
import { setMaxListeners } from "node:events";
import { existsSync } from "node:fs";
import { availableParallelism, cpus } from "node:os";
import { join } from "node:path";
import { Tinypool } from "tinypool";
import { InputError } from "../../host/input-error.ts";
import { packageVersion } from "../../host/package-root.ts";
import { messageOf } from "../../host/error-message.ts";
import { writeReport } from "../report/report-file.ts";
import {
  hasCase,
  prepareFolder,
  readCase,
  recordsPath,
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
import { boxIdentity } from "../box/box-identity.ts";
import type { DeviceSpecification } from "../box/device-file.ts";
import type { ProofTask } from "../requirement/matrix.ts";
import type { Scene } from "../scene/scene.ts";
import { type CaseOutcome, type CaseTask, judged } from "./case-task.ts";
import { type Shard, isInShard, isSampled } from "./campaign.ts";
import { refuseLeavingOut } from "./held-cases.ts";
import { TargetFailure } from "./run-case.ts";
import { SectionSpool } from "./section-spool.ts";
import { type Fed, LineRunner } from "./line-runner.ts";
import { HELLO_LABEL, type Line, openLine } from "./line.ts";
import { type CoreSpec, type TargetSpec } from "./target-spec.ts";

export interface PlannedCase {
  scene: Scene;
  /** Its scenario file, as a report shows it. */
  file: string;
  /** The command that runs it alone again. */
  repeat: string;
  /** Where it stands among the cases of the call, from 0. */
  place: number;
}

export interface RunPlan {
  cases: PlannedCase[];
  /** The part of them that is run here. */
  shard?: Shard;
  target: TargetSpec;
  folder: string;
  jobs: number;
  seed: number;
  title: string;
  command: string[];
  signal: AbortSignal;
  /** Cases whose results are in the folder, whole, are not run again. */
  isResumed?: boolean;
  /** The records of each case are kept in a file of their own. */
  keepsRecords?: boolean;
  /** Second opinions are put beside the levels. */
  usesMethods?: boolean;
  /** The box's own specification, judged in place of ours. */
  device?: DeviceSpecification;
  /** What the cases are to prove. */
  requirements?: ProofTask;
  onCase(done: number, total: number, name: string): void;
  /** Of a line: so many seconds of a scene were carried, or were in the folder already. */
  onSimulated?: (seconds: number, isThere: boolean) => void;
}

/** A plan whose cases are those of its shard. */
interface CalledPlan extends RunPlan {
  /** Cases of the call, in all its shards. */
  calledCount: number;
}

export interface RunOutcome {
  summary: Summary;
  isInterrupted: boolean;
  /** Cases that were taken over from an earlier run. */
  resumedCount: number;
  /** Where each case came from and how it is run again, in the order given. */
  cases: RunCase[];
  /** Where only a part of the call was run. */
  shard?: Shard & { calledCount: number };
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

async function identify(line: Line, signal: AbortSignal): Promise<Summary["target"]> {
  try {
    const target = line.target(HELLO_LABEL);
    const { kind, identity, layoutVersion, numericsVersion } = await target.open(signal);
    await target.close();
    return { kind, identity, layoutVersion, numericsVersion };
  } catch (error) {
    if (signal.aborted || error instanceof InputError) throw error;
    const said = messageOf(error);
    throw new TargetFailure(`the target cannot be opened: ${said}`, { cause: error });
  }
}

/** A case whose results are there, whole. */
function finishedCase(
  { folder, keepsRecords, usesMethods, device }: RunPlan,
  planned: SampledCase,
  target: Summary["target"],
): (CaseOutcome & { kind: "judged" }) | undefined {
  const id = boxIdentity(planned.scene, target, device);
  if (!hasCase(folder, id)) return undefined;
  if (keepsRecords === true && !existsSync(recordsPath(folder, id))) return undefined;
  try {
    const found = readCase(folder, id);
    if (usesMethods === true && found.methods === undefined) return undefined;
    return found.id === id ? judged(found, planned) : undefined;
  } catch {
    // What cannot be read or drawn is not whole.
    return undefined;
  }
}

/** A case whose thread broke. */
function brokenCase(scene: Scene, error: unknown): CaseOutcome {
  const message = messageOf(error);
  const stack = error instanceof Error ? (error.stack ?? message) : message;
  return { kind: "failed", failure: { name: scene.name, kind: "defect", message }, stack };
}

type SampledCase = PlannedCase & { isSampled: boolean };
type RunOne = (planned: SampledCase) => Promise<CaseOutcome>;

/** Cases on cores, each in a thread. */
function poolRun(plan: RunPlan, spec: CoreSpec): { runOne: RunOne; end: () => Promise<void> } {
  const pool = makePool(Math.max(1, Math.min(plan.jobs, plan.cases.length)));
  // The pool listens once for every case that waits: no leak, but more than Node expects.
  setMaxListeners(plan.cases.length + 10, plan.signal);
  const { folder, signal, keepsRecords, usesMethods } = plan;
  return {
    runOne: async ({ scene, repeat, isSampled: isDrawn }) => {
      const work = { scene, repeat, isSampled: isDrawn, folder, keepsRecords, usesMethods };
      const task: CaseTask = { ...work, target: spec };
      return (await pool.run(task, { signal })) as CaseOutcome;
    },
    end: () => pool.destroy(),
  };
}

function lineRun(plan: RunPlan, line: Line): RunOne {
  const { folder, signal, keepsRecords, usesMethods, device, onSimulated } = plan;
  const onFed: Fed = ({ profile }, sampleCount) => {
    if (profile.timeUnit === "s") onSimulated?.(sampleCount / profile.sampleRateHz, false);
  };
  const runner = new LineRunner(line, device, onFed);
  return ({ scene, repeat, isSampled: isDrawn }) =>
    runner.run({ scene, repeat, isSampled: isDrawn, folder, keepsRecords, usesMethods }, signal);
}

interface Outcomes {
  /** In the order given; undefined where one was cut off by the signal. */
  all: (CaseOutcome | undefined)[];
  resumedCount: number;
}

/** Runs every case that is not there yet. */
async function runAll(
  plan: CalledPlan,
  target: Summary["target"],
  spool: SectionSpool,
  runOne: RunOne,
): Promise<Outcomes> {
  const { signal, cases } = plan;
  let done = 0;
  let resumedCount = 0;
  const runPlanned = async (planned: SampledCase): Promise<CaseOutcome | undefined> => {
    const there = plan.isResumed === true ? finishedCase(plan, planned, target) : undefined;
    if (there !== undefined) {
      resumedCount += 1;
      const { profile, durationS } = planned.scene;
      if (profile.timeUnit === "s") plan.onSimulated?.(durationS, true);
    }
    const outcome =
      there ??
      (await runOne(planned).catch((error: unknown) =>
        // Its file may be whole when its thread is ended, though it cannot say so any more.
        signal.aborted ? finishedCase(plan, planned, target) : brokenCase(planned.scene, error),
      ));
    if (outcome?.kind === "judged") {
      spool.add(outcome.row.id, outcome.section);
      outcome.section = "";
    }
    done += 1;
    plan.onCase(done, cases.length, planned.scene.name);
    return outcome;
  };
  const sampled = cases.map((one) => ({
    ...one,
    isSampled: isSampled(one.place, plan.calledCount),
  }));
  return { all: await Promise.all(sampled.map(runPlanned)), resumedCount };
}

async function runOnTarget(
  plan: CalledPlan,
  target: Summary["target"],
  spool: SectionSpool,
  line: Line,
): Promise<Outcomes> {
  if (plan.target.kind !== "core" || plan.device !== undefined)
    return runAll(plan, target, spool, lineRun(plan, line));
  const { runOne, end } = poolRun(plan, plan.target);
  try {
    return await runAll(plan, target, spool, runOne);
  } finally {
    await end();
  }
}

/** The cases as they were called, with what each took. */
function runCases(plan: CalledPlan, outcomes: readonly (CaseOutcome | undefined)[]): RunCase[] {
  return plan.cases.map(({ scene, file, repeat, place }, i) => {
    const outcome = outcomes[i];
    const called = { name: scene.name, file, repeat, place };
    if (outcome?.kind !== "judged") return called;
    const { row, elapsedS } = outcome;
    return { ...called, id: row.id, ...(elapsedS === undefined ? {} : { elapsedS }) };
  });
}

function runInfo(
  plan: CalledPlan,
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
    title: plan.title,
    ...(plan.shard === undefined ? {} : { shard: plan.shard, requirements: plan.requirements }),
    calledCount: plan.calledCount,
    cases,
  };
}

/**
 * Runs the plan and writes the folder of results.
 *
 * Effect    finished cases are kept whatever happens to the others
 * Errors    ResultsError: the folder cannot be written; TargetFailure: the target cannot be opened;
 *           InputError: the folder that is gone on with holds cases of another call
 */
export async function runPlan(plan: RunPlan): Promise<RunOutcome> {
  prepareFolder(plan.folder);
  const line = openLine(plan.target);
  try {
    return await runPlanOver(plan, line);
  } finally {
    await line.end();
  }
}

/** The plan with the cases of its shard only; what the call has in all is kept. */
function inShard(plan: RunPlan, target: Summary["target"]): CalledPlan {
  const { cases, shard, device } = plan;
  const called = { ...plan, calledCount: cases.length };
  if (shard === undefined) return called;
  const isHere = ({ scene }: PlannedCase): boolean =>
    isInShard(boxIdentity(scene, target, device), shard);
  return { ...called, cases: cases.filter(isHere) };
}

async function runPlanOver(call: RunPlan, line: Line): Promise<RunOutcome> {
  const startedAt = new Date();
  const target = await identify(line, call.signal);
  const plan = inShard(call, target);
  if (plan.device === undefined && (await line.levelBox?.()) !== undefined) {
    const message = "a box that shows levels is judged by its own specification: --device FILE";
    throw new InputError({ file: "--target", line: 0, column: 0, message });
  }
  if (plan.isResumed === true) {
    const called = plan.cases.map(({ scene }) => {
      const { name, seed } = scene;
      return { id: boxIdentity(scene, target, plan.device), name, seed };
    });
    refuseLeavingOut(plan.folder, called, target);
  }
  const spool = new SectionSpool(join(plan.folder, "report.part"));
  try {
    const { all: outcomes, resumedCount } = await runOnTarget(plan, target, spool, line);
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
      ...(plan.requirements === undefined ? {} : { requirements: plan.requirements }),
    };
    const summary = summaryOf(rows, failures, run);
    // An interrupted run may not have come to what an earlier one had finished.
    if (!isInterrupted) removeOtherCases(plan.folder, new Set(rows.map((row) => row.id)));
    const cases = runCases(plan, outcomes);
    writeSummary(plan.folder, runInfo(plan, startedAt, isInterrupted, cases), summary);
    writeReport(plan.folder, plan.title, summary, spool);
    const { shard, calledCount } = plan;
    const part = shard === undefined ? {} : { shard: { ...shard, calledCount } };
    return { summary, isInterrupted, resumedCount, cases, stacks, ...part };
  } finally {
    spool.remove();
  }
}
