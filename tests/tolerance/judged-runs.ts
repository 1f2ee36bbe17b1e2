// Noisy runs held against what the tolerance promises.
import { shareInterval } from "./binomial.ts";
import type { NoisyRuns } from "./noisy-runs.ts";
import type { RandomTerm } from "./random-terms.ts";

/** Bound that is passed often enough to be counted, in σ. */
export const COUNTED_SIGMA = 2;
/** False alarm once in so many intervals: seeds change from run to run. */
export const CONFIDENCE = 1 - 1e-5;
/** A bound may be so many times as wide as it need be. */
export const RATIO_MAX = 3;
/** Probability at which the bound's width is compared; a thousand runs hold ten beyond it. */
const QUANTILE_SHARE = 0.01;

/** P(Rayleigh > u) = e^(−u²/2): the length of a vector of two normal parts. */
export const lengthBeyond = (u: number): number => Math.exp(-0.5 * u * u);
/** u that a length passes with a probability. */
export const lengthBound = (share: number): number => Math.sqrt(-2 * Math.log(share));
/** P(|normal| > 2), to be read in any table: 0.0455003 (NIST/SEMATECH e-Handbook, 1.3.6.7.1). */
const NORMAL_BEYOND_TWO = 0.0455003;

export interface JudgedRuns {
  count: number;
  stated: number;
  share: number;
  interval: { low: number; high: number };
  /** The root of the mean square error, in σ of the tolerance. */
  rms: number;
  /** The whole tolerance over the quantile that was observed, at one probability. */
  ratio: number;
  isCompatible: boolean;
}

export function judgedRuns(term: RandomTerm, { runs, errors, otherShare }: NoisyRuns): JudgedRuns {
  const count = errors.filter((one) => one > COUNTED_SIGMA).length;
  const stated = term.held === "speed" ? NORMAL_BEYOND_TWO : lengthBeyond(COUNTED_SIGMA);
  const interval = shareInterval(count, runs, CONFIDENCE);
  const sorted = errors.toSorted();
  const quantile = sorted[Math.ceil((1 - QUANTILE_SHARE) * runs) - 1]!;
  const isBelow = stated <= interval.high;
  // Farther out as well: a heavy tail would pass where only 2 σ is counted.
  const far = errors.filter((one) => one > lengthBound(QUANTILE_SHARE)).length;
  const isTailBound = shareInterval(far, runs, CONFIDENCE).low <= QUANTILE_SHARE;
  return {
    count,
    stated,
    share: count / runs,
    interval,
    rms: Math.sqrt(errors.reduce((sum, one) => sum + one * one, 0) / runs),
    ratio: lengthBound(QUANTILE_SHARE) / quantile / (1 - otherShare),
    isCompatible: interval.low <= stated && (term.variance === "most" || isBelow) && isTailBound,
  };
}
