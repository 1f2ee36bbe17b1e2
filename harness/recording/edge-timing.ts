// How surely the times of a tachometer's edges are known: noise, steps of the channel's values, and
// what lies between two samples.

/** Standard deviation of a time that lies anywhere within one sample. */
const WITHIN_SAMPLE = 1 / Math.sqrt(12);
/** Median of |x| of a Gaussian, in standard deviations. */
const MEDIAN_SIGMAS = 0.6745;
/** Variance of a third difference of white noise of variance 1: 1 + 9 + 9 + 1. */
const THIRD_DIFFERENCE = 20;
/** Shares of the way from low to high that count as the flank. */
const FLANK_FROM = 0.1;
const FLANK_UNTIL = 0.9;
/** Samples that a flank is followed for. */
const FLANK_SAMPLES_MAX = 4096;

/** Standard deviations of one edge's time, in samples. */
export interface EdgeTiming {
  noise: number;
  valueSteps: number;
  betweenSamples: number;
  total: number;
  /** Samples that the flank takes from low to high. */
  flankSamples: number;
}

/** What a channel's values are like: between which levels, how noisy, in which steps. */
export interface ChannelNature {
  low: number;
  high: number;
  noiseRms: number;
  /** The least difference between two values; 0 where they are continuous. */
  valueStep: number;
}

function medianOf(values: Float64Array): number {
  return values.length === 0 ? 0 : values.sort()[values.length >> 1]!;
}

/**
 * Noise and steps of a waveform's values.
 *
 * Accuracy  third differences leave white noise, and of a waveform what changes within a few
 *           samples: its median is that of the rest between flanks, or a little over of a sine
 */
export function channelNature(
  samples: Float32Array,
  { low, high }: Pick<ChannelNature, "low" | "high">,
): ChannelNature {
  const thirds: number[] = [];
  let valueStep = Infinity;
  for (let i = 3; i < samples.length; i += 1) {
    const step = Math.abs(samples[i]! - samples[i - 1]!);
    if (step > 0 && step < valueStep) valueStep = step;
    const third = samples[i]! - samples[i - 3]! + 3 * (samples[i - 2]! - samples[i - 1]!);
    if (Number.isFinite(third)) thirds.push(Math.abs(third));
  }
  const noiseRms =
    medianOf(Float64Array.from(thirds)) / MEDIAN_SIGMAS / Math.sqrt(THIRD_DIFFERENCE);
  return { low, high, noiseRms, valueStep: Number.isFinite(valueStep) ? valueStep : 0 };
}

/**
 * Gathers what the samples around each edge say of its time.
 *
 * A crossing found on the straight line between two samples, slope s, errs by the noise of both
 * over s, by the steps of the values over s (both may be rounded alike), and by what the line is
 * not: c/(8s) where the slope changes by c beside it, up to anywhere within the sample where the flank
 * lies between two samples.
 *
 * Source    own derivation: error of linear interpolation h²·f″/8; a flank of r samples is known to
 *           lie between two samples by 1 − r/2 of that
 */
export class EdgeTimingTally {
  readonly #nature: ChannelNature;
  #count = 0;
  #perSlope = 0;
  #ofBoth = 0;
  #curved = 0;
  #flank = 0;

  constructor(nature: ChannelNature) {
    this.#nature = nature;
  }

  /** Takes a run and its edges, in samples of the run; one at its border is left out. */
  process(samples: Float32Array, times: readonly number[]): void {
    for (const time of times) {
      const i = Math.floor(time);
      const share = time - i;
      if (i < 1 || i + 2 >= samples.length) continue;
      const slope = Math.abs(samples[i + 1]! - samples[i]!);
      const before = Math.abs(samples[i]! - samples[i - 1]!);
      const after = Math.abs(samples[i + 2]! - samples[i + 1]!);
      if (!(slope > 0) || !Number.isFinite(before + after)) continue;
      this.#count += 1;
      this.#perSlope += 1 / slope ** 2;
      this.#ofBoth += ((1 - share) ** 2 + share ** 2) / slope ** 2;
      this.#curved +=
        (Math.max(Math.abs(slope - before), Math.abs(after - slope)) / slope / 8) ** 2;
      this.#flank += this.#flankFrom(samples, i, -1) + this.#flankFrom(samples, i + 1, 1);
    }
  }

  /** Samples on the flank from one on, in one direction. */
  #flankFrom(samples: Float32Array, from: number, step: 1 | -1): number {
    const { low, high } = this.#nature;
    const isOn = (value: number | undefined): boolean => {
      const share = ((value ?? low) - low) / (high - low);
      return share > FLANK_FROM && share < FLANK_UNTIL;
    };
    let count = 0;
    while (count < FLANK_SAMPLES_MAX && isOn(samples[from + count * step])) count += 1;
    return count;
  }

  /**
   * Undefined where no edge was seen. `pitch`: samples between edges; where it has a few only,
   * noise cannot be told from the waveform, and an edge still lies within its own.
   */
  finish(pitch: number): EdgeTiming | undefined {
    if (this.#count === 0) return undefined;
    const { low, high, noiseRms, valueStep } = this.#nature;
    const perSlope = Math.sqrt(this.#perSlope / this.#count);
    const flankSamples = this.#flank / this.#count / (FLANK_UNTIL - FLANK_FROM);
    const noise = noiseRms * Math.sqrt(this.#ofBoth / this.#count);
    // A channel of two or three values has no steps on its flank: the flank lies between samples.
    const isStepped = valueStep < (high - low) / 2;
    const valueSteps = isStepped ? valueStep * WITHIN_SAMPLE * perSlope : 0;
    const unseen = WITHIN_SAMPLE * Math.max(0, 1 - flankSamples / 2);
    const betweenSamples = Math.hypot(unseen, Math.sqrt(this.#curved / this.#count));
    const total = Math.min(Math.hypot(noise, valueSteps, betweenSamples), pitch * WITHIN_SAMPLE);
    return { noise, valueSteps, betweenSamples, total, flankSamples };
  }
}
