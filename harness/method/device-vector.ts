// The vector that a device gives where its angle is what it is defined to be: what its coarser knots,
// an edge beside its place, or one taken for another, make of it.
import type { BoxSignal, VectorSeries } from "./box-signal.ts";
import { DeviceAngle, placesPerKnot } from "./device-angle.ts";
import { quantityFactor } from "./measured-quantity.ts";
import { deviceBlocks } from "./method-plans.ts";
import type { ShaftAngle } from "./shaft-angle.ts";
import { type LaggedVector, lagged, stepped } from "./two-pole-lag.ts";
import { inQuantity, tauOf, type TrackedOrder } from "./vector-reading.ts";

export interface DeviceVector {
  re: number;
  im: number;
  /** What is left of cycles in which it may have gone astray. */
  astray: number;
}

/** Peak to peak of the samples from `from` to `until`. */
function peakOf({ samples }: BoxSignal, from: number, until: number): number {
  const part = samples.subarray(Math.max(0, Math.floor(from)), Math.ceil(until) + 1);
  let [low, high] = [Infinity, -Infinity];
  for (const one of part) {
    low = Math.min(low, one);
    high = Math.max(high, one);
  }
  return part.length === 0 ? 0 : high - low;
}

/**
 * What cycles may be off by in which the device may have counted anything: its vector is
 * 2∫x·w·e^(−j2πkθ) whatever the angle, w a weight of integral 1, so no longer than twice the
 * greatest |x|, and it stands beside one of its own length.
 */
function astraySeries(
  series: VectorSeries,
  signal: BoxSignal,
  angle: ShaftAngle,
  { order, measured, wanted, response }: TrackedOrder,
): VectorSeries {
  const { positions, revolutions } = signal.wheel;
  const knot = (placesPerKnot(positions) * revolutions) / positions;
  // A knot's parabola reaches two intervals back, a triangle one cycle to either side.
  const reach = revolutions + 2 * knot;
  const off = series.at.map(() => 0);
  for (const { fromAt, untilAt } of angle.device.astray) {
    const [low, high] = [angle.revAt(fromAt) - reach, angle.revAt(untilAt) + reach];
    const peak = peakOf(signal, fromAt, untilAt);
    for (const [i, at] of series.at.entries()) {
      const rev = angle.revAt(Math.min(angle.lastAt, Math.max(angle.firstAt, at)));
      if (rev < low || rev > high) continue;
      const hertz = order * angle.speedAt(at) * signal.sampleRateHz;
      const factor = quantityFactor(measured, wanted, response, hertz);
      const length = Math.hypot(series.re[i]!, series.im[i]!);
      off[i] = Math.max(off[i]!, length + 2 * peak * Math.hypot(factor.re, factor.im));
    }
  }
  return { at: series.at, re: off, im: series.at.map(() => 0) };
}

/**
 * The device's vectors at the times of its steps, after its poles.
 *
 * Shape     undefined where its edges do not reach; knots are counted from the cycle that closes at
 *           each of `times`, so one that found its reference anew may count from another place
 */
export function deviceVectors(
  signal: BoxSignal,
  angle: ShaftAngle,
  tracked: TrackedOrder,
  times: readonly number[],
): (DeviceVector | undefined)[] {
  const { positions, revolutions } = signal.wheel;
  const spacing = placesPerKnot(positions);
  const places = times.map((at) =>
    Math.round((angle.revAt(Math.min(at, angle.lastAt)) * positions) / revolutions),
  );
  const grids = places.map((place) => ((place % spacing) + spacing) % spacing);
  const result: (DeviceVector | undefined)[] = times.map(() => undefined);
  for (const grid of new Set(grids)) {
    const first = grids.indexOf(grid);
    const own = new DeviceAngle(angle.device, signal.wheel, places[first]!);
    const series = deviceBlocks(signal, own, tracked, (places[first]! * revolutions) / positions);
    const wanted = inQuantity(series, signal, own, tracked);
    const off = astraySeries(wanted, signal, angle, tracked);
    const tau = tauOf(signal, own, tracked);
    const vectors = lagged(stepped(wanted), tau, times);
    const astray: (LaggedVector | undefined)[] = lagged(stepped(off), tau, times);
    for (const [i, one] of vectors.entries()) {
      if (grids[i] !== grid || one === undefined) continue;
      result[i] = { re: one.re, im: one.im, astray: astray[i]?.re ?? 0 };
    }
  }
  return result;
}
