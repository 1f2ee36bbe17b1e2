// Inputs from outside as they stand at each display step; asked with steps in order.
import type { InputRow, Scene } from "../scene/scene.ts";
import type { StepGrid } from "./step-clock.ts";

const NONE: InputRow = { timeS: 0, inhibit: 0, acknowledge: 0, running: 0, test: false };

export class InputsTruth {
  readonly #rows: { sample: number; row: InputRow }[];
  readonly #grid: StepGrid;
  #next = 0;
  #now: InputRow = NONE;
  /** The functional test ran at some sample since the step before. */
  wasTesting = false;

  constructor(scene: Scene, grid: StepGrid) {
    this.#grid = grid;
    this.#rows = scene.inputs.map((row) => ({ sample: grid.inputSample(row.timeS), row }));
  }

  advance(step: number): void {
    const sample = this.#grid.sampleOf(step);
    this.wasTesting = this.#now.test;
    while (this.#next < this.#rows.length && this.#rows[this.#next]!.sample <= sample) {
      this.#now = this.#rows[this.#next]!.row;
      this.wasTesting ||= this.#now.test;
      this.#next += 1;
    }
  }

  get isTesting(): boolean {
    return this.#now.test;
  }

  isRunning(shaft: number): boolean {
    return ((this.#now.running >> shaft) & 1) !== 0;
  }

  /** Steps at which the test begins or ends. */
  testChanges(): { tick: number; isOn: boolean }[] {
    const changes: { tick: number; isOn: boolean }[] = [];
    let wasOn = false;
    for (let step = 1; step <= this.#grid.stepCount;) {
      const sample = this.#grid.sampleOf(step);
      const row = this.#rows.findLast((one) => one.sample <= sample)?.row ?? NONE;
      if (row.test !== wasOn) changes.push({ tick: this.#grid.tickOf(step), isOn: row.test });
      wasOn = row.test;
      const next = this.#rows.find((one) => one.sample > sample);
      if (next === undefined) break;
      step = Math.max(step + 1, Math.ceil(next.sample / this.#grid.displaySamples));
    }
    return changes;
  }
}
