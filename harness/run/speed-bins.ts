// Levels against speed: statistics of the display steps whose speed lies in each of some even bins.
import { tickStep } from "../report/axis.ts";

/** Bins that the speeds of a recording fall into at most, where no width is stated. */
const BINS_AIM = 12;
/** A bin is no narrower than this share of the highest speed: a steady shaft has one. */
const WIDTH_SHARE_LEAST = 0.01;

/** A bin from its lower edge, which it holds, to its upper edge, which it does not. */
export interface SpeedBin {
  from: number;
  until: number;
  /** Display steps. */
  count: number;
  mean: number;
  median: number;
  standardDeviation: number;
  greatest: number;
}

/** The middle of some numbers; NaN of none. */
export function medianOf(values: readonly number[]): number {
  if (values.length === 0) return Number.NaN;
  const sorted = values.toSorted((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

export function meanOf(values: readonly number[]): number {
  return values.length === 0
    ? Number.NaN
    : values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** Of a sample; NaN of fewer than two. */
export function standardDeviationOf(values: readonly number[]): number {
  if (values.length < 2) return Number.NaN;
  const mean = meanOf(values);
  const squares = values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return Math.sqrt(squares / (values.length - 1));
}

/** A round width that leaves speeds from `least` to `most` in a dozen bins or so. */
export function speedBinWidth(least: number, most: number): number {
  const raw = Math.max((most - least) / BINS_AIM, WIDTH_SHARE_LEAST * most);
  return raw > 0 ? tickStep(0, raw, 1) : 1;
}

/**
 * Statistics of levels by speed. Bins lie about the multiples of their width, so that a shaft that
 * dwells at a round speed stands in the middle of one.
 *
 * Shape     `levels` and `speeds` of equal lengths; bins ascend, empty ones are left out
 */
export function levelsBySpeed(
  levels: readonly number[],
  speeds: readonly number[],
  width: number,
): SpeedBin[] {
  const bins = new Map<number, number[]>();
  for (const [i, level] of levels.entries()) {
    const number = Math.floor(speeds[i]! / width + 0.5);
    const bin = bins.get(number);
    if (bin === undefined) bins.set(number, [level]);
    else bin.push(level);
  }
  return [...bins]
    .toSorted(([a], [b]) => a - b)
    .map(([number, values]) => ({
      from: Math.max(0, (number - 0.5) * width),
      until: (number + 0.5) * width,
      count: values.length,
      mean: meanOf(values),
      median: medianOf(values),
      standardDeviation: standardDeviationOf(values),
      greatest: values.reduce((most, value) => Math.max(most, value), -Infinity),
    }));
}
