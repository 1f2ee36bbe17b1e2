// Edges in a tachometer's waveform: a threshold with hysteresis, the crossing interpolated.
import { type ValueRange, valueRange } from "./value-range.ts";

export type EdgeSlope = "rising" | "falling";

export interface EdgeSettings {
  /** Level that counts as the edge, in the channel's unit. */
  threshold: number;
  /** The signal must first come this far to the other side of the threshold; > 0. */
  hysteresis: number;
  slope: EdgeSlope;
}

/**
 * Finds the edges of a tachometer's waveform, run by run.
 *
 * An edge is the crossing of the threshold in the slope's direction after the signal has stood at
 * or beyond threshold − hysteresis (rising; + for falling). Its time is the straight line's
 * crossing between the two samples around it. Samples that are no number are passed over.
 *
 * Units     times in samples from the start of the recording
 * Accuracy  for a slope that is straight over one sample period, the sample noise over the slope
 */
export class EdgeDetector {
  readonly #sign: number;
  readonly #threshold: number;
  readonly #armLevel: number;
  #isArmed = false;
  #valueBefore = Number.NaN;
  #indexBefore = 0;
  #index = 0;

  constructor(settings: EdgeSettings, fromSample = 0) {
    if (!(settings.hysteresis > 0)) throw new RangeError("hysteresis must be > 0");
    this.#index = fromSample;
    this.#sign = settings.slope === "rising" ? 1 : -1;
    this.#threshold = this.#sign * settings.threshold;
    this.#armLevel = this.#threshold - settings.hysteresis;
  }

  /** Times of the edges whose second sample lies in this run. */
  process(samples: Float32Array): number[] {
    const times: number[] = [];
    for (let i = 0; i < samples.length; i += 1) {
      const value = this.#sign * samples[i]!;
      const index = this.#index;
      this.#index += 1;
      if (Number.isNaN(value)) continue;
      if (this.#isArmed && value >= this.#threshold && this.#valueBefore < this.#threshold) {
        const share = (this.#threshold - this.#valueBefore) / (value - this.#valueBefore);
        times.push(this.#indexBefore + share * (index - this.#indexBefore));
        this.#isArmed = false;
      }
      if (value <= this.#armLevel) this.#isArmed = true;
      this.#valueBefore = value;
      this.#indexBefore = index;
    }
    return times;
  }
}

/** Threshold and hysteresis for a waveform between two levels: the middle, and a fifth of the way. */
export function edgeSettingsFor({ low, high }: ValueRange, slope: EdgeSlope): EdgeSettings {
  return { threshold: (low + high) / 2, hysteresis: (high - low) / 5, slope };
}

/**
 * Threshold and hysteresis from the waveform itself, by the levels that it goes between.
 *
 * Errors    RangeError where the waveform does not move
 */
export function edgeSettingsFrom(samples: Float32Array, slope: EdgeSlope): EdgeSettings {
  const range = valueRange(samples);
  if (range === undefined || !(range.high > range.low)) {
    throw new RangeError("the tachometer channel does not move");
  }
  return edgeSettingsFor(range, slope);
}
