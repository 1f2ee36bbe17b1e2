// The filter itself: bandwidth, step, channel response, relative bandwidth, geared shaft.
import { describe, expect, test } from "vitest";
import {
  CONFIG_FILTERS,
  FILTER_POLE,
  FLAG_BRIDGED,
  FLAG_COMPUTED,
  FLAG_INTEGRATION,
  FLAG_PHASE_RELATIVE,
  FLAG_SETTLED,
} from "../../shared/layout.ts";
import { CAUSE_RESPONSE, CAUSE_SETTLING, NO_COMPUTED_DATA } from "../../shared/units.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import type { Response } from "../../host/profile/types.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import { edgeTicks, lastOf, orders, phaseLagDeg, runCore, turning } from "./kit/core-run.ts";
import { plainFilter, profileOf } from "./kit/plain-profile.ts";

const WHEEL = { positions: 1 };
const TAU_TIMES_HALF_WIDTH = Math.sqrt(Math.SQRT2 - 1) / (2 * Math.PI);

interface Complex {
  re: number;
  im: number;
}
const times = (a: Complex, b: Complex): Complex => ({
  re: a.re * b.re - a.im * b.im,
  im: a.re * b.im + a.im * b.re,
});
const over = (a: Complex, b: Complex): Complex => {
  const power = b.re * b.re + b.im * b.im;
  return times(a, { re: b.re / power, im: -b.im / power });
};
const modulus = (a: Complex): number => Math.hypot(a.re, a.im);

/** Gain of the two poles at an offset frequency, once a revolution of duration T. */
function polesGain(offsetHz: number, T: number, h: number): number {
  const beta = Math.exp(-h);
  const late = {
    re: Math.cos(2 * Math.PI * offsetHz * T),
    im: -Math.sin(2 * Math.PI * offsetHz * T),
  };
  const denominator = { re: 1 - beta * late.re, im: -beta * late.im };
  const first = over({ re: 1 - beta, im: 0 }, denominator);
  const fed = times(late, first);
  const second = { re: 1 - beta - beta * h + beta * h * fed.re, im: beta * h * fed.im };
  return modulus(over(second, denominator));
}

const sinc2 = (x: number): number => (x === 0 ? 1 : (Math.sin(Math.PI * x) / (Math.PI * x)) ** 2);

async function levelsOf(
  signal: (t: number) => number,
  revPerS: number,
  durationS: number,
  profile = profileOf(WHEEL),
): Promise<LevelRecord[]> {
  const edges = [edgeTicks(turning(revPerS), profile.shafts[0]!, durationS, profile.clockHz)];
  return (await runCore({ profile, edges, signals: [signal], durationS })).levels;
}

const has = (one: LevelRecord, flag: number): boolean => (one.flags & flag) !== 0;

describe("bandwidth", () => {
  const widths = [
    { bandwidth: { kind: "fixed" as const, fullWidthHz: 0.1 }, fullWidthHz: 0.1 },
    { bandwidth: { kind: "fixed" as const, fullWidthHz: 0.5 }, fullWidthHz: 0.5 },
    { bandwidth: { kind: "fixed" as const, fullWidthHz: 8 }, fullWidthHz: 8 },
    { bandwidth: { kind: "proportional" as const, fullWidthRatio: 0.05 }, fullWidthHz: 4 },
  ];
  test.each(widths.flatMap((one) => [0.5, 1, 2].map((share) => ({ ...one, share }))))(
    "[TRACK-006] $bandwidth.kind $fullWidthHz Hz passes a tone $share half widths off as it should",
    async ({ bandwidth, fullWidthHz, share }) => {
      const revPerS = 80;
      const T = 1 / revPerS;
      const offsetHz = (share * fullWidthHz) / 2;
      const tone = (t: number): number => 10 * Math.cos(2 * Math.PI * (revPerS + offsetHz) * t);
      const profile = profileOf(WHEEL, { filters: [plainFilter({ bandwidth })] });
      const levels = await levelsOf(tone, revPerS, 14 / fullWidthHz + 4, profile);
      const settled = levels.filter((one) => has(one, FLAG_SETTLED)).slice(-10);
      const h = (T / TAU_TIMES_HALF_WIDTH) * (fullWidthHz / 2);
      const own = 10 * sinc2(offsetHz * T) * polesGain(offsetHz, T, h);
      // The other image lies two orders up, less the offset's nearness to a null.
      const image = 10 * sinc2(2 + offsetHz * T) * polesGain(offsetHz, T, h);
      // What is left of the start (1 % of it at 6.64 τ) has died down further by the last records.
      const start = 10 * 2e-4;
      expect(settled).toHaveLength(10);
      for (const one of settled) {
        expect(Math.abs(one.level - own)).toBeLessThanOrEqual(image + start);
      }
      // At one half width the level is 3 dB down, as practice quotes a bandwidth: 1 % for T ≪ τ.
      if (share === 1 && h < 0.05) expect(Math.abs(own / 10 - Math.SQRT1_2)).toBeLessThan(0.01);
    },
  );

  test("[TRACK-007] answers a step as two equal poles held over each revolution do", async () => {
    const revPerS = 80;
    const shaft = turning(revPerS, 0, 0);
    const lag = (40 * Math.PI) / 180;
    // The step, to the double, comes at an index after 4 s: revolution 320 is the first with it.
    const plain = orders(shaft, [{ order: 1, amplitudePk: 1, phaseLagDeg: 40 }]);
    const profile = profileOf(WHEEL);
    const edges = [edgeTicks(shaft, WHEEL, 6, profile.clockHz)];
    const signals = [(t: number) => plain(t) * (t >= 4 ? 2 : 1)];
    const { levels } = await runCore({ profile, edges, signals, durationS: 6 });
    const h = 1 / revPerS / (TAU_TIMES_HALF_WIDTH / 0.5);
    const beta = Math.exp(-h);
    const own = { re: Math.cos(lag), im: -Math.sin(lag) };
    // The triangle that closes at 321 has the step in its falling half: half of the vector, and of
    // its image ∫(1 − u)·e^(−j4πu) du = −j/(4π).
    const image = times(
      { re: Math.cos(lag), im: Math.sin(lag) },
      { re: 0, im: -1 / (4 * Math.PI) },
    );
    const half = { re: 1.5 * own.re + image.re, im: 1.5 * own.im + image.im };
    const vectorAt = (closing: number): Complex => {
      if (closing <= 320) return own;
      return closing === 321 ? half : { re: 2 * own.re, im: 2 * own.im };
    };
    let y1 = own;
    let y2 = own;
    const pole = (z: number, y: number, before: number): number =>
      z + beta * (y - z + h * (before - z));
    const expected = new Map<number, number>();
    for (let closing = 320; closing < 480; closing += 1) {
      const z = vectorAt(closing);
      y2 = { re: pole(z.re, y2.re, y1.re), im: pole(z.im, y2.im, y1.im) };
      y1 = { re: z.re + beta * (y1.re - z.re), im: z.im + beta * (y1.im - z.im) };
      expected.set(closing, modulus(y2));
    }
    let compared = 0;
    for (const one of levels) {
      const closing = Math.round(((one.tick - one.ageTicks) / 80e6) * revPerS);
      const level = expected.get(closing);
      if (level === undefined) continue;
      compared += 1;
      // A jump between samples is known to half a sample, 2·(1/160)/2 of one vector; a single vector
      // reaches the level by h/e at most.
      expect(Math.abs(one.level - level)).toBeLessThanOrEqual(h / Math.E / 160 + 2e-5);
    }
    expect(compared).toBeGreaterThan(15);
  });

  test("[TRACK-008] says settled 6.64 time constants after the first vector, not before", async () => {
    const tau = TAU_TIMES_HALF_WIDTH / 0.5;
    const levels = await levelsOf((t) => Math.cos(2 * Math.PI * 80 * t), 80, 3);
    const first = levels.find((one) => has(one, FLAG_COMPUTED))!;
    const settled = levels.find((one) => has(one, FLAG_SETTLED))!;
    // Each is seen at the display step after it, of 0.1 s, plus one revolution.
    const seconds = (settled.tick - first.tick) / 80e6;
    expect(Math.abs(seconds - 6.64 * tau)).toBeLessThanOrEqual(0.1 + 1 / 80);
    const before = levels.filter((one) => one.tick >= first.tick && one.tick < settled.tick);
    expect(before.every((one) => one.cause === CAUSE_SETTLING)).toBe(true);
  });
});

/** Response of a Butterworth low-pass by its poles, s relative to the corner. */
function butterworth(order: number, s: Complex): Complex {
  let value: Complex = { re: 1, im: 0 };
  for (let i = 0; i < order; i += 1) {
    const angle = (Math.PI * (2 * i + order + 1)) / (2 * order);
    value = over(value, { re: s.re - Math.cos(angle), im: s.im - Math.sin(angle) });
  }
  return value;
}

describe("channel response", () => {
  const revPerS = 60;
  const filtersOf = (high: number, low: number): Response => ({
    kind: "filters",
    highPassOrder: high,
    highPassHz: 50,
    lowPassOrder: low,
    lowPassHz: 80,
    delayS: 0.0007,
  });

  test.each([
    [0, 1],
    [1, 0],
    [2, 2],
    [3, 3],
    [4, 4],
  ])(
    "[TRACK-009] takes out a high-pass of order %d and a low-pass of order %d",
    async (high, low) => {
      const lowPass = butterworth(low, { re: 0, im: revPerS / 80 });
      const highPass = butterworth(high, { re: 0, im: -50 / revPerS });
      const H = times(lowPass, highPass);
      const lagDeg = (-Math.atan2(H.im, H.re) * 180) / Math.PI + 360 * revPerS * 0.0007;
      const shaft = turning(revPerS);
      const seen = [{ order: 1, amplitudePk: 10 * modulus(H), phaseLagDeg: 40 + lagDeg }];
      const profile = profileOf(WHEEL, {}, {}, { response: filtersOf(high, low) });
      const levels = await levelsOf(orders(shaft, seen), revPerS, 3, profile);
      const computed = levels.filter((one) => has(one, FLAG_COMPUTED));
      expect(computed.length).toBeGreaterThan(20);
      for (const one of computed) {
        expect(Math.abs(one.level - 10)).toBeLessThanOrEqual(2e-4);
        expect(Math.abs(phaseLagDeg(one) - 40)).toBeLessThanOrEqual(0.01);
      }
    },
  );

  test.each([
    [30, 0.8, 0.2],
    [40, 0.8, 0.2],
    [60, 0.9, 0.3],
    [80, 1, 0.4],
    [100, 1, 0.4],
  ])("[TRACK-010] takes out a table's gain and lag at %d rev/s", async (speed, gain, lagRad) => {
    const points = [
      { frequencyHz: 40, gain: 0.8, phaseLagRad: 0.2 },
      { frequencyHz: 80, gain: 1, phaseLagRad: 0.4 },
    ];
    const response: Response = { kind: "table", points, delayS: 0 };
    const lag = 40 + (lagRad * 180) / Math.PI;
    const shaft = turning(speed);
    const levels = await levelsOf(
      orders(shaft, [{ order: 1, amplitudePk: 10 * gain, phaseLagDeg: lag }]),
      speed,
      3,
      profileOf(WHEEL, {}, {}, { response }),
    );
    const computed = levels.filter((one) => has(one, FLAG_COMPUTED));
    expect(computed.length).toBeGreaterThan(20);
    for (const one of computed) {
      expect(Math.abs(one.level - 10)).toBeLessThanOrEqual(2e-4);
      expect(Math.abs(phaseLagDeg(one) - 40)).toBeLessThanOrEqual(0.01);
    }
  });

  test("[TRACK-011] computes nothing where the response is under a half, and settles anew after", async () => {
    // Gain 0.4 at 40 rev/s, 0.5 at 50, 0.9 at 90: the ramp crosses the half at t = 2 s.
    const points = [
      { frequencyHz: 40, gain: 0.4, phaseLagRad: 0 },
      { frequencyHz: 90, gain: 0.9, phaseLagRad: 0 },
    ];
    const profile = profileOf(WHEEL, {}, {}, { response: { kind: "table", points, delayS: 0 } });
    const shaft = turning(40, 5);
    const edges = [edgeTicks(shaft, WHEEL, 6, profile.clockHz)];
    const signals = [orders(shaft, [{ order: 1, amplitudePk: 1, phaseLagDeg: 0 }])];
    const { levels } = await runCore({ profile, edges, signals, durationS: 6 });
    const isLow = levels.filter((one) => one.cause === CAUSE_RESPONSE);
    expect(isLow.length).toBeGreaterThan(15);
    expect(isLow.every((one) => one.validity === NO_COMPUTED_DATA)).toBe(true);
    expect(isLow.every((one) => !has(one, FLAG_COMPUTED) && one.level === 0)).toBe(true);
    const after = levels.filter((one) => one.tick > lastOf(isLow).tick);
    expect(after[0]!.cause).toBe(CAUSE_SETTLING);
    expect(lastOf(after).cause).toBe(0);
    // The first vector that may be starts the filter: gain 0.5 or a little more divides it.
    expect(after[0]!.level).toBeGreaterThan(1.8);
  });
});

describe("what is told of a filter's past", () => {
  const TAU_S = TAU_TIMES_HALF_WIDTH / 0.5;

  test("[TRACK-018] a filter that had settled settles anew after a stretch of low response", async () => {
    const points = [
      { frequencyHz: 40, gain: 0.4, phaseLagRad: 0 },
      { frequencyHz: 90, gain: 0.9, phaseLagRad: 0 },
    ];
    const profile = profileOf(WHEEL, {}, {}, { response: { kind: "table", points, delayS: 0 } });
    // 60 rev/s for 4 s, down to 45 and up again: θ is put together of four pieces.
    const speedAt = (t: number): number =>
      t < 4 ? 60 : t < 7 ? 60 - 5 * (t - 4) : t < 10 ? 45 + 5 * (t - 7) : 60;
    const edges: number[] = [];
    let rev = 0;
    const STEP_S = 1e-5;
    for (let i = 0; i * STEP_S < 14; i += 1) {
      const next = rev + speedAt((i + 0.5) * STEP_S) * STEP_S;
      if (Math.floor(next) > Math.floor(rev)) {
        const share = (Math.ceil(rev) - rev) / (next - rev);
        edges.push(Math.floor((i + share) * STEP_S * profile.clockHz));
      }
      rev = next;
    }
    const { levels } = await runCore({
      profile,
      edges: [Float64Array.from(edges)],
      signals: [() => 0],
      durationS: 14,
    });
    const isLow = levels.filter((one) => one.cause === CAUSE_RESPONSE);
    expect(isLow.length).toBeGreaterThan(15);
    const before = levels.filter((one) => one.tick < isLow[0]!.tick);
    expect(has(lastOf(before), FLAG_SETTLED)).toBe(true);
    const after = levels.filter((one) => one.tick > lastOf(isLow).tick);
    const settled = after.find((one) => has(one, FLAG_SETTLED))!;
    const waitedS = (settled.tick - lastOf(isLow).tick) / profile.clockHz;
    // 6.64 τ from its first vector, which came within the display period after the last low one.
    expect(waitedS).toBeGreaterThan(6.64 * TAU_S);
    expect(waitedS).toBeLessThan(6.64 * TAU_S + 0.1 + 0.1 + 2 / 50);
  });

  test("[TRACK-019] a second bridge is told as long as a first one", async () => {
    const revPerS = 80;
    const missedS = [3, 3.7];
    const places = missedS.map((t) => Math.round((0.123 + revPerS * t) * 6));
    const wheel = { positions: 6, isMissed: (place: number) => places.includes(place) };
    const profile = profileOf(wheel);
    const edges = [edgeTicks(turning(revPerS), wheel, 7, profile.clockHz)];
    const { levels } = await runCore({ profile, edges, signals: [() => 0], durationS: 7 });
    const told = levels.filter((one) => has(one, FLAG_BRIDGED));
    const lastS = lastOf(told).tick / profile.clockHz;
    // Two vectors after the bridge, 6.64 τ, and the display step before.
    expect(lastS).toBeGreaterThan(missedS[1]! + 6.64 * TAU_S - 0.1);
    expect(lastS).toBeLessThan(missedS[1]! + 6.64 * TAU_S + 4 / revPerS);
    expect(told.length).toBe(Math.round((lastS - told[0]!.tick / profile.clockHz) / 0.1) + 1);
  });
});

describe("settled after a bridge", () => {
  test("[TRACK-019] is said by the cycle in which 6.64 time constants are full", async () => {
    // Half of the f32 nearest to 6.64 is exact, and so is twice that: two cycles fill it.
    const perCycle = Math.fround(6.64) / 2;
    const fullWidthRatio = perCycle / Math.PI / (1 / Math.sqrt(Math.SQRT2 - 1));
    const wheel = { positions: 6, isMissed: (place: number) => place === 200 };
    const revPerS = 20;
    const profile = profileOf(wheel, {
      displayPeriodS: 1 / revPerS,
      filters: [plainFilter({ bandwidth: { kind: "proportional", fullWidthRatio } })],
    });
    const bytes = new DataView(configurationBytes(profile).buffer);
    const poleAt = CONFIG_FILTERS + FILTER_POLE;
    expect(bytes.getFloat32(poleAt, true)).toBe(perCycle);
    const edges = [edgeTicks(turning(revPerS), wheel, 4, profile.clockHz)];
    const { levels } = await runCore({ profile, edges, signals: [() => 0], durationS: 4 });
    // A bridge reaches two vectors; of the two that follow the second fills the time.
    expect(levels.filter((one) => has(one, FLAG_BRIDGED)).length).toBe(2 + 1);
  });
});

describe("integration distance", () => {
  test("[TRACK-012] is flagged where the speed changes much within a revolution, and else not", async () => {
    const velocity = profileOf(WHEEL, { filters: [plainFilter({ quantity: "velocity" })] });
    const flagged = async (revPerS: number, slope: number, durationS: number): Promise<boolean> => {
      const shaft = turning(revPerS, slope);
      const edges = [edgeTicks(shaft, WHEEL, durationS, velocity.clockHz)];
      const signals = [orders(shaft, [{ order: 1, amplitudePk: 1, phaseLagDeg: 0 }])];
      const { levels } = await runCore({ profile: velocity, edges, signals, durationS });
      return levels.some((one) => has(one, FLAG_INTEGRATION));
    };
    // (ω̇/ω² + |Ȧ/A|/ω)² = (2·slope/(2πn²))² with A as 1/n, at the 10 rev/s where each run ends:
    // 1e-5 at 1 rev/s² and 6e-3 at 25, on either side of 5e-4.
    expect(await flagged(12.5, -1, 2.5)).toBe(false);
    expect(await flagged(40, -25, 1.2)).toBe(true);
  });
});

describe("geared tachometer", () => {
  test("[TRACK-013] tracks orders of the shaft over the wheel's cycle, with relative phase", async () => {
    const wheel = { positions: 31, revolutions: 2 };
    const shaft = turning(45);
    const profile = profileOf(wheel, { filters: [plainFilter({ order: 3 })] });
    const edges = [edgeTicks(shaft, wheel, 4, profile.clockHz)];
    const signals = [
      orders(shaft, [
        { order: 3, amplitudePk: 2, phaseLagDeg: 40 },
        { order: 1, amplitudePk: 20, phaseLagDeg: 0 },
      ]),
    ];
    const { levels } = await runCore({ profile, edges, signals, durationS: 4 });
    const computed = levels.filter((one) => has(one, FLAG_COMPUTED));
    expect(computed.length).toBeGreaterThan(20);
    for (const one of computed) {
      // The edge clock: 2·(3·2 + 20)·45/80e6 of 2, and f32.
      expect(Math.abs(one.level - 2)).toBeLessThanOrEqual(1e-4);
      expect(Math.abs(one.speedRevPerS / 45 - 1)).toBeLessThanOrEqual(5e-5);
      expect(has(one, FLAG_PHASE_RELATIVE)).toBe(true);
    }
  });
});
