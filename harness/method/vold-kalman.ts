// The Vold-Kalman filter, second generation, of one order: the smoothest vector that the signal
// allows, solved over the whole stretch at once.
// Sources: Vold & Leuridan, SAE 931288, 1993; Tuma, ICSV 2005 (both from memory).
import { type BoxSignal, emptySeries, type VectorSeries } from "./box-signal.ts";
import { decimatedVector } from "./decimated-vector.ts";
import type { ShaftAngle } from "./shaft-angle.ts";

export type PoleCount = 1 | 2 | 3;

/** Rounding that the banded system may make of a vector. */
const ROUNDING_MAX = 1e-6;
/** Thinned samples in one period of the full width. */
const SAMPLES_PER_WIDTH = 50;

/**
 * The weight of smoothness for a full width B between the −3 dB points (check value O-08):
 * r = √((√2 − 1)/(2 − 2·cos w)^p), w = πB/rate.
 *
 * The power is taken of 4·sin²(w/2), which is 2 − 2·cos w without the difference of two numbers
 * that are nearly equal, nor the cosine sums that the power expands to (O-10).
 */
export function smoothWeight(widthShare: number, poles: PoleCount): number {
  const half = Math.sin((Math.PI * widthShare) / 2);
  return Math.sqrt((Math.SQRT2 - 1) / (4 * half * half) ** poles);
}

/** Share of a vector that turns at `offShare` of the rate: 1/(1 + r²·(2 − 2·cos w)^p). */
export function filterGain(offShare: number, widthShare: number, poles: PoleCount): number {
  const half = Math.sin(Math.PI * offShare);
  return 1 / (1 + smoothWeight(widthShare, poles) ** 2 * (4 * half * half) ** poles);
}

/** Most that rounding makes of a solution, from the system's condition. */
export function roundingShare(widthShare: number, poles: PoleCount): number {
  return smoothWeight(widthShare, poles) ** 2 * 4 ** poles * Number.EPSILON;
}

/**
 * Periods of the full width after which an end is felt no more: its share dies out as e^(−4.9·n),
 * e^(−2.8·n), e^(−1.8·n) with 1, 2, 3 poles (the roots of the filter), here to under 1e-3.
 */
const END_PERIODS: Readonly<Record<PoleCount, number>> = { 1: 1.5, 2: 2.5, 3: 4 };

/** Coefficients of the difference of order p: 1, −1; 1, −2, 1; 1, −3, 3, −1. */
const DIFFERENCES: Readonly<Record<PoleCount, readonly number[]>> = {
  1: [1, -1],
  2: [1, -2, 1],
  3: [1, -3, 3, -1],
};

/**
 * Solves (r²·DᵀD + I)·x = b for two right-hand sides, D the difference of order p.
 *
 * The matrix is symmetric, positive definite, p places wide to either side of its diagonal; it is
 * factored as L·diag·Lᵀ, and solved in place.
 *
 * Shape     `re` and `im` hold b before and x after; N·(p + 1) numbers of room
 * Errors    RangeError where rounding would spoil the solution
 */
export function solveSmooth(
  re: Float64Array,
  im: Float64Array,
  widthShare: number,
  poles: PoleCount,
): void {
  if (roundingShare(widthShare, poles) > ROUNDING_MAX) {
    throw new RangeError(
      `a width of ${widthShare} of the rate with ${poles} poles is too narrow for this arithmetic`,
    );
  }
  const count = re.length;
  if (count <= poles) return;
  const band = bandMatrix(count, smoothWeight(widthShare, poles) ** 2, poles);
  factor(band, count, poles);
  for (const side of [re, im]) substitute(band, side, count, poles);
}

/** Lower band: band[i·(p + 1) + d] is the element d places left of the diagonal in row i. */
function bandMatrix(count: number, square: number, poles: PoleCount): Float64Array {
  const wide = poles + 1;
  const difference = DIFFERENCES[poles];
  const band = new Float64Array(count * wide);
  for (let i = 0; i < count; i += 1) band[i * wide] = 1;
  for (let row = 0; row + poles < count; row += 1) {
    for (let a = 0; a < wide; a += 1) {
      for (let b = 0; b <= a; b += 1) {
        band[(row + a) * wide + (a - b)]! += square * difference[a]! * difference[b]!;
      }
    }
  }
  return band;
}

function factor(band: Float64Array, count: number, poles: number): void {
  const wide = poles + 1;
  for (let i = 0; i < count; i += 1) {
    for (let d = Math.min(poles, i); d >= 0; d -= 1) {
      const j = i - d;
      let sum = band[i * wide + d]!;
      for (let k = Math.max(0, i - poles, j - poles); k < j; k += 1) {
        sum -= band[i * wide + (i - k)]! * band[j * wide + (j - k)]! * band[k * wide]!;
      }
      band[i * wide + d] = d === 0 ? sum : sum / band[j * wide]!;
    }
  }
}

function substitute(band: Float64Array, side: Float64Array, count: number, poles: number): void {
  const wide = poles + 1;
  for (let i = 0; i < count; i += 1) {
    for (let d = 1; d <= Math.min(poles, i); d += 1) {
      side[i]! -= band[i * wide + d]! * side[i - d]!;
    }
  }
  for (let i = 0; i < count; i += 1) side[i]! /= band[i * wide]!;
  for (let i = count - 1; i >= 0; i -= 1) {
    for (let d = 1; d <= Math.min(poles, count - 1 - i); d += 1) {
      side[i]! -= band[(i + d) * wide + d]! * side[i + d]!;
    }
  }
}

export interface VoldKalmanPlan {
  order: number;
  poles: PoleCount;
  /** Between the −3 dB points, cycles a sample. */
  fullWidth: number;
}

/**
 * The order's vector over a whole run of edges, without lag.
 *
 * Shape     at the thinned rate, some 50 values in a period of the full width; at either end
 *           END_PERIODS of them are left out, where nothing holds the vector on one side
 * Range     a run shorter than three times that gives an empty series
 */
export function voldKalman(
  signal: BoxSignal,
  angle: ShaftAngle,
  { order, poles, fullWidth }: VoldKalmanPlan,
): VectorSeries {
  const step = Math.max(1, Math.floor(1 / (SAMPLES_PER_WIDTH * fullWidth)));
  const { firstAt, re, im } = decimatedVector(signal, angle, order, step);
  const left = Math.ceil(END_PERIODS[poles] / (fullWidth * step));
  const series = emptySeries();
  if (re.length <= 3 * left) return series;
  solveSmooth(re, im, fullWidth * step, poles);
  for (let i = left; i < re.length - left; i += 1) {
    series.at.push(firstAt + i * step);
    series.re.push(re[i]!);
    series.im.push(im[i]!);
  }
  return series;
}
