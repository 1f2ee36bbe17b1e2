// Computed order tracking: the signal is sampled anew at even steps of the shaft's angle, and each
// block of whole revolutions is transformed.
// Sources: Potter & Gribler, SAE 891131, 1989; Fyfe & Munck, MSSP 11(2), 1997 (both from memory).
import {
  type AngleOverTime,
  type BoxSignal,
  emptySeries,
  type VectorSeries,
} from "./box-signal.ts";
import { powerOfTwo, SpectrumStore } from "./real-spectrum.ts";
import { KERNEL_HALF, sampleAt } from "./sample-kernel.ts";
import { coherentGain, type TimeWindow, windowSamples } from "./time-window.ts";

export interface BlockPlan {
  order: number;
  /** Whole revolutions of a block. */
  revolutions: number;
  /** Revolutions from one block to the next. */
  hop: number;
  window: TimeWindow;
  /** An angle on the grid of the blocks' beginnings; else the first usable one. */
  alignedTo?: number;
}

/** First and last angle whose times lie far enough inside the samples. */
export function usableRev(
  signal: BoxSignal,
  angle: AngleOverTime,
): { from: number; until: number } {
  const from = Math.max(angle.firstAt, KERNEL_HALF);
  const until = Math.min(angle.lastAt, signal.samples.length - 1 - KERNEL_HALF - 1);
  if (!(until > from)) return { from: 0, until: 0 };
  return { from: angle.revAt(from), until: angle.revAt(until) };
}

/** Points of a block: a power of two, so close that nothing of the signal is folded. */
export function blockPoints(angle: AngleOverTime, from: number, revolutions: number): number {
  return powerOfTwo(angle.timeAt(from + revolutions) - angle.timeAt(from));
}

/** Samples of a block at even angles into `into`; gives the time of its middle. */
export function resample(
  { samples }: BoxSignal,
  angle: AngleOverTime,
  from: number,
  revolutions: number,
  into: Float64Array,
): number {
  const step = revolutions / into.length;
  for (let i = 0; i < into.length; i += 1) {
    into[i] = sampleAt(samples, angle.timeAt(from + i * step));
  }
  return angle.timeAt(from + revolutions / 2);
}

/**
 * The order's vector, one for each block, at the time of the block's middle angle.
 *
 * Shape     blocks lie on a grid of `hop` revolutions
 * Range     a run shorter than a block gives an empty series
 * Accuracy  whole orders two or more bins of 1/revolutions away fall into nulls (Hann); what the
 *           kernel leaves is 1e-5
 */
export function trackOrder(signal: BoxSignal, angle: AngleOverTime, plan: BlockPlan): VectorSeries {
  const { order, revolutions, hop, window, alignedTo } = plan;
  const usable = usableRev(signal, angle);
  const { until } = usable;
  const grid = alignedTo ?? usable.from;
  const from = grid + Math.ceil((usable.from - grid) / hop) * hop;
  const store = new SpectrumStore();
  const weights = new Map<number, Float64Array>();
  const series = emptySeries();
  for (let i = 0; from + i * hop + revolutions <= until; i += 1) {
    const start = from + i * hop;
    const size = blockPoints(angle, start, revolutions);
    const spectrum = store.of(size);
    const weight = weights.get(size) ?? windowSamples(window, size);
    weights.set(size, weight);
    const middle = resample(signal, angle, start, revolutions, spectrum.input);
    for (let j = 0; j < size; j += 1) spectrum.input[j]! *= weight[j]!;
    spectrum.transform();
    const bin = order * revolutions;
    const scale = 2 / (size * coherentGain(window));
    // The block begins at `start`; the vector counts from the index.
    turned(series, middle, {
      re: spectrum.bins[2 * bin]! * scale,
      im: spectrum.bins[2 * bin + 1]! * scale,
      rev: order * start,
    });
  }
  return series;
}

/** Adds a vector, turned back by some revolutions. */
export function turned(
  series: VectorSeries,
  at: number,
  { re, im, rev }: { re: number; im: number; rev: number },
): void {
  const angle = -2 * Math.PI * (rev - Math.floor(rev));
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  series.at.push(at);
  series.re.push(re * cos - im * sin);
  series.im.push(re * sin + im * cos);
}
