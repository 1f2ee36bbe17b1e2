import { describe, expect, test } from "vitest";
import { FLAG_COMPUTED, FLAG_SETTLED } from "../../shared/layout.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import {
  type Turning,
  type Wheel,
  angleRev,
  edgeTicks,
  orders,
  phaseLagDeg,
  runCore,
  turning,
  withCompanions,
} from "./kit/core-run.ts";
import { plainFilter, profileOf } from "./kit/plain-profile.ts";

// f32: sums of up to 1,280 terms as large as the company of 21, folded in eight lanes and segments
// of at most 64. Measured at P = 1, where the edge clock does not show: 4e-6 of the tracked amplitude.
const F32_RATIO = 1e-5;

async function track(
  shaft: Turning,
  wheel: Wheel,
  signal: (t: number) => number,
  durationS: number,
  profile = profileOf(wheel),
): Promise<LevelRecord[]> {
  const edges = [edgeTicks(shaft, wheel, durationS, profile.clockHz)];
  const { levels } = await runCore({ profile, edges, signals: [signal], durationS });
  const computed = levels.filter((one) => (one.flags & FLAG_COMPUTED) !== 0);
  expect(computed.length).toBeGreaterThan(5);
  return computed;
}

function worstOf(records: LevelRecord[], error: (one: LevelRecord) => number): number {
  return Math.max(...records.map((one) => Math.abs(error(one))));
}

const DWELLS = [10, 23.7, 80, 200, 400].flatMap((revPerS) =>
  [
    { positions: 1 },
    { positions: 6 },
    { positions: 36, index: "missing-tooth" as const },
    { positions: 60 },
    { positions: 120 },
  ].map((wheel) => ({ revPerS, wheel, name: `${revPerS} rev/s, ${wheel.positions} positions` })),
);

describe("dwell with companions at orders 2 and 3 ten times as large", () => {
  test.each(DWELLS)("[TRACK-001] $name", async ({ revPerS, wheel }) => {
    // The edge clock: 2·Σ j·A_j·n/fclk, j the order of component j, of the tracked amplitude.
    const clockHz = revPerS > 200 ? 102_400_000 : 51_200_000;
    const clockRatio = (2 * (1 * 1 + 2 * 10 + 3 * 10) * revPerS) / clockHz;
    const shaft = turning(revPerS);
    const profile = profileOf(wheel, { clockHz });
    const signal = orders(shaft, withCompanions(10));
    const records = await track(shaft, wheel, signal, 4, profile);
    const limit = Math.min(2e-4, clockRatio) + F32_RATIO;
    expect(worstOf(records, (one) => one.level - 1)).toBeLessThanOrEqual(limit);
    expect(worstOf(records, (one) => one.speedRevPerS / revPerS - 1)).toBeLessThanOrEqual(5e-5);
    if (wheel.positions === 1 || wheel.index !== undefined) {
      expect(worstOf(records, (one) => phaseLagDeg(one) - 40)).toBeLessThanOrEqual(0.1);
    }
  });
});

const RAMPS = [
  { from: 10, slope: 10, seconds: 4 },
  { from: 80, slope: 10, seconds: 4 },
  { from: 300, slope: 10, seconds: 8 },
  { from: 250, slope: -10, seconds: 6 },
].flatMap((ramp) => [1, 6, 60, 120].map((positions) => ({ ...ramp, positions, limit: 5e-4 })));
const FAST_RAMPS = [1, 60].map((positions) => ({
  from: 20,
  slope: 25,
  seconds: 4,
  positions,
  limit: 1e-3,
}));

describe("ramp, companions growing with the square of speed from ten times", () => {
  test.each([...RAMPS, ...FAST_RAMPS])(
    "[TRACK-002] from $from at $slope rev/s², $positions positions",
    async ({ from, slope, seconds, positions, limit }) => {
      const shaft = turning(from, slope);
      const wheel = { positions };
      const profile = profileOf(wheel, { clockHz: 102_400_000 });
      const records = await track(
        shaft,
        wheel,
        orders(shaft, withCompanions(10, true)),
        seconds,
        profile,
      );
      // A component of constant amplitude over angle: every triangle over it is A·e^(−jφ) exactly.
      expect(worstOf(records, (one) => one.level - 1)).toBeLessThanOrEqual(limit);
    },
  );
});

describe("second rotor", () => {
  // 0.02 % is asked of a rotor as large as the tracked one, within 0.03 of a whole ratio, at 1 Hz
  // and 80 rev/s. Its own remainder sinc⁴·poles is 4e-5 (signal-path.md section 2), so it fits.
  test.each([1.97, 2.02, 2.03, 2.97, 3.02, 3.03])(
    "[TRACK-003] as large as the first at ratio %d is kept out",
    async (ratio) => {
      const fan = turning(80);
      const core = turning(80 * ratio, 0, 0.4);
      const own = orders(fan, [{ order: 1, amplitudePk: 1, phaseLagDeg: 40 }]);
      const other = orders(core, [{ order: 1, amplitudePk: 1, phaseLagDeg: 10 }]);
      const records = await track(fan, { positions: 1 }, (t) => own(t) + other(t), 8);
      const settled = records.filter((one) => (one.flags & FLAG_SETTLED) !== 0);
      expect(settled.length).toBeGreaterThan(30);
      expect(worstOf(settled, (one) => one.level - 1)).toBeLessThanOrEqual(2e-4);
    },
  );
});

describe("quantity", () => {
  // One cosine in each quantity, worked out by hand: a = A·cos(ωt − φ) has the velocity
  // (A/ω)·cos(ωt − φ − 90°) and the displacement (A/ω²)·cos(ωt − φ − 180°).
  test.each([
    { quantity: "acceleration" as const, turnDeg: 0, divisions: 0 },
    { quantity: "velocity" as const, turnDeg: 90, divisions: 1 },
    { quantity: "displacement" as const, turnDeg: 180, divisions: 2 },
  ])("[TRACK-004] reads $quantity from acceleration", async ({ quantity, turnDeg, divisions }) => {
    const shaft = turning(50);
    const wheel = { positions: 1 };
    const profile = profileOf(wheel, { filters: [plainFilter({ quantity })] });
    const records = await track(
      shaft,
      wheel,
      orders(shaft, [{ order: 1, amplitudePk: 10, phaseLagDeg: 40 }]),
      3,
      profile,
    );
    const expected = 10 / (2 * Math.PI * 50) ** divisions;
    expect(worstOf(records, (one) => one.level / expected - 1)).toBeLessThanOrEqual(2 * F32_RATIO);
    expect(worstOf(records, (one) => phaseLagDeg(one) - 40 - turnDeg)).toBeLessThanOrEqual(0.01);
  });

  test("[TRACK-005] divides each vector before the poles, at the middle of its triangle", async () => {
    const shaft = turning(10, 10, 0);
    const records = await track(
      shaft,
      { positions: 1 },
      orders(shaft, [{ order: 1, amplitudePk: 10, phaseLagDeg: 0 }]),
      5,
      profileOf({ positions: 1 }, { filters: [plainFilter({ quantity: "velocity" })] }),
    );
    // The recursion in f64 over the true index times; the shaft stands at 0 rev at t = 0.
    const timeOf = (rev: number): number => (2 * rev) / (10 + Math.sqrt(100 + 20 * rev));
    const tau = Math.sqrt(Math.SQRT2 - 1) / (2 * Math.PI * 0.5);
    const levels = new Map<number, number>();
    const closings = records.map((one) => Math.round((one.tick - one.ageTicks) / 80e6 / 1e-9));
    let y1 = Number.NaN;
    let y2 = Number.NaN;
    const last = Math.floor(angleRev(shaft, 5));
    // Locked after three revolutions from the first edge: cycles from 3 on, first vector at 5.
    for (let rev = 5; rev <= last; rev += 1) {
      const a = timeOf(rev - 1) - timeOf(rev - 2);
      const b = timeOf(rev) - timeOf(rev - 1);
      const z = 10 / (2 * Math.PI * ((b / a + a / b) / (a + b)));
      const h = b / tau;
      if (Number.isNaN(y1)) {
        y1 = z;
        y2 = z;
      }
      y2 = z + Math.exp(-h) * (y2 - z + h * (y1 - z));
      y1 = z + Math.exp(-h) * (y1 - z);
      levels.set(Math.floor(timeOf(rev) / 1e-9 / 1000), y2);
    }
    let compared = 0;
    for (const [i, record] of records.entries()) {
      const expected = levels.get(Math.floor(closings[i]! / 1000));
      if (expected === undefined) continue;
      compared += 1;
      expect(Math.abs(record.level / expected - 1)).toBeLessThanOrEqual(1e-4);
    }
    expect(compared).toBeGreaterThan(records.length * 0.9);
  });
});
