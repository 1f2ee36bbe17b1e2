// Truth here is closed form: amplitudes and phase lags that were put in, at even acceleration.
import { describe, expect, it } from "vitest";
import { trackOrder } from "../../../harness/method/order-tracking.ts";
import { sampleAt } from "../../../harness/method/sample-kernel.ts";
import { shaftAngles } from "../../../harness/method/shaft-angle.ts";
import { averageOrder, meanRevolution } from "../../../harness/method/synchronous-average.ts";
import { HANN, RECTANGLE } from "../../../harness/method/time-window.ts";
import { knownSignal, PLAIN_WHEEL, rampAngle } from "../../kit/known-signal.ts";

/** 64 rev/s at 12.8 kHz, 10 rev/s². */
const RAMP = { startRev: 0.3, speed: 0.005, acceleration: 10 / 12_800 ** 2 };
const LAG = 1.1;

const TRACK = { order: 1, revolutions: 12, hop: 2, window: HANN };

describe("values between samples", () => {
  it.each([
    [1e-5, [0.001, 0.01, 0.1, 0.2, 0.3, 0.35]],
    [2e-5, [0.4]],
  ])("[METH-010] a sine is met within %f, a constant exactly", (limit, all) => {
    for (const cycles of all) {
      const value = (t: number): number => Math.cos(2 * Math.PI * cycles * t + 0.7);
      const samples = Float64Array.from({ length: 200 }, (_, i) => value(i));
      for (let t = 60; t < 130; t += 0.137) {
        expect(Math.abs(sampleAt(samples, t) - value(t))).toBeLessThan(limit);
      }
    }
    const flat = new Float64Array(64).fill(3);
    expect(sampleAt(flat, 31.37)).toBeCloseTo(3, 13);
  });
});

describe("computed order tracking", () => {
  it("[METH-011] gives amplitude and phase lag in a ramp, companions ten times as large", () => {
    const parts = [
      { order: 1, amplitude: () => 2, lagRad: LAG },
      { order: 2, amplitude: () => 20, lagRad: 0.4 },
      { order: 26, amplitude: () => 20, lagRad: 2 },
    ];
    const signal = knownSignal(RAMP, parts, 40_000);
    const [angle] = shaftAngles(signal);
    const series = trackOrder(signal, angle!, TRACK);
    expect(series.at.length).toBeGreaterThan(90);
    for (const [i, re] of series.re.entries()) {
      const error = Math.hypot(re - 2 * Math.cos(LAG), series.im[i]! + 2 * Math.sin(LAG));
      // The kernel leaves 1e-5 of the companions.
      expect(error).toBeLessThan(40 * 1e-5);
    }
  });

  it("[METH-012] its order resolution is the reciprocal of the revolutions (O-02)", () => {
    // What lies d bins off Hann's middle passes as sinc(d)/(1 − d²): 0.849 at half a bin, 0.5 at
    // one.
    const pass = (bins: number): number => {
      const parts = [{ order: 1 + bins / 12, amplitude: () => 1, lagRad: 0 }];
      const signal = knownSignal({ ...RAMP, acceleration: 0 }, parts, 20_000);
      const { re, im } = trackOrder(signal, shaftAngles(signal)[0]!, TRACK);
      return Math.hypot(re[3]!, im[3]!);
    };
    expect(pass(0.5)).toBeCloseTo(0.8488, 3);
    expect(pass(1)).toBeCloseTo(0.5, 3);
    for (const bins of [2, 3, 4, 7]) expect(pass(bins)).toBeLessThan(1e-3);
  });

  it("[METH-013] its phase counts from the index, not from the block", () => {
    const parts = [{ order: 3, amplitude: () => 1, lagRad: LAG }];
    const wheel = { ...PLAIN_WHEEL, positions: 60, index: "missing-tooth" as const };
    const signal = knownSignal(RAMP, parts, 20_000, wheel);
    const [angle] = shaftAngles(signal);
    const { re, im } = trackOrder(signal, angle!, { ...TRACK, order: 3, hop: 0.37 });
    for (const [i, one] of re.entries()) expect(-Math.atan2(im[i]!, one)).toBeCloseTo(LAG, 4);
  });

  it("[METH-014] a vector that grows straight is read at the middle of the block", () => {
    const signal = knownSignal(
      { ...RAMP, acceleration: 0 },
      [{ order: 1, amplitude: (at) => at / 1000, lagRad: 0 }],
      30_000,
    );
    const series = trackOrder(signal, shaftAngles(signal)[0]!, TRACK);
    for (const [i, at] of series.at.entries()) {
      expect(Math.abs(series.re[i]! - at / 1000)).toBeLessThan(3e-4);
    }
  });

  it("[METH-015] a run shorter than a block gives nothing", () => {
    const signal = knownSignal(RAMP, [{ order: 1, amplitude: () => 1, lagRad: 0 }], 2000);
    const [angle] = shaftAngles(signal);
    expect(trackOrder(signal, angle!, TRACK).at).toEqual([]);
    expect(averageOrder(signal, angle!, TRACK).at).toEqual([]);
  });
});

describe("time synchronous average", () => {
  const plan = { order: 1, revolutions: 8, hop: 2 };

  it("[METH-020] gives amplitude and phase lag in a ramp, companions ten times as large", () => {
    const parts = [
      { order: 1, amplitude: () => 2, lagRad: LAG },
      { order: 2, amplitude: () => 20, lagRad: 0.4 },
    ];
    const signal = knownSignal(RAMP, parts, 40_000);
    const series = averageOrder(signal, shaftAngles(signal)[0]!, plan);
    expect(series.at.length).toBeGreaterThan(90);
    for (const [i, re] of series.re.entries()) {
      const error = Math.hypot(re - 2 * Math.cos(LAG), series.im[i]! + 2 * Math.sin(LAG));
      expect(error).toBeLessThan(22 * 1e-5);
    }
  });

  it.each([0.05, 0.125, 0.19, 0.3, 0.5])(
    "[METH-021] passes what lies %f orders off as its comb says",
    (off) => {
      const parts = [{ order: 1 + off, amplitude: () => 1, lagRad: 0 }];
      const signal = knownSignal({ ...RAMP, acceleration: 0 }, parts, 20_000);
      const { re, im } = averageOrder(signal, shaftAngles(signal)[0]!, plan);
      // Over a block of 8 revolutions: sinc of 8 times the distance, and its image at −1 − off.
      const sinc = (x: number): number => Math.sin(Math.PI * x) / (Math.PI * x);
      const image = Math.abs(sinc(8 * (2 + off)));
      for (const [i, one] of re.entries()) {
        const error = Math.abs(Math.hypot(one, im[i]!) - Math.abs(sinc(8 * off)));
        expect(error).toBeLessThanOrEqual(image + 1e-3);
      }
    },
  );

  it("[METH-022] the mean revolution is the wave that turns with the shaft", () => {
    const parts = [
      { order: 1, amplitude: () => 2, lagRad: LAG },
      { order: 3, amplitude: () => 1, lagRad: 0 },
      { order: 1.5, amplitude: () => 5, lagRad: 0 },
    ];
    const signal = knownSignal(RAMP, parts, 20_000);
    const [angle] = shaftAngles(signal);
    const { mean, middleAt } = meanRevolution(signal, angle!, 2, 8);
    for (const [i, value] of mean.entries()) {
      const turn = (2 * Math.PI * i) / mean.length;
      const wave = 2 * Math.cos(turn - LAG) + Math.cos(3 * turn);
      expect(Math.abs(value - wave)).toBeLessThan(2e-4);
    }
    const whole = Math.round(rampAngle(RAMP, middleAt) - 6);
    expect(rampAngle(RAMP, middleAt) - whole).toBeCloseTo(6, 6);
  });

  it("[METH-023] one revolution rectangular passes the order alone (F-19)", () => {
    const parts = [{ order: 1.5, amplitude: () => 1, lagRad: 0 }];
    const signal = knownSignal({ ...RAMP, acceleration: 0 }, parts, 20_000);
    const one = { order: 1, revolutions: 2, hop: 1, window: RECTANGLE };
    const { re, im } = trackOrder(signal, shaftAngles(signal)[0]!, one);
    // Half an order over two revolutions is a null: df·T = 1.
    expect(Math.hypot(re[4]!, im[4]!)).toBeLessThan(1e-3);
  });
});
