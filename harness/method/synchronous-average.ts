// Time synchronous average: revolutions laid over each other at even angles, the mean revolution,
// and the order's share of it.
import { type BoxSignal, emptySeries, type VectorSeries } from "./box-signal.ts";
import { resample, turned, usableRev } from "./order-tracking.ts";
import { powerOfTwo } from "./real-spectrum.ts";
import type { ShaftAngle } from "./shaft-angle.ts";

export interface AveragePlan {
  order: number;
  /** Whole revolutions that are averaged. */
  revolutions: number;
  /** Whole revolutions from one average to the next. */
  hop: number;
}

/** The mean revolution of a block that begins at `from`: points at even angles, and its middle. */
export function meanRevolution(
  signal: BoxSignal,
  angle: ShaftAngle,
  from: number,
  revolutions: number,
): { mean: Float64Array; middleAt: number } {
  const longest = (angle.timeAt(from + revolutions) - angle.timeAt(from)) / revolutions;
  // A turn at the block's slowest may be longer than its mean turn.
  const points = powerOfTwo(1.25 * longest);
  const block = new Float64Array(points * revolutions);
  const middleAt = resample(signal, angle, from, revolutions, block);
  const mean = new Float64Array(points);
  for (let i = 0; i < block.length; i += 1) mean[i % points]! += block[i]! / revolutions;
  return { mean, middleAt };
}

/**
 * The order's vector in each mean revolution, at the time of the middle of what was averaged.
 *
 * Accuracy  whole orders fall into nulls; between them a comb passes |sin(πRd)/(R·sin(πd))| of what
 *           lies d orders off, R the revolutions averaged
 */
export function averageOrder(
  signal: BoxSignal,
  angle: ShaftAngle,
  { order, revolutions, hop }: AveragePlan,
): VectorSeries {
  const { from, until } = usableRev(signal, angle);
  const series = emptySeries();
  for (let i = 0; from + i * hop + revolutions <= until; i += 1) {
    const start = from + i * hop;
    const { mean, middleAt } = meanRevolution(signal, angle, start, revolutions);
    let [re, im] = [0, 0];
    for (let j = 0; j < mean.length; j += 1) {
      const phase = (-2 * Math.PI * ((order * j) % mean.length)) / mean.length;
      re += mean[j]! * Math.cos(phase);
      im += mean[j]! * Math.sin(phase);
    }
    const scale = 2 / mean.length;
    turned(series, middleAt, { re: re * scale, im: im * scale, rev: order * start });
  }
  return series;
}
