// How long samples wait in the firmware's pool for the knot that closes them, and what fits.
import {
  KNOTS_PER_REVOLUTION_MIN,
  POOL_MARGIN_SAMPLES,
  POOL_SAMPLES,
} from "../../shared/capacity.ts";

/** Knot intervals at the lowest speed that a time-out must at least span. */
export const TIMEOUT_KNOT_INTERVALS = 2.5;

/**
 * Positions between the knots of the angle model: the largest divisor of the positions that leaves
 * at least KNOTS_PER_REVOLUTION_MIN a cycle; every position where there are fewer.
 */
export function knotStride(positions: number): number {
  for (let stride = Math.floor(positions / KNOTS_PER_REVOLUTION_MIN); stride > 1; stride -= 1) {
    if (positions % stride === 0) return stride;
  }
  return 1;
}

/** Shaft revolutions in one knot interval. */
export function knotRevolutions(positions: number, revolutions: number): number {
  return (knotStride(positions) * revolutions) / positions;
}

/** The shortest time-out that the lowest speed allows, s. */
export function timeoutLeastS(
  shaft: { positions: number; revolutions: number },
  speedMinRevPerS: number,
): number {
  const perKnot = knotRevolutions(shaft.positions, shaft.revolutions);
  return (TIMEOUT_KNOT_INTERVALS * perKnot) / speedMinRevPerS;
}

/**
 * The same in ticks, as the firmware computes it in f32: a time-out must not be under it.
 *
 * Accuracy  bit for bit the chain of assembly/config.ts
 */
export function timeoutLeastTicks(
  shaft: { positions: number; revolutions: number },
  speedMinRevPerS: number,
  clockHz: number,
): number {
  const f32 = Math.fround;
  const perRevolution = f32(f32(shaft.positions) / f32(shaft.revolutions));
  const spacing = f32(f32(clockHz) * f32(knotStride(shaft.positions)));
  const intervalTicks = f32(spacing / f32(perRevolution * f32(speedMinRevPerS)));
  return Math.ceil(f32(f32(TIMEOUT_KNOT_INTERVALS) * intervalTicks));
}

/** Samples of each channel that a time-out needs in the pool. */
export function poolNeedSamples(sampleRateHz: number, timeoutS: number): number {
  return Math.ceil(sampleRateHz * timeoutS - 1e-9) + POOL_MARGIN_SAMPLES;
}

/** Samples of each channel that the pool has. */
export function poolShareSamples(channelCount: number): number {
  return Math.floor(POOL_SAMPLES / channelCount);
}

/** The longest time-out that fits, s. */
export function timeoutMostS(sampleRateHz: number, channelCount: number): number {
  return (poolShareSamples(channelCount) - POOL_MARGIN_SAMPLES) / sampleRateHz;
}

/** The lowest speed whose shortest time-out fits the pool, rev/s. */
export function speedLeastRevPerS(
  shaft: { positions: number; revolutions: number },
  sampleRateHz: number,
  channelCount: number,
): number {
  return timeoutLeastS(shaft, 1) / timeoutMostS(sampleRateHz, channelCount);
}
