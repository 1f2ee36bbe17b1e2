// Runs, writes and draws one case. Called by the pool, in a thread of its own.
import { ResultsError, writeCase } from "../results/case-file.ts";
import { CASE_PARTS } from "./case-parts.ts";
import { type CaseOutcome, type CaseTask, judged } from "./case-task.ts";
import { TargetFailure, runCase } from "./run-case.ts";
import { makeTarget } from "./target-spec.ts";

/** An error's class does not survive the way back to the runner; its kind does. */
function failureKind(error: unknown): "target" | "input" | "defect" {
  if (error instanceof TargetFailure) return "target";
  if (error instanceof ResultsError) return "input";
  return error instanceof Error && error.name === "InputError" ? "input" : "defect";
}

export default async function runTask(task: CaseTask): Promise<CaseOutcome> {
  try {
    // The pool ends a thread to abort it, so the signal here never comes.
    const { signal } = new AbortController();
    const startedMs = performance.now();
    const target = makeTarget(task.target);
    const result = await runCase(task.scene, target, signal, CASE_PARTS);
    // Drawn from what the file holds, so that it looks the same when it is drawn from the file.
    const outcome = judged(writeCase(task.folder, result), task.repeat);
    return { ...outcome, elapsedS: Math.round(performance.now() - startedMs) / 1000 };
  } catch (error) {
    const message = error instanceof Error ? error.message : String(error);
    const stack = error instanceof Error ? (error.stack ?? message) : message;
    const failure = { name: task.scene.name, kind: failureKind(error), message };
    return { kind: "failed", failure, stack };
  }
}
