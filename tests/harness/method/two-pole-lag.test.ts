// Check values F-01 to F-03, F-17 and F-23 for two equal poles; the quantity's rules worked out by
// hand on one cosine.
import { describe, expect, it } from "vitest";
import {
  channelGain,
  integrations,
  quantityFactor,
} from "../../../harness/method/measured-quantity.ts";
import { fullWidthAt, lagged, poleTime, stepPoles } from "../../../harness/method/two-pole-lag.ts";

describe("two poles", () => {
  it("[METH-060] their time constant gives −3 dB half the width off (F-02)", () => {
    const tau = poleTime(2);
    expect(1 / (1 + (2 * Math.PI * 1 * tau) ** 2)).toBeCloseTo(Math.SQRT1_2, 12);
    expect(1 / (2 * Math.PI * poleTime(2)) / 1).toBeCloseTo(1 / 0.643594253, 7);
  });

  it("[METH-061] a step is met to 1 % after 6.638352068 time constants (F-03)", () => {
    const { second } = stepPoles({ first: 0, second: 0 }, 1, 1, 6.638352068 * 3, 3);
    expect(1 - second).toBeCloseTo(0.01, 9);
  });

  it("[METH-062] a ramp lags by two time constants (F-17, F-23), in parts as in one", () => {
    const tau = 3;
    let poles = { first: 0, second: 0 };
    for (let i = 0; i < 60; i += 1) poles = stepPoles(poles, 0.5 * i, 0.5 * (i + 1), 1, tau);
    expect(poles.second).toBeCloseTo(0.5 * (60 - 2 * tau), 6);
    const whole = stepPoles({ first: 0, second: 0 }, 0, 30, 60, tau);
    expect(whole.second).toBeCloseTo(poles.second, 12);
    expect(whole.first).toBeCloseTo(poles.first, 12);
  });

  it("[METH-063] a series is followed at any times, its curvature and its start told", () => {
    const tau = 40;
    const at = Array.from({ length: 200 }, (_, i) => 7 * i);
    const turn = 2e-3;
    const series = {
      at,
      re: at.map((time) => Math.cos(turn * time)),
      im: at.map((time) => Math.sin(turn * time)),
    };
    const times = [-5, 900.5, 1000, 1393, 1394];
    const found = lagged(series, () => tau, times);
    expect([found[0], found[4]]).toEqual([undefined, undefined]);
    for (const i of [1, 2, 3]) {
      const one = found[i]!;
      // A turning vector is passed as 1/(1 + jωτ)²; what the straight lines leave is (ωh)²/12.
      const gain = 1 / (1 + (turn * tau) ** 2);
      const angle = turn * times[i]! - 2 * Math.atan(turn * tau);
      expect(one.re).toBeCloseTo(gain * Math.cos(angle), 4);
      expect(one.im).toBeCloseTo(gain * Math.sin(angle), 4);
      expect(one.curvature).toBeCloseTo(turn ** 2 * gain, 7);
      const x = times[i]! / tau;
      expect(one.startShare).toBeCloseTo((1 + x) * Math.exp(-x), 12);
    }
  });

  it("[METH-064] a width that is a share of the speed follows it", () => {
    expect(fullWidthAt({ kind: "proportional", fullWidthRatio: 0.02 }, 80, 1)).toBeCloseTo(1.6, 12);
    const fixed = fullWidthAt({ kind: "fixed", fullWidthHz: 2 }, 80, 1 / 12_800);
    expect(fixed).toBeCloseTo(2 / 12_800, 15);
  });
});

describe("quantity", () => {
  const none = { kind: "none" } as const;

  it("[METH-065] velocity reads φ + 90°, displacement φ + 180° of an acceleration", () => {
    // x = A·cos(ωt − φ) has the integral (A/ω)·sin(ωt − φ) = (A/ω)·cos(ωt − φ − 90°).
    const omega = 2 * Math.PI * 80;
    const velocity = quantityFactor("acceleration", "velocity", none, 80);
    expect(velocity.re).toBeCloseTo(0, 15);
    expect(velocity.im).toBeCloseTo(-1 / omega, 12);
    const displacement = quantityFactor("acceleration", "displacement", none, 80);
    expect(displacement.re).toBeCloseTo(-1 / omega ** 2, 15);
    const back = quantityFactor("velocity", "acceleration", none, 80);
    expect(back.im).toBeCloseTo(omega, 9);
    expect(integrations("unstated", "unstated")).toBe(0);
  });

  it("[METH-066] a Butterworth response has −3 dB at its corner and its known phase there", () => {
    for (const order of [1, 2, 3, 4]) {
      const low = channelGain(
        {
          kind: "filters",
          highPassOrder: 0,
          highPassHz: 0,
          lowPassOrder: order,
          lowPassHz: 50,
          delayS: 0,
        },
        50,
      );
      expect(Math.hypot(low.re, low.im)).toBeCloseTo(Math.SQRT1_2, 12);
      // n·45° of lag, by symmetry of the poles.
      const lag = (order * Math.PI) / 4;
      expect(low.re).toBeCloseTo(Math.SQRT1_2 * Math.cos(lag), 12);
      expect(low.im).toBeCloseTo(-Math.SQRT1_2 * Math.sin(lag), 12);
      const high = channelGain(
        {
          kind: "filters",
          highPassOrder: order,
          highPassHz: 50,
          lowPassOrder: 0,
          lowPassHz: 0,
          delayS: 0,
        },
        50,
      );
      expect(high.im).toBeCloseTo(Math.SQRT1_2 * Math.sin(lag), 12);
    }
  });

  it("[METH-067] a table is straight between its points and held outside, a delay turns", () => {
    const points = [
      { frequencyHz: 10, gain: 1, phaseLagRad: 0 },
      { frequencyHz: 20, gain: 0.5, phaseLagRad: 0.4 },
    ];
    const at = (hertz: number, delayS = 0) => channelGain({ kind: "table", points, delayS }, hertz);
    expect(at(5).re).toBe(1);
    expect(Math.hypot(at(15).re, at(15).im)).toBeCloseTo(0.75, 12);
    expect(-Math.atan2(at(15).im, at(15).re)).toBeCloseTo(0.2, 12);
    expect(Math.hypot(at(99).re, at(99).im)).toBeCloseTo(0.5, 12);
    const late = at(10, 0.01);
    expect(-Math.atan2(late.im, late.re)).toBeCloseTo(2 * Math.PI * 0.1, 12);
  });
});
