// Peak and rms of one column, measured on what the file holds.
import type { Parts } from "./stimulus-plan.ts";

/** Sum and count of squares. */
class MeanSquare {
  #sum = 0;
  #count = 0;

  take(value: number): void {
    this.#sum += value * value;
    this.#count += 1;
  }

  get root(): number {
    return this.#count === 0 ? 0 : Math.sqrt(this.#sum / this.#count);
  }
}

export class Gauge {
  /** Greatest |volt| that was asked for: the limits are held against it, too. */
  askedPeak = 0;
  /** Greatest |volt| that is written, and its first sample. */
  peak = 0;
  peakSample = 0;
  /** Greatest |volt| written before the scenario's time 0. */
  leadPeak = 0;
  readonly #file = new MeanSquare();
  readonly #scenario = new MeanSquare();

  take(asked: number, written: number, sample: number, parts: Parts): void {
    const size = Math.abs(written);
    this.askedPeak = Math.max(this.askedPeak, Math.abs(asked));
    if (size > this.peak) {
      this.peak = size;
      this.peakSample = sample;
    }
    if (sample < parts.zeroSample) this.leadPeak = Math.max(this.leadPeak, size);
    this.#file.take(written);
    if (sample >= parts.zeroSample && sample < parts.endSample) this.#scenario.take(written);
  }

  /** Over all that is written: ramps, hold and scenario. */
  get fileRms(): number {
    return this.#file.root;
  }

  /** Over the scenario alone. */
  get scenarioRms(): number {
    return this.#scenario.root;
  }
}
