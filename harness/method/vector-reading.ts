// A method's vectors as the firmware would tell them: in the quantity asked for, lagged, each with
// a share of doubt.
import type { Bandwidth, Quantity, Response } from "../scene/scene.ts";
import type { AngleOverTime, BoxSignal, VectorSeries } from "./box-signal.ts";
import { quantityFactor } from "./measured-quantity.ts";
import { fullWidthAt, poleTime } from "./two-pole-lag.ts";

/** What a tracking filter is asked for. */
export interface TrackedOrder {
  order: number;
  bandwidth: Bandwidth;
  measured: Quantity;
  wanted: Quantity;
  response: Response;
}

/** The series in the quantity asked for, SI. */
export function inQuantity(
  series: VectorSeries,
  signal: BoxSignal,
  angle: AngleOverTime,
  { order, measured, wanted, response }: TrackedOrder,
): VectorSeries {
  const factors = series.at.map((at) =>
    quantityFactor(measured, wanted, response, order * angle.speedAt(at) * signal.sampleRateHz),
  );
  return {
    at: series.at,
    re: series.re.map((re, i) => re * factors[i]!.re - series.im[i]! * factors[i]!.im),
    im: series.re.map((re, i) => re * factors[i]!.im + series.im[i]! * factors[i]!.re),
  };
}

/** Time constant of the firmware's poles at a time, samples. */
export function tauOf(
  signal: BoxSignal,
  angle: AngleOverTime,
  { bandwidth }: TrackedOrder,
): (at: number) => number {
  return (at) => poleTime(fullWidthAt(bandwidth, angle.speedAt(at), 1 / signal.sampleRateHz));
}

/** The series cut wherever two of its values lie further apart than `most` samples. */
export function unbroken(series: VectorSeries, most: number): VectorSeries[] {
  const parts: VectorSeries[] = [];
  let from = 0;
  for (let i = 1; i <= series.at.length; i += 1) {
    if (i < series.at.length && series.at[i]! - series.at[i - 1]! <= most) continue;
    parts.push({
      at: series.at.slice(from, i),
      re: series.re.slice(from, i),
      im: series.im.slice(from, i),
    });
    from = i;
  }
  return parts;
}

/** The series at a time between its values, straight; undefined outside. */
export function seriesAt(
  { at, re, im }: VectorSeries,
  time: number,
): { re: number; im: number } | undefined {
  if (at.length === 0 || time < at[0]! || time > at.at(-1)!) return undefined;
  let [low, high] = [0, at.length - 1];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (at[middle]! <= time) low = middle;
    else high = middle;
  }
  const share = high === low ? 0 : (time - at[low]!) / (at[high]! - at[low]!);
  return {
    re: re[low]! + share * (re[high]! - re[low]!),
    im: im[low]! + share * (im[high]! - im[low]!),
  };
}
