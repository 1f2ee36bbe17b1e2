import { describe, expect, test } from "vitest";
import * as L from "../../shared/layout.ts";
import * as U from "../../shared/units.ts";
import { openStage, STAGE_BUILDS, type Field, writeFields } from "./kit/stage.ts";

const PERIOD = 800; // samples
const ALL = (1 << U.HEALTH_CHECKS) - 1;
const UNKNOWN = -1;

/** Limits that a good signal keeps. */
const LIMITS: Field[] = [
  [L.CHANNEL_KIND, "u32", U.KIND_CHARGE],
  [L.CHANNEL_RANGE, "f32", 100],
  [L.CHANNEL_HEALTH_MASK, "u32", ALL],
  [L.CHANNEL_BIAS_LOW, "f32", 8],
  [L.CHANNEL_BIAS_HIGH, "f32", 12],
  [L.CHANNEL_CLIP_SAMPLES, "u32", 3],
  [L.CHANNEL_FLAT_PKPK, "f32", 0.5],
  [L.CHANNEL_NOISE_RMS, "f32", 0.05],
  [L.CHANNEL_BURST_RMS, "f32", 1],
  [L.CHANNEL_PHYSICAL_PK, "f32", 50],
  [L.CHANNEL_BROADBAND_RATIO, "f32", 1.1],
  [L.CHANNEL_HEALTH_STEPS, "u32", 1],
];
/** ±3 in turn every other sample, about `mean`: rms 3, differences 6 and 0 in turn, slices flat. */
const square =
  (mean: number) =>
  (i: number): number =>
    mean + (i % 4 < 2 ? 3 : -3);
const SQUARE_NOISE = Math.sqrt((0.5 * 36) / 2);

describe.each(STAGE_BUILDS)("transducer health, %s build", async (build) => {
  const stage = await openStage(build);
  const { run, view, floats } = stage;
  let index = 0;
  const configure = (kind: number, fields: Field[] = []): void => {
    const kindField: Field = [L.CHANNEL_KIND, "u32", kind];
    writeFields(view, run.addressChannel(), [...LIMITS, kindField, ...fields]);
    run.stageReset();
    index = 0;
  };
  /** Feeds samples up to the next display step; the first period has sample 0 before it. */
  const feed = (signal: (i: number) => number, cuts: number[] = []): void => {
    const count = index === 0 ? PERIOD + 1 : PERIOD;
    const base = run.addressSamples() >> 2;
    for (let i = 0; i < count; i++) floats[base + i] = signal(index + i);
    let from = 0;
    for (const cut of [...cuts, count]) {
      run.stageHealthTake(PERIOD, from, cut - from);
      from = cut;
    }
    index += count;
  };
  const judge = (isTurning = 1, tracked = UNKNOWN, isJudged = 1, share = 0): number =>
    run.stageHealthJudge(PERIOD, isTurning, tracked, share, isJudged);
  const found = (signal: (i: number) => number, isTurning = 1, tracked = UNKNOWN): number[] => {
    feed(signal);
    const bits = judge(isTurning, tracked) & 0xffff;
    return Array.from({ length: U.HEALTH_CHECKS }, (_, i) => i).filter((i) => (bits >> i) & 1);
  };

  test("[HEALTH-001] each check names the kinds that it serves", () => {
    const clip = (1 << U.HEALTH_CLIP) | (1 << U.HEALTH_FLAT);
    const all = clip | (1 << U.HEALTH_PHYSICAL) | (1 << U.HEALTH_BROADBAND);
    expect(run.healthServes(U.KIND_COIL)).toBe(all);
    expect(run.healthServes(U.KIND_POWERED)).toBe(
      all | (1 << U.HEALTH_BIAS) | (1 << U.HEALTH_BURST),
    );
    expect(run.healthServes(U.KIND_CHARGE)).toBe(
      all | (1 << U.HEALTH_NOISE_FLOOR) | (1 << U.HEALTH_BURST),
    );
  });

  test("[HEALTH-002] a good signal fails no check, of any kind", () => {
    for (const [kind, mean] of [
      [U.KIND_CHARGE, 0],
      [U.KIND_POWERED, 10],
      [U.KIND_COIL, 0],
    ] as const) {
      configure(kind);
      expect(found(square(mean), 1, 2)).toEqual([]);
      expect(found(square(mean), 1, 2)).toEqual([]);
    }
  });

  test.each([
    [7.99, [U.HEALTH_BIAS]],
    [8, []],
    [12, []],
    [12.01, [U.HEALTH_BIAS]],
  ])("[HEALTH-003] a powered transducer's bias of %d against 8 to 12", (mean, expected) => {
    configure(U.KIND_POWERED);
    expect(found(square(mean))).toEqual(expected);
    configure(U.KIND_COIL);
    expect(found(square(mean))).toEqual([]);
  });

  test("[HEALTH-004] so many clipped samples in a period are a fault, one fewer are none", () => {
    const clipped =
      (count: number) =>
      (i: number): number =>
        i >= 1 && i <= count ? 100 : 0.1 * i;
    configure(U.KIND_COIL, [[L.CHANNEL_PHYSICAL_PK, "f32", 1000]]);
    expect(found(clipped(2))).toEqual([]);
    configure(U.KIND_COIL, [[L.CHANNEL_PHYSICAL_PK, "f32", 1000]]);
    expect(found(clipped(3))).toEqual([U.HEALTH_CLIP]);
  });

  test("[HEALTH-005] intake answers how many samples were clipped, either sign, the first too", () => {
    configure(U.KIND_COIL);
    const base = run.addressSamples() >> 2;
    floats.set([-100, 99.9, 100, -250, 0], base);
    expect(run.stageHealthTake(PERIOD, 0, 5)).toBe(3);
  });

  test("[HEALTH-006] a flat line is a fault only while the shaft turns", () => {
    const flat = (i: number): number => 10 + (i % 2) * 0.49;
    configure(U.KIND_POWERED);
    expect(found(flat, 0)).toEqual([]);
    expect(found(flat, 1)).toEqual([U.HEALTH_FLAT]);
    expect(run.stageHealthFaults()).toBe(1 << U.HEALTH_FLAT);
    // The shaft stops: there is no new evidence, the verdict stands.
    expect(found(flat, 0)).toEqual([]);
    expect(run.stageHealthFaults()).toBe(1 << U.HEALTH_FLAT);
    expect(found((i) => 10 + (i % 2) * 0.51, 1)).toEqual([]);
    expect(run.stageHealthFaults()).toBe(0);
  });

  test("[HEALTH-007] an open charge lead is too quiet at high frequency, whatever hums below", () => {
    configure(U.KIND_CHARGE);
    // 50 cycles a period: large, smooth, differences of rms 2·sin(π/16)·rms.
    const smooth =
      (amplitude: number) =>
      (i: number): number =>
        amplitude * Math.sin((2 * Math.PI * i) / 16);
    const noise = (2 * Math.sin(Math.PI / 16) * (1 / Math.SQRT2)) / Math.SQRT2;
    configure(U.KIND_CHARGE, [[L.CHANNEL_NOISE_RMS, "f32", noise * 1.001]]);
    expect(found(smooth(1))).toEqual([U.HEALTH_NOISE_FLOOR]);
    configure(U.KIND_CHARGE, [[L.CHANNEL_NOISE_RMS, "f32", noise * 0.999]]);
    expect(found(smooth(1))).toEqual([]);
    configure(U.KIND_POWERED, [[L.CHANNEL_NOISE_RMS, "f32", 100]]);
    expect(found(square(10))).toEqual([]);
  });

  test("[HEALTH-008] a loose connector's slow bursts move the slices' means", () => {
    // One slice of eight raised by b: rms about the mean b·√(1/8 − 1/64) = b·√7/8.
    const burst =
      (b: number) =>
      (i: number): number =>
        square(0)(i) + ((i - 1) % PERIOD < PERIOD / 8 ? b : 0);
    configure(U.KIND_CHARGE);
    expect(found(burst((0.999 * 8) / Math.sqrt(7)))).toEqual([]);
    configure(U.KIND_CHARGE);
    expect(found(burst((1.001 * 8) / Math.sqrt(7)))).toEqual([U.HEALTH_BURST]);
    configure(U.KIND_COIL);
    expect(found(burst(10))).toEqual([]);
  });

  test("[HEALTH-009] a peak beyond the physical is judged about the mean, either sign", () => {
    const spike =
      (value: number) =>
      (i: number): number =>
        i === 9 ? value : square(10)(i);
    configure(U.KIND_POWERED);
    expect(found(spike(59.9))).toEqual([]);
    configure(U.KIND_POWERED);
    expect(found(spike(60.2))).toEqual([U.HEALTH_PHYSICAL]);
    configure(U.KIND_POWERED);
    expect(found(spike(-40.2))).toEqual([U.HEALTH_PHYSICAL]);
  });

  test("[HEALTH-010] the tracked rms may not exceed its share of the broadband rms", () => {
    configure(U.KIND_COIL);
    for (let i = 0; i < 3; i++) expect(found(square(50), 1, 3 * 1.0999)).toEqual([]);
    expect(found(square(50), 1, 3 * 1.1001)).toEqual([]);
    expect(found(square(50), 1, 3 * 1.1001)).toEqual([U.HEALTH_BROADBAND]);
    expect(found(square(50), 1, UNKNOWN)).toEqual([]);
    // No settled level: no evidence, the verdict stands.
    expect(run.stageHealthFaults()).toBe(1 << U.HEALTH_BROADBAND);
  });

  test("[HEALTH-021] a level that rises within the period is no fault, one that stays above is", () => {
    configure(U.KIND_COIL);
    // Each period is a third louder than the one before; the level is that of its end.
    const louder =
      (n: number) =>
      (i: number): number =>
        3 * (4 / 3) ** n * (i % 4 < 2 ? 1 : -1);
    for (let n = 0; n < 8; n++) {
      expect(found(louder(n), 1, 3 * (4 / 3) ** (n + 0.5)), `period ${n}`).toEqual([]);
    }
    expect(found(louder(0), 1, 3 * (4 / 3) ** 8)).toEqual([U.HEALTH_BROADBAND]);
  });

  test("[HEALTH-019] a level that falls with its poles after the vibration has gone is no fault", () => {
    configure(U.KIND_COIL, [[L.CHANNEL_FLAT_PKPK, "f32", 0]]);
    const share = 0.25;
    const loud = square(0);
    for (let i = 0; i < 60; i++) {
      feed(loud);
      judge(1, 3, 1, share);
    }
    // The tracked rms of two poles n periods after the end: 3·(1 + nh)·e^(−nh); first 5 % above it.
    const after = (n: number): number => 3 * (1 + n * share) * Math.exp(-n * share);
    const bits = (n: number, factor: number): number => {
      feed((i) => loud(i) / 1000);
      return judge(1, factor * after(n), 1, share) & 0xffff;
    };
    for (let n = 0; n < 20; n++) expect(bits(n, 1.05), `period ${n}`).toBe(0);
    // A level that does not fall is one: more than its share of what the poles remember.
    expect(bits(20, 1.15)).toBe(1 << U.HEALTH_BROADBAND);
  });

  test("[HEALTH-011] a mask leaves checks out", () => {
    configure(U.KIND_COIL, [[L.CHANNEL_HEALTH_MASK, "u32", ALL & ~(1 << U.HEALTH_PHYSICAL)]]);
    expect(found((i) => (i === 9 ? 90 : square(0)(i)))).toEqual([]);
  });

  test("[HEALTH-012] a fault counts, and ends, after so many periods in a row", () => {
    configure(U.KIND_COIL, [[L.CHANNEL_HEALTH_STEPS, "u32", 3]]);
    const faulty = (isFaulty: number): number[] => {
      feed(isFaulty ? (i) => (i % PERIOD === 9 ? 90 : square(0)(i)) : square(0));
      const bits = judge();
      return [(bits >> U.HEALTH_PHYSICAL) & 1, (bits >> (16 + U.HEALTH_PHYSICAL)) & 1];
    };
    const sequence = [1, 1, 0, 1, 1, 1, 0, 0, 1, 0, 0, 0, 1, 0];
    const changes = sequence.map((one) => faulty(one)[1]);
    expect(changes).toEqual([0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 1, 0, 0]);
    expect(run.stageHealthFaults()).toBe(0);
  });

  test("[HEALTH-013] a period that is passed over changes no verdict and no count", () => {
    configure(U.KIND_COIL, [[L.CHANNEL_HEALTH_STEPS, "u32", 2]]);
    const spike = (i: number): number => (i % PERIOD === 9 ? 90 : square(0)(i));
    feed(spike);
    judge();
    feed(square(0));
    expect(judge(1, UNKNOWN, 0)).toBe(0);
    feed(spike);
    expect(judge() >> (16 + U.HEALTH_PHYSICAL)).toBe(1);
  });

  test("[HEALTH-014] a period is the samples after the last step up to this one", () => {
    configure(U.KIND_COIL);
    // Sample 0 belongs to no period: a spike there is not seen, nor in the broadband.
    expect(found((i) => (i === 0 ? 90 : square(0)(i)))).toEqual([]);
    // The last sample of a period counts in it, the first of the next in the next.
    expect(found((i) => (i === 2 * PERIOD ? 90 : square(0)(i)))).toEqual([U.HEALTH_PHYSICAL]);
    expect(found((i) => (i === 2 * PERIOD + 1 ? 90 : square(0)(i)))).toEqual([U.HEALTH_PHYSICAL]);
    expect(found(square(0))).toEqual([]);
  });

  test("[HEALTH-015] figures: rms about the mean, noise floor, bursts, under a large bias", () => {
    configure(U.KIND_POWERED);
    for (let period = 0; period < 3; period++) {
      feed(square(1000));
      // f32 sums of 800 terms about a reference within one amplitude of the mean: measured 1e-6.
      expect(run.stageBroadbandRms()).toBeCloseTo(3, 4);
      expect(run.stageNoiseFloorRms()).toBeCloseTo(SQUARE_NOISE, 4);
      expect(run.stageBurstRms(PERIOD)).toBeLessThan(1e-4);
      judge();
    }
  });

  test("[HEALTH-016] any split of a period gives the same bits", () => {
    const signal = (i: number): number => 5 * Math.sin(i * 0.37) + 3 * Math.sin(i * 0.011) + 10;
    const whole: number[] = [];
    for (const cuts of [[], [1], [99, 100, 101, 102, 777], [400, 800]]) {
      configure(U.KIND_POWERED);
      feed(signal, cuts);
      judge();
      feed(
        signal,
        cuts.filter((cut) => cut < PERIOD),
      );
      const figures = [
        run.stageBroadbandRms(),
        run.stageNoiseFloorRms(),
        run.stageBurstRms(PERIOD),
      ];
      if (whole.length === 0) whole.push(...figures);
      expect(figures).toEqual(whole);
    }
  });

  test("[HEALTH-017] sums that overflow speak of a fault, and the next period is judged afresh", () => {
    configure(U.KIND_POWERED, [[L.CHANNEL_RANGE, "f32", 3e38]]);
    expect(found((i) => (i % 2 === 0 ? 2e38 : -2e38))).toEqual([
      U.HEALTH_BIAS,
      U.HEALTH_BURST,
      U.HEALTH_PHYSICAL,
    ]);
    expect(found(square(10))).toEqual([]);
  });

  test("[HEALTH-018] a period beyond f32 leaves the memory of the broadband rms as it was", () => {
    const wide: Field[] = [
      [L.CHANNEL_RANGE, "f32", 3e38],
      [L.CHANNEL_HEALTH_MASK, "u32", 1 << U.HEALTH_BROADBAND],
    ];
    configure(U.KIND_COIL, wide);
    expect(found(square(0), 1, 3)).toEqual([]);
    // Its squares overflow, its sum does not.
    expect(found((i) => (i % 2 === 0 ? 1e20 : -1e20), 1, 5)).toEqual([]);
    expect(run.stageBroadbandRms()).toBe(0); // the next period has begun
    // 5 against 1.1 × the 3 of the memory; against an endless one it would pass.
    expect(found((i) => (i % 4 < 2 ? 0.1 : -0.1), 1, 5)).toEqual([U.HEALTH_BROADBAND]);
  });

  test("[HEALTH-022] without a difference of two samples there is no noise floor", () => {
    configure(U.KIND_CHARGE);
    expect(run.stageNoiseFloorRms()).toBe(0);
  });

  test("[HEALTH-023] slices that are not of one size have their own means", () => {
    // Slices of 20 samples: 2, 3, 2, 3, … of them. All samples behind the first are 6 off it.
    const base = run.addressSamples() >> 2;
    floats.fill(6, base, base + 21);
    floats[base] = 0;
    configure(U.KIND_CHARGE);
    run.stageHealthTake(20, 0, 21);
    expect(run.stageBurstRms(20)).toBe(0);
  });

  test("[HEALTH-024] bursts at their limit are none, beyond it they are", () => {
    // Slices of 100 at +1 and −1 in turn: rms of their means 1, exact in f32.
    const slices = (i: number): number => (Math.floor(Math.max(0, i - 1) / 100) % 2 === 0 ? 1 : -1);
    const checks: Field[] = [[L.CHANNEL_HEALTH_MASK, "u32", 1 << U.HEALTH_BURST]];
    configure(U.KIND_CHARGE, [...checks, [L.CHANNEL_BURST_RMS, "f32", 1]]);
    expect(found(slices)).toEqual([]);
    configure(U.KIND_CHARGE, [...checks, [L.CHANNEL_BURST_RMS, "f32", 1 - 2 ** -24]]);
    expect(found(slices)).toEqual([U.HEALTH_BURST]);
  });
});
