// Runs, writes and draws one case, whatever carries it and wherever it runs.
import { LinkError, type LinkErrorKind } from "../../host/link/link-error.ts";
import { PortError } from "../../host/link/port.ts";
import { messageOf } from "../../host/error-message.ts";
import { AdapterGone } from "../adapter/adapter-watch.ts";
import { ResultsError, writeCase } from "../results/case-file.ts";
import { KeptRecords } from "../results/kept-records.ts";
import type { CaseResult } from "../results/types.ts";
import type { Target } from "../target/target.ts";
import { CASE_PARTS } from "./case-parts.ts";
import { type CaseOutcome, type CaseWork, judged } from "./case-task.ts";
import { MethodRecorder } from "./method-recorder.ts";
import { TargetFailure, runCase } from "./run-case.ts";

/** After these nothing answers before a person has been there. */
const GONE_KINDS: ReadonlySet<LinkErrorKind> = new Set([
  "no-answer",
  "garbage",
  "version",
  "fault",
  "closed",
]);

/** An error's class does not survive the way back from a thread; its kind does. */
function failureKind(error: unknown): "target" | "input" | "defect" {
  if (error instanceof TargetFailure) return "target";
  if (error instanceof ResultsError) return "input";
  return error instanceof Error && error.name === "InputError" ? "input" : "defect";
}

function isGone(error: unknown): boolean {
  const cause = error instanceof Error ? error.cause : undefined;
  if (cause instanceof PortError || cause instanceof AdapterGone) return true;
  return cause instanceof LinkError && GONE_KINDS.has(cause.kind);
}

/** Errors: TargetFailure. */
function made(makeTarget: () => Target): Target {
  try {
    return makeTarget();
  } catch (error) {
    if (!(error instanceof LinkError)) throw error;
    throw new TargetFailure(error.message, { cause: error });
  }
}

/**
 * Runs the case; its records are in their file before the case's own file says that it is whole.
 */
async function watchedCase(
  { scene, folder, keepsRecords, usesMethods }: CaseWork,
  target: Target,
  signal: AbortSignal,
): Promise<CaseResult> {
  const kept = keepsRecords === true ? new KeptRecords(folder) : undefined;
  const methods = usesMethods === true ? new MethodRecorder(scene.profile) : undefined;
  try {
    const result = await runCase(scene, target, signal, CASE_PARTS, {
      batch: (batch) => methods?.takeBatch(batch),
      records: (records) => {
        kept?.take(records);
        methods?.takeRecords(records);
      },
    });
    kept?.keepAs(result.id);
    return methods === undefined ? result : { ...result, methods: methods.finish() };
  } finally {
    kept?.end();
  }
}

/** Runs one case to its verdict or its failure. */
export function runTask(
  task: CaseWork,
  makeTarget: () => Target,
  signal: AbortSignal,
): Promise<CaseOutcome> {
  return outcomeOf(task, () => watchedCase(task, made(makeTarget), signal));
}

/** Whatever runs it, to its verdict or its failure. */
export async function outcomeOf(
  task: CaseWork,
  run: () => Promise<CaseResult>,
): Promise<CaseOutcome> {
  try {
    const startedMs = performance.now();
    const result = await run();
    // Drawn from what the file holds, so that it looks the same when it is drawn from the file.
    const outcome = judged(writeCase(task.folder, result), task);
    return { ...outcome, elapsedS: Math.round(performance.now() - startedMs) / 1000 };
  } catch (error) {
    const message = messageOf(error);
    const stack = error instanceof Error ? (error.stack ?? message) : message;
    const failure = { name: task.scene.name, kind: failureKind(error), message };
    return { kind: "failed", failure, stack, ...(isGone(error) ? { isTargetGone: true } : {}) };
  }
}
