// Why a method's vector may not be held against the firmware's: what its window holds.
import type { VectorSeries } from "./box-signal.ts";

export type Cause = "change" | "neighbour" | "noise";

export interface WindowContent {
  cause: Cause;
  /** Of a neighbour: orders beside the tracked one. */
  orderOffset: number;
}

/** Share of what is left that turns at one rate, above which it is a line. */
const LINE_SHARE = 0.5;
/** Turns within the window below which a line and a change cannot be told apart. */
const TURNS_LEAST = 1;

/** Least squares of a straight line through values at even places −1 … 1, taken off. */
function withoutLine(values: number[]): number[] {
  const last = Math.max(1, values.length - 1);
  const place = (i: number): number => (2 * i) / last - 1;
  const mean = values.reduce((sum, one) => sum + one, 0) / values.length;
  const squares = values.reduce((sum, _, i) => sum + place(i) ** 2, 0);
  const slope = values.reduce((sum, one, i) => sum + one * place(i), 0) / squares;
  return values.map((one, i) => one - mean - slope * place(i));
}

/**
 * Looks at the shortest blocks' vectors within a window and says what is in it besides a vector
 * that runs straight: one that changes, another component that turns beside it, or noise.
 *
 * Shape     `series` has two vectors in a revolution; the window is [from, until] in samples
 */
export function windowContent(series: VectorSeries, from: number, until: number): WindowContent {
  const first = series.at.findIndex((at) => at >= from);
  const after = series.at.findIndex((at) => at > until);
  const last = after < 0 ? series.at.length : after;
  if (first < 0 || last - first < 6) return { cause: "change", orderOffset: 0 };
  const re = withoutLine(series.re.slice(first, last));
  const im = withoutLine(series.im.slice(first, last));
  let [turnRe, turnIm, power] = [0, 0, 0];
  for (let i = 1; i < re.length; i += 1) {
    turnRe += re[i]! * re[i - 1]! + im[i]! * im[i - 1]!;
    turnIm += im[i]! * re[i - 1]! - re[i]! * im[i - 1]!;
    power += (re[i]! ** 2 + im[i]! ** 2 + re[i - 1]! ** 2 + im[i - 1]! ** 2) / 2;
  }
  const orderOffset = Math.atan2(turnIm, turnRe) / Math.PI;
  const turns = Math.abs(orderOffset) * ((last - first) / 2);
  if (Math.hypot(turnRe, turnIm) < LINE_SHARE * power) return { cause: "noise", orderOffset: 0 };
  return turns >= TURNS_LEAST
    ? { cause: "neighbour", orderOffset }
    : { cause: "change", orderOffset: 0 };
}
