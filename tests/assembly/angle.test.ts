import { describe, expect, test } from "vitest";
import { FLAG_BRIDGED, FLAG_COMPUTED, FLAG_SETTLED } from "../../shared/layout.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import {
  type Wheel,
  angleRev,
  edgeTicks,
  lastOf,
  orders,
  phaseLagDeg,
  runCore,
  turning,
  withCompanions,
} from "./kit/core-run.ts";
import { plainFilter, profileOf } from "./kit/plain-profile.ts";

const has = (one: LevelRecord, flag: number): boolean => (one.flags & flag) !== 0;
const CLOCK_HZ = 80e6;

/** Of m − 1 bridged edges at an acceleration: 2πk·a·(m·T/P)²/8 of each component (signal-path.md). */
function bridgedRatio(m: number, positions: number, revPerS: number, slope: number): number {
  const angle = (slope * (m / (positions * revPerS)) ** 2) / 8;
  return 2 * Math.PI * angle * (1 + 2 * 10 + 3 * 10);
}

/** Edge clock and f32, as in tracker.test.ts. */
function clockRatio(revPerS: number): number {
  return (2 * (1 + 2 * 10 + 3 * 10) * revPerS) / CLOCK_HZ + 1e-5;
}

const MISSED: { name: string; wheel: Wheel; slope: number; m: number }[] = [
  { name: "one edge of 60", wheel: { positions: 60, isMissed: (p) => p === 3017 }, slope: 0, m: 2 },
  {
    name: "a knot",
    wheel: { positions: 60, isMissed: (p) => p === 3015 },
    slope: 10,
    m: 2,
  },
  {
    name: "the knot at a cycle's end",
    wheel: { positions: 60, isMissed: (p) => p === 3000 },
    slope: 10,
    m: 2,
  },
  {
    name: "six in a row over a cycle's end",
    wheel: { positions: 60, isMissed: (p) => p >= 2998 && p < 3004 },
    slope: 0,
    m: 7,
  },
  {
    name: "one edge beside the gap of a missing tooth",
    wheel: { positions: 36, index: "missing-tooth", isMissed: (p) => p === 36 * 50 },
    slope: 0,
    m: 3,
  },
  {
    name: "one pulse of one a revolution",
    wheel: { positions: 1, isMissed: (p) => p === 50 },
    slope: 0,
    m: 2,
  },
  {
    name: "two pulses of one a revolution",
    wheel: { positions: 1, isMissed: (p) => p === 50 || p === 51 },
    slope: 0,
    m: 3,
  },
  {
    name: "one pulse of one a revolution in a ramp",
    wheel: { positions: 1, isMissed: (p) => p === 50 },
    slope: 4,
    m: 2,
  },
];

describe("missed edges", () => {
  test.each(MISSED)("[ANGLE-002] $name: the level stands, and says bridged", async (row) => {
    const { wheel, slope, m } = row;
    const shaft = turning(60, slope, 0.3);
    const profile = profileOf(wheel);
    const run = (fitted: Wheel) =>
      runCore({
        profile,
        edges: [edgeTicks(shaft, fitted, 4, CLOCK_HZ)],
        signals: [orders(shaft, withCompanions(10))],
        durationS: 4,
      });
    const { levels, counters } = await run(wheel);
    const whole = await run({ ...wheel, isMissed: () => false });
    const computed = levels.filter((one) => has(one, FLAG_COMPUTED));
    const limit = clockRatio(80) + bridgedRatio(m, wheel.positions, 60, slope);
    expect(Math.max(...computed.map((one) => Math.abs(one.level - 1)))).toBeLessThanOrEqual(limit);
    // Not one cycle is lost or found, and none of the others moves.
    expect(counters.revolutions[0]).toBe(whole.counters.revolutions[0]);
    expect(levels.map((one) => one.revolution)).toEqual(whole.levels.map((one) => one.revolution));
    const bridged = computed.filter((one) => has(one, FLAG_BRIDGED));
    // 6.64 τ of 0.2049 s after the triangle: 1.36 s, seen on steps of 0.1 s.
    expect(bridged.length).toBeGreaterThanOrEqual(13);
    expect(bridged.length).toBeLessThanOrEqual(15);
    expect(whole.levels.some((one) => has(one, FLAG_BRIDGED))).toBe(false);
  });

  test("[ANGLE-009] of many missed pulses, every vector that a bridged cycle reaches says so", async () => {
    // A filter without memory to speak of: h of 30 Hz full width is over 6.64 in a revolution.
    const missed = [31, 32, 33, 34];
    const wheel: Wheel = { positions: 1, isMissed: (p) => missed.includes(p) };
    const profile = profileOf(
      wheel,
      {
        displayPeriodS: 0.01,
        filters: [plainFilter({ bandwidth: { kind: "fixed", fullWidthHz: 30 } })],
      },
      { speedMinRevPerS: 8, timeoutS: 0.35, accelerationMaxRevPerS2: 50 },
    );
    const { levels, counters } = await runCore({
      profile,
      edges: [edgeTicks(turning(20, 0, 0), wheel, 3, CLOCK_HZ)],
      signals: [orders(turning(20, 0, 0), withCompanions(10))],
      durationS: 3,
    });
    expect(counters.edgesMissed[0]).toBe(missed.length);
    // All five cycles end with the edge that closes the interval: a step sees the last of them, and
    // the next, whose triangle reaches back into it.
    const cycles = new Set(
      levels.filter((one) => has(one, FLAG_BRIDGED)).map((one) => one.revolution),
    );
    expect(cycles.size).toBe(2);
  });

  test.each([
    { name: "that ends within a cycle", from: 1210, to: 1510, durationS: 6 },
    // 2^32 ticks of 80 MHz are 53.7 s.
    { name: "of more ticks than 32 bits count", from: 1210, to: 34_810, durationS: 62 },
  ])("[ANGLE-003] after one $name the next whole cycle is tracked", async (row) => {
    const { from, to, durationS } = row;
    const wheel: Wheel = { positions: 60, isMissed: (p) => p % 5 === 0 && p > from && p < to };
    const shaft = turning(10, 0, 0);
    const { levels, counters } = await runCore({
      profile: profileOf(wheel),
      edges: [edgeTicks(shaft, wheel, durationS, CLOCK_HZ)],
      signals: [orders(shaft, withCompanions(10))],
      durationS,
    });
    expect(counters.samplesLate[0]).toBe(1);
    expect(counters.referenceLost[0]).toBe(0);
    const lost = levels.filter((one) => one.tick > (from / 600) * CLOCK_HZ);
    const again = lost.findIndex(
      (one) => has(one, FLAG_COMPUTED) && one.tick > (to / 600) * CLOCK_HZ,
    );
    // The interval ends at `to`; the cycle then begins at the next multiple of 60, and the first
    // vector needs that cycle and the one after it.
    const firstVectorS = (60 * Math.ceil(to / 60) + 2 * 60) / 600;
    expect(lost[again]!.tick / CLOCK_HZ).toBeGreaterThanOrEqual(firstVectorS - 0.05);
    expect(lost[again]!.tick / CLOCK_HZ).toBeLessThanOrEqual(firstVectorS + 0.2);
    for (const one of lost.slice(again)) {
      expect(Math.abs(one.level - 1)).toBeLessThanOrEqual(clockRatio(10));
      expect(has(one, FLAG_COMPUTED)).toBe(true);
    }
  });

  test("[ANGLE-003] an interval longer than the pool ends the cycle, counted, and tracking comes back", async () => {
    // Every knot (each fifth edge) missed for 0.5 s: accepted edges go on, knots do not.
    const wheel: Wheel = { positions: 60, isMissed: (p) => p % 5 === 0 && p > 1200 && p < 1500 };
    // The first edge is place 0, so the lock, three turns on, counts positions as places.
    const shaft = turning(10, 0, 0);
    const { levels, counters } = await runCore({
      profile: profileOf(wheel),
      edges: [edgeTicks(shaft, wheel, 6, CLOCK_HZ)],
      signals: [orders(shaft, withCompanions(10))],
      durationS: 6,
    });
    expect(counters.samplesLate[0]).toBe(1);
    expect(counters.referenceLost[0]).toBe(0);
    const computed = levels.filter((one) => has(one, FLAG_COMPUTED));
    expect(computed.length).toBeLessThan(levels.length);
    expect(has(lastOf(levels), FLAG_COMPUTED)).toBe(true);
    for (const one of computed) expect(Math.abs(one.level - 1)).toBeLessThanOrEqual(clockRatio(10));
  });
});

describe("cycles", () => {
  test.each([1, 6, 60])(
    "[ANGLE-004] a vector counts once its end and two samples after lie before the step, %d positions",
    async (positions) => {
      const shaft = turning(23.7, 1.5, 0.6);
      const profile = profileOf({ positions });
      const { levels } = await runCore({
        profile,
        edges: [edgeTicks(shaft, { positions }, 5, CLOCK_HZ)],
        signals: [orders(shaft, withCompanions(1))],
        durationS: 5,
      });
      const computed = levels.filter((one) => has(one, FLAG_COMPUTED));
      expect(computed.length).toBeGreaterThan(30);
      const first = computed[0]!;
      const ticksPerSample = CLOCK_HZ / profile.sampleRateHz;
      const turnsAt = (one: LevelRecord): number =>
        angleRev(shaft, (one.tick - one.ageTicks) / CLOCK_HZ);
      for (const one of computed) {
        const closing = one.tick - one.ageTicks;
        const turned = turnsAt(one) * positions;
        // A capture is up to one tick early.
        expect(Math.abs(turned - Math.round(turned))).toBeLessThanOrEqual(1e-4);
        expect(Math.floor(closing / ticksPerSample) + 2).toBeLessThanOrEqual(
          one.tick / ticksPerSample,
        );
        // Whole cycles after the first, none left out: the newest is less than one and two samples old.
        expect(one.revolution - first.revolution).toBe(Math.round(turnsAt(one) - turnsAt(first)));
        const newest = angleRev(shaft, one.tick / CLOCK_HZ - 3 / profile.sampleRateHz);
        expect(newest - turnsAt(one)).toBeLessThan(1);
      }
    },
  );

  test("[ANGLE-005] a drop-out ends what was computed, and the filter starts anew after it", async () => {
    const shaft = turning(40);
    const all = edgeTicks(shaft, { positions: 1 }, 8, CLOCK_HZ);
    const edges = all.filter((tick) => tick < 3 * CLOCK_HZ || tick > 4 * CLOCK_HZ);
    const { levels, counters } = await runCore({
      profile: profileOf({ positions: 1 }, {}, { timeoutS: 0.35 }),
      edges: [edges],
      signals: [orders(shaft, withCompanions(10))],
      durationS: 8,
    });
    expect(counters.referenceLost[0]).toBe(1);
    const at = (t: number): LevelRecord =>
      levels.find((one) => one.tick >= Math.round(t * 10) * 8e6)!;
    expect(has(at(3.2), FLAG_COMPUTED)).toBe(true);
    expect(has(at(3.4), FLAG_COMPUTED)).toBe(false);
    expect(has(at(4), FLAG_COMPUTED)).toBe(false);
    const again = levels.find((one) => one.tick > 4 * CLOCK_HZ && has(one, FLAG_COMPUTED))!;
    expect(has(again, FLAG_SETTLED)).toBe(false);
    expect(again.revolution).toBeLessThan(10);
    expect(Math.abs(again.level - 1)).toBeLessThanOrEqual(clockRatio(40));
    expect(has(lastOf(levels), FLAG_SETTLED)).toBe(true);
  });
});

describe("index", () => {
  test.each(["missing-tooth", "extra-edge"] as const)(
    "[ANGLE-006] phase stands against the index, %s",
    async (index) => {
      const wheel: Wheel = { positions: 52, index };
      const shaft = turning(60, 0, 0.37);
      const { levels } = await runCore({
        profile: profileOf(wheel),
        edges: [edgeTicks(shaft, wheel, 3, CLOCK_HZ)],
        signals: [orders(shaft, withCompanions(10))],
        durationS: 3,
      });
      const computed = levels.filter((one) => has(one, FLAG_COMPUTED));
      expect(computed.length).toBeGreaterThan(20);
      for (const one of computed) {
        expect(Math.abs(phaseLagDeg(one) - 40)).toBeLessThanOrEqual(0.02);
      }
    },
  );
});
