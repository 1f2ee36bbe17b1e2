// The second opinions (harness/method): time windows and the transform (W), order tracking and the
// Vold-Kalman filter (O).
import { expect } from "vitest";
import type { BoxSignal } from "../../../harness/method/box-signal.ts";
import { trackOrder } from "../../../harness/method/order-tracking.ts";
import { RealSpectrum } from "../../../harness/method/real-spectrum.ts";
import { shaftAngles } from "../../../harness/method/shaft-angle.ts";
import {
  BLACKMAN_HARRIS,
  coherentGain,
  FLAT_TOP,
  HANN,
  noiseBandwidthBins,
  RECTANGLE,
  windowSamples,
  type TimeWindow,
} from "../../../harness/method/time-window.ts";
import { type PoleCount, smoothWeight, solveSmooth } from "../../../harness/method/vold-kalman.ts";
import { spectrumOrder } from "../../../harness/method/windowed-spectrum.ts";
import { knownSignal } from "../../kit/known-signal.ts";
import { check, EXACT, near, nearBy, trap } from "../check.ts";

const LENGTH = 4096;
const decibels = (share: number): number => 20 * Math.log10(share);

const made = new Map<TimeWindow, Float64Array>();
function weightsOf(window: TimeWindow): Float64Array {
  const weights = made.get(window) ?? windowSamples(window, LENGTH);
  made.set(window, weights);
  return weights;
}

/** What a tone that lies so many bins off leaves of the window's own sum, in decibels. */
function passDb(window: TimeWindow, bins: number): number {
  let [re, im, sum] = [0, 0, 0];
  for (const [i, weight] of weightsOf(window).entries()) {
    const turn = (2 * Math.PI * bins * i) / LENGTH;
    re += weight * Math.cos(turn);
    im += weight * Math.sin(turn);
    sum += weight;
  }
  return decibels(Math.hypot(re, im) / sum);
}

/** The highest side lobe, looked for to within 1/32 of a bin over 16 bins beyond the null. */
function sideLobeDb(window: TimeWindow): number {
  const lobes = Array.from({ length: 16 * 32 }, (_, i) => window.nullBins + (i + 1) / 32);
  return Math.max(...lobes.map((bins) => passDb(window, bins)));
}

/** Full width between the −3 dB points, in bins, by halving. */
function widthBins(window: TimeWindow): number {
  let [low, high] = [0, window.nullBins];
  for (let i = 0; i < 40; i += 1) {
    const middle = (low + high) / 2;
    if (passDb(window, middle) > decibels(Math.SQRT1_2)) low = middle;
    else high = middle;
  }
  return low + high;
}

/** Noise power over that of one bin, from the samples themselves. */
function measuredNoiseBins(window: TimeWindow): number {
  const weights = weightsOf(window);
  const sum = weights.reduce((a, b) => a + b, 0);
  return (LENGTH * weights.reduce((a, b) => a + b * b, 0)) / (sum * sum);
}

/** Bins from a component to its image at the negative frequency, here. */
const IMAGE_BINS = 2 * 1000;

/** What the windowed spectrum reads of a component of 1 whose line lies between two bins. */
function readBetweenBinsDb(window: TimeWindow): number {
  const steady = { startRev: 0, speed: (IMAGE_BINS / 2 + 0.5) / LENGTH, acceleration: 0 };
  const component = { order: 1, amplitude: () => 1, lagRad: 0.7 };
  const signal = knownSignal(steady, [component], LENGTH + 64);
  const plan = { order: 1, size: LENGTH, hop: LENGTH, window };
  const { re, im } = spectrumOrder(signal, shaftAngles(signal)[0]!, plan);
  expect(re).toHaveLength(1);
  return decibels(Math.hypot(re[0]!, im[0]!));
}

interface WindowFigures {
  scallopDb: number;
  noiseBins: number;
  gain: number;
  /** By how much the scalloping may be off, dB, and the share for the others. */
  db: number;
  share: number;
}

function expectWindow(window: TimeWindow, wanted: WindowFigures): void {
  nearBy(passDb(window, 0.5), -wanted.scallopDb, wanted.db);
  // As the method itself reads it; the image leaks at most the rectangle's 1/(π·distance).
  const image = -decibels(1 - 1 / (Math.PI * IMAGE_BINS));
  const leak = window === RECTANGLE ? image / 10 ** (-wanted.scallopDb / 20) : 0;
  nearBy(readBetweenBinsDb(window), -wanted.scallopDb, wanted.db + leak);
  near(noiseBandwidthBins(window), wanted.noiseBins, wanted.share);
  near(measuredNoiseBins(window), wanted.noiseBins, wanted.share);
  near(coherentGain(window), wanted.gain, EXACT);
  near(weightsOf(window).reduce((a, b) => a + b, 0) / LENGTH, wanted.gain, EXACT);
}

check("W-01", "rectangle: side lobe −13 dB, 3.9224 dB between bins, one bin of noise", () => {
  expectWindow(RECTANGLE, { scallopDb: 3.9224, noiseBins: 1, gain: 1, db: 0.01, share: 0.01 });
  // Whole decibels are printed.
  nearBy(sideLobeDb(RECTANGLE), -13, 0.5);
});

check(
  "W-02",
  "Hann: side lobe −32 dB, 1.4236 dB between bins, 1.5 bins of noise, 1.4406 wide",
  () => {
    expectWindow(HANN, { scallopDb: 1.4236, noiseBins: 1.5, gain: 0.5, db: 0.01, share: 0.01 });
    nearBy(decibels(coherentGain(HANN)), -6.02, 0.01);
    // −32 dB is printed, in whole decibels, and is not the nearest: from the definition the lobe stands
    // at −31.475 dB.
    nearBy(sideLobeDb(HANN), -31.475, 0.001);
    nearBy(widthBins(HANN), 1.4406, 0.01);
    nearBy(HANN.widthBins, 1.4406, 0.01);
    nearBy(10 * Math.log10(noiseBandwidthBins(HANN)) - passDb(HANN, 0.5), 3.185, 0.01);
  },
);

check("W-04", "Blackman-Harris: 0.8256 dB between bins, 2.004353 bins of noise", () => {
  expect(BLACKMAN_HARRIS.terms).toEqual([0.35875, -0.48829, 0.14128, -0.01168]);
  const bounds = { db: 1e-5 + 5e-5, share: 1e-5 };
  // Four digits of the decibels are given: half of the last beside the 1e-5.
  expectWindow(BLACKMAN_HARRIS, {
    scallopDb: 0.8256,
    noiseBins: 2.004353,
    gain: 0.35875,
    ...bounds,
  });
});

check("W-05", "flat-top: 0.0090 dB between bins, 3.770933 bins of noise, 3.7246 wide", () => {
  expect(FLAT_TOP.terms).toEqual([1, -1.933, 1.286, -0.388, 0.0322]);
  const bounds = { db: 1e-4, share: 1e-4 };
  expectWindow(FLAT_TOP, { scallopDb: 0.009, noiseBins: 3.770933, gain: 1, ...bounds });
  nearBy(widthBins(FLAT_TOP), 3.7246, 1e-4);
  nearBy(FLAT_TOP.widthBins, 3.7246, 1e-4);
});

/** Real and imaginary parts of the bins from 0 to half the size, in turn. */
function transformed(values: readonly number[]): number[] {
  const spectrum = new RealSpectrum(values.length);
  spectrum.input.set(values);
  spectrum.transform();
  return [...spectrum.bins.subarray(0, values.length + 2)];
}

check("W-08", "the transform of {1, 2, 3, 4}", () => {
  expect(transformed([1, 2, 3, 4])).toEqual([10, 0, -2, 2, -2, 0]);
});

check("W-09", "the transform of {0 … 7}", () => {
  const wanted = [28, 0, -4, 9.65685425, -4, 4, -4, 1.65685425, -4, 0];
  const found = transformed([0, 1, 2, 3, 4, 5, 6, 7]);
  for (const [i, value] of wanted.entries()) nearBy(found[i]!, value, 1e-8);
});

const EIGHT = Array.from({ length: 8 }, (_, k) => 3 * Math.cos((Math.PI * k) / 2 + Math.PI / 6));

check("W-10", "a tone of 3 in eight samples, 30° ahead: its bin", () => {
  const found = transformed(EIGHT);
  // Nine decimals are given.
  nearBy(found[4]!, 10.392304845, 1e-9);
  nearBy(found[5]!, 6, 6 * EXACT);
});
check("W-10", "the windowed spectrum reads amplitude 3 and phase 30° of it", () => {
  // A turn is four samples long, and two turns are a block; the edges say when a turn begins.
  const samples = Float64Array.from({ length: 32 }, (_, i) => EIGHT[i % 8]!);
  const signal: BoxSignal = {
    ...knownSignal({ startRev: 0, speed: 0.25, acceleration: 0 }, [], 32),
    samples,
  };
  const plan = { order: 1, size: 8, hop: 8, window: RECTANGLE };
  const { re, im } = spectrumOrder(signal, shaftAngles(signal)[0]!, plan);
  expect(re).toHaveLength(3);
  for (const [i, one] of re.entries()) {
    near(Math.hypot(one, im[i]!), 3, EXACT);
    near((Math.atan2(im[i]!, one) * 180) / Math.PI, 30, EXACT);
  }
});

/** What computed order tracking leaves of a component so many orders beside order 1. */
function leftBeside(orders: number, revolutions: number): number {
  const steady = { startRev: 0.3, speed: 0.005, acceleration: 0 };
  const component = { order: 1 + orders, amplitude: () => 1, lagRad: 0.4 };
  const signal = knownSignal(steady, [component], 12_000);
  const plan = { order: 1, revolutions, hop: revolutions, window: RECTANGLE };
  const { re, im } = trackOrder(signal, shaftAngles(signal)[0]!, plan);
  expect(re.length).toBeGreaterThan(3);
  return Math.max(...re.map((one, i) => Math.hypot(one, im[i]!)));
}

/** What the values between samples leave (test METH-010). */
const KERNEL_SHARE = 1e-5;

check("O-02", "ten revolutions part orders 0.1 from each other, and none that lie closer", () => {
  // The first null: the rectangle passes sinc(10·0.1) there, and its image lies 21 nulls off.
  for (const orders of [0.1, -0.1, 0.2]) {
    expect(leftBeside(orders, 10)).toBeLessThan(2 * KERNEL_SHARE);
  }
  // Inside of it, sinc(10·d) less at most the image's 1/(π·10·(2 − d)).
  for (const orders of [0.05, 0.08, 0.09, 0.095]) {
    const turn = Math.PI * 10 * orders;
    const image = 1 / (Math.PI * 10 * (2 - orders));
    nearBy(leftBeside(orders, 10), Math.sin(turn) / turn, image);
    expect(leftBeside(orders, 10)).toBeGreaterThan(100 * KERNEL_SHARE);
  }
});
check("O-02", "half orders need two revolutions", () => {
  for (const orders of [0.5, -0.5]) {
    expect(leftBeside(orders, 2)).toBeLessThan(2 * KERNEL_SHARE);
    expect(leftBeside(orders, 1)).toBeGreaterThan(0.3);
  }
});

const POLES: readonly PoleCount[] = [1, 2, 3];

check("O-08", "weights of smoothness for a width of 0.01 and 0.02 of the rate", () => {
  for (const [width, ...weights] of [
    [0.01, 20.487083826, 652.150950399, 20759.463167794],
    [0.02, 10.244805789, 163.077972167, 2595.89352428],
  ] as const) {
    for (const [i, weight] of weights.entries()) {
      near(smoothWeight(width, POLES[i]!), weight, 1e-9);
    }
  }
});
check("O-08", "the filter leaves 1/√2 of what turns half the width beside the order", () => {
  for (const poles of POLES) {
    const width = 0.02;
    const phase = (i: number): number => Math.PI * width * i;
    const re = Float64Array.from({ length: 4000 }, (_, i) => Math.cos(phase(i)));
    const im = Float64Array.from({ length: 4000 }, (_, i) => Math.sin(phase(i)));
    solveSmooth(re, im, width, poles);
    // An end dies out as e^(−1.8·n) over n periods of the width at the slowest: 20 of them here.
    // Rounding by the system's condition: its greatest eigenvalue is 1 + r²·4^p, its least 1.
    const rounding = Number.EPSILON * (1 + smoothWeight(width, poles) ** 2 * 4 ** poles);
    const share = 1e-9 + rounding;
    for (const i of [1000, 1703, 2999]) near(Math.hypot(re[i]!, im[i]!), Math.SQRT1_2, share);
  }
});

check("O-09", "a small width's weights: 0.643594253/(π·width)^p", () => {
  for (const [poles, wanted] of [
    [1, 0.204862413],
    [2, 0.065209731],
    [3, 0.020756902],
  ] as const) {
    for (const width of [1e-5, 1e-6]) {
      // Nine decimals are given; the next term is p·w²/24.
      const next = (wanted * poles * (Math.PI * width) ** 2) / 24;
      nearBy(smoothWeight(width, poles) * width ** poles, wanted, 5e-10 + next);
      near(smoothWeight(width, poles) * (Math.PI * width) ** poles, 0.643594253, 1e-9);
    }
  }
});

check(
  "O-10",
  "a width of 0.001 of the rate: 65209.7851 with two poles, a number with three",
  () => {
    nearBy(smoothWeight(1e-3, 2), 65209.7851, 5e-5);
    // By O-09, with its next term; the one after it is under w⁴.
    const w = Math.PI * 1e-3;
    near(smoothWeight(1e-3, 3), (0.643594253 / w ** 3) * (1 + (3 * w * w) / 24), 1e-9);
  },
);
trap("O-10", "cosine sums give 65209.92 with two poles and divide by zero with three", () => {
  const w = Math.PI * 1e-3;
  const two = 6 - 8 * Math.cos(w) + 2 * Math.cos(2 * w);
  const three = 20 - 30 * Math.cos(w) + 12 * Math.cos(2 * w) - 2 * Math.cos(3 * w);
  // The trap is there: this is what falls in.
  nearBy(Math.sqrt((Math.SQRT2 - 1) / two), 65209.92, 5e-3);
  expect(three).toBe(0);
  expect(Math.abs(smoothWeight(1e-3, 2) - 65209.92)).toBeGreaterThan(0.1);
  for (const width of [1e-2, 1e-3, 1e-4, 1e-5]) {
    for (const poles of POLES) expect(smoothWeight(width, poles)).toBeLessThan(Infinity);
  }
});
