// Runs cases one after another over a single line, in this process: a thread that is ended would leave
// the port open.
import type { CaseOutcome, CaseWork } from "./case-task.ts";
import { type Line, caseLabel } from "./line.ts";
import { runBoxCase } from "../box/box-case.ts";
import type { DeviceSpecification } from "../box/device-file.ts";
import { targetBox } from "../box/target-box.ts";
import type { Scene } from "../scene/scene.ts";
import type { Target } from "../target/target.ts";
import { outcomeOf, runTask } from "./run-task.ts";

/** A case that was not begun, because nothing answers any more. */
function notRun(name: string, lostAt: string): CaseOutcome {
  const message =
    `not run, because the target was lost at case "${lostAt}"; when it is there again, ` +
    "the same command with --resume runs what is left";
  return { kind: "failed", failure: { name, kind: "target", message }, stack: message };
}

/** So many samples of a scene were taken by the target. */
export type Fed = (scene: Scene, sampleCount: number) => void;

/** The same target; what it has taken is told. */
function watched(target: Target, onFed: (sampleCount: number) => void): Target {
  const feed = target.feed.bind(target);
  target.feed = async (batch) => {
    const records = await feed(batch);
    onFed(batch.sampleCount);
    return records;
  };
  return target;
}

export class LineRunner {
  readonly #line: Line;
  readonly #device: DeviceSpecification | undefined;
  readonly #onFed: Fed | undefined;
  #before: Promise<unknown> = Promise.resolve();
  #lostAt: string | undefined;

  constructor(line: Line, device?: DeviceSpecification, onFed?: Fed) {
    this.#line = line;
    this.#device = device;
    this.#onFed = onFed;
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
    const outcome = await this.#outcome(task, signal);
    if (outcome.kind === "failed") {
      signal.throwIfAborted();
      if (outcome.isTargetGone === true) this.#lostAt = name;
    }
    return outcome;
  }

  #outcome(task: CaseWork, signal: AbortSignal): Promise<CaseOutcome> {
    const device = this.#device;
    const target = (): Target => {
      const carried = this.#line.target(caseLabel(task.scene));
      const onFed = this.#onFed;
      return onFed === undefined ? carried : watched(carried, (count) => onFed(task.scene, count));
    };
    if (device === undefined) return runTask(task, target, signal);
    return outcomeOf(task, async () => {
      const shown = await this.#line.levelBox?.();
      const under = shown ?? (await targetBox(target(), signal));
      try {
        return await runBoxCase(task.scene, under, device, signal);
      } finally {
        // A target is one for each case, as without a device; a box of the user's own stays.
        if (shown === undefined) await under.box.close();
      }
    });
  }
}
