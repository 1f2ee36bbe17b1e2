// Runs cases one after another over a single line, in this process: a thread that is ended would leave
// the port open.
import type { CaseOutcome, CaseWork } from "./case-task.ts";
import { type Line, caseLabel } from "./line.ts";
import { runTask } from "./run-task.ts";

/** A case that was not begun, because nothing answers any more. */
function notRun(name: string, lostAt: string): CaseOutcome {
  const message =
    `not run, because the target was lost at case "${lostAt}"; when it is there again, ` +
    "the same command with --resume runs what is left";
  return { kind: "failed", failure: { name, kind: "target", message }, stack: message };
}

export class LineRunner {
  readonly #line: Line;
  #before: Promise<unknown> = Promise.resolve();
  #lostAt: string | undefined;

  constructor(line: Line) {
    this.#line = line;
  }

  /** Runs a case when those that were asked for before have ended. Errors: the signal came. */
  run(task: CaseWork, signal: AbortSignal): Promise<CaseOutcome> {
    const outcome = this.#before.then(() => this.#runNow(task, signal));
    this.#before = outcome.catch(() => {});
    return outcome;
  }

  async #runNow(task: CaseWork, signal: AbortSignal): Promise<CaseOutcome> {
    signal.throwIfAborted();
    const { name } = task.scene;
    if (this.#lostAt !== undefined) return notRun(name, this.#lostAt);
    const outcome = await runTask(task, () => this.#line.target(caseLabel(task.scene)), signal);
    if (outcome.kind === "failed") {
      signal.throwIfAborted();
      if (outcome.isTargetGone === true) this.#lostAt = name;
    }
    return outcome;
  }
}
