// Windows after Harris, Proc. IEEE 66(1), 1978 (check values W-01, W-02) and ISO 18431-2 (W-05);
// the transform after its definition (W-08 to W-10).
import { describe, expect, it } from "vitest";
import { RealSpectrum } from "../../../harness/method/real-spectrum.ts";
import { shaftAngles } from "../../../harness/method/shaft-angle.ts";
import {
  BLACKMAN_HARRIS,
  coherentGain,
  FLAT_TOP,
  HANN,
  noiseBandwidthBins,
  RECTANGLE,
  TRIANGLE,
  windowSamples,
} from "../../../harness/method/time-window.ts";
import { lineMove, spectrumOrder } from "../../../harness/method/windowed-spectrum.ts";
import { knownSignal } from "../../kit/known-signal.ts";

const LAG = 1.1;

/** Sum of the window times a tone `bins` bins off, over the window's own sum. */
function response(window: typeof HANN, bins: number): number {
  const weights = windowSamples(window, 4096);
  let [re, im, sum] = [0, 0, 0];
  for (const [i, weight] of weights.entries()) {
    re += weight * Math.cos((2 * Math.PI * bins * i) / 4096);
    im += weight * Math.sin((2 * Math.PI * bins * i) / 4096);
    sum += weight;
  }
  return Math.hypot(re, im) / sum;
}

const decibels = (share: number): number => -20 * Math.log10(share);

describe("windows", () => {
  it.each([
    ["rectangular (W-01)", RECTANGLE, 3.9224, 1, 0.01],
    ["Hann (W-02)", HANN, 1.4236, 1.5, 0.01],
    ["flat-top (W-05)", FLAT_TOP, 0.009, 3.770933, 1e-3],
    ["Blackman-Harris (W-04)", BLACKMAN_HARRIS, 0.8256, 2.004353, 1e-3],
  ] as const)("[METH-050] %s: scalloping and noise bandwidth", (_, window, loss, bins, limit) => {
    expect(Math.abs(decibels(response(window, 0.5)) - loss)).toBeLessThan(limit);
    expect(noiseBandwidthBins(window)).toBeCloseTo(bins, 5);
    const weights = windowSamples(window, 4096);
    const mean = weights.reduce((a, b) => a + b, 0) / 4096;
    expect(mean).toBeCloseTo(coherentGain(window), 12);
  });

  it.each([
    ["rectangular", RECTANGLE],
    ["Hann", HANN],
    ["flat-top", FLAT_TOP],
    ["Blackman-Harris (W-04)", BLACKMAN_HARRIS],
    ["triangle", TRIANGLE],
  ])("[METH-051] width and null are those that are told: %s", (_, window) => {
    expect(response(window, window.widthBins / 2)).toBeCloseTo(Math.SQRT1_2, 3);
    expect(response(window, window.nullBins)).toBeLessThan(1e-9);
    expect(response(window, window.nullBins - 0.5)).toBeGreaterThan(1e-4);
  });
});

describe("transform", () => {
  it("[METH-052] is the definition's (W-08, W-09, W-10)", () => {
    const of = (values: number[]): number[] => {
      const spectrum = new RealSpectrum(values.length);
      spectrum.input.set(values);
      spectrum.transform();
      return [...spectrum.bins.subarray(0, values.length + 2)];
    };
    expect(of([1, 2, 3, 4])).toEqual([10, 0, -2, 2, -2, 0]);
    const eight = of([0, 1, 2, 3, 4, 5, 6, 7]);
    for (const [i, value] of [28, 0, -4, 9.65685425, -4, 4, -4, 1.65685425, -4, 0].entries()) {
      expect(eight[i]).toBeCloseTo(value, 8);
    }
    const tone = of(
      Array.from({ length: 8 }, (_, k) => 3 * Math.cos((2 * Math.PI * 2 * k) / 8 + Math.PI / 6)),
    );
    expect(tone[4]).toBeCloseTo(10.392304845, 8);
    expect(tone[5]).toBeCloseTo(6, 12);
  });

  it("[METH-053] refuses a size that is no power of two", () => {
    expect(() => new RealSpectrum(12)).toThrow(/12 points/);
  });
});

describe("windowed spectrum", () => {
  const plan = { order: 1, size: 8192, hop: 1024, window: FLAT_TOP };

  it.each([0, 0.1, 0.25, 0.4999])(
    "[METH-054] gives amplitude and phase lag %f bins off a bin, companions beside it",
    (off) => {
      // 0.1 % is what the window loses between two bins (W-05); companions lie 40 bins off.
      const ramp = { startRev: 0.3, speed: (40 + off) / 8192, acceleration: 0 };
      const parts = [
        { order: 1, amplitude: () => 2, lagRad: LAG },
        { order: 2, amplitude: () => 20, lagRad: 0.4 },
      ];
      const signal = knownSignal(ramp, parts, 40_000);
      const { at, re, im } = spectrumOrder(signal, shaftAngles(signal)[0]!, plan);
      expect(at.length).toBeGreaterThan(20);
      for (const [i, one] of re.entries()) {
        expect(Math.abs(Math.hypot(one, im[i]!) / 2 - 1)).toBeLessThan(1.1e-3);
        expect(Math.abs(-Math.atan2(im[i]!, one) - LAG)).toBeLessThan(1e-3);
      }
    },
  );

  it("[METH-055] a line that moves over half a bin in a block is none", () => {
    const ramp = { startRev: 0.3, speed: 0.005, acceleration: 10 / 12_800 ** 2 };
    const signal = knownSignal(ramp, [{ order: 1, amplitude: () => 1, lagRad: 0 }], 40_000);
    const [angle] = shaftAngles(signal);
    // 10 Hz/s over 0.64 s makes 6.4 Hz, and a bin is 1.5625 Hz.
    expect(lineMove(angle!, 4000, 8192, 1)).toBeCloseTo(6.4 / 1.5625, 6);
    expect(spectrumOrder(signal, angle!, plan).at).toEqual([]);
  });
});
