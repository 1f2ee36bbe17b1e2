// Runs one case on the built-in core or another. Called by the pool, in a thread of its own.
import type { CaseOutcome, CaseTask } from "./case-task.ts";
import { runTask } from "./run-task.ts";
import { makeTarget } from "./target-spec.ts";

export default function runInThread(task: CaseTask): Promise<CaseOutcome> {
  // The pool ends a thread to abort it, so the signal here never comes.
  const { signal } = new AbortController();
  return runTask(task, () => makeTarget(task.target), signal);
}
