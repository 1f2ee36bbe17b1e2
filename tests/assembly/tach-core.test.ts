// Tachometer faults through the whole firmware, both builds: the level stays what it is, the counters
// and events tell, and the bytes do not depend on how the input is cut.
import { describe, expect, test } from "vitest";
import type { DecodedRecord } from "../../host/record-types.ts";
import {
  EVENT_INDEX_FOUND,
  EVENT_INDEX_LOST,
  EVENT_REFERENCE_FOUND,
  EVENT_REFERENCE_LOST,
  LOST_GAP,
  LOST_TIMEOUT,
} from "../../shared/units.ts";
import {
  FLAG_BRIDGED,
  FLAG_COMPUTED,
  FLAG_PHASE_RELATIVE,
  FLAG_SETTLED,
} from "../../shared/layout.ts";
import { filterProfile, monitorProfile, shaftProfile } from "../kit/scene-builder.ts";
import { BUILDS, edgeTicks, orders, phaseLagDeg, runCore, turning } from "./kit/core-run.ts";
import type { CoreAnswer, CoreRun, Wheel } from "./kit/core-run.ts";

const CLOCK_HZ = 80_000_000;
const P = 36;
const shaft = turning(80);
const signal = orders(shaft, [{ order: 1, amplitudePk: 3, phaseLagDeg: 40 }]);
const profile = (index: Wheel["index"]): CoreRun["profile"] =>
  monitorProfile({
    shafts: [shaftProfile({ positions: P, index: index ?? "none", lockRevolutions: 2 })],
    filters: [
      filterProfile({
        quantity: "acceleration",
        unit: "m/s²",
        levelFactor: 1,
        bandwidth: { kind: "fixed", fullWidthHz: 4 },
      }),
    ],
  });

const has = (one: { flags: number }, flag: number): boolean => (one.flags & flag) !== 0;

function fault(wheel: Wheel, change: (ticks: number[]) => number[], durationS = 4): CoreRun {
  const ticks = [...edgeTicks(shaft, wheel, durationS, CLOCK_HZ)];
  return {
    profile: profile(wheel.index),
    edges: [Float64Array.from(change(ticks).toSorted((a, b) => a - b))],
    signals: [signal],
    durationS,
  };
}
const settled = (answer: CoreAnswer): CoreAnswer["levels"] =>
  answer.levels.filter((one) => has(one, FLAG_COMPUTED) && has(one, FLAG_SETTLED));
const events = (answer: CoreAnswer): [number, number, number][] =>
  answer.records
    .filter((one): one is Extract<DecodedRecord, { kind: "event" }> => one.kind === "event")
    .filter((one) => one.code <= EVENT_INDEX_LOST)
    .map((one) => [one.code, one.tick, one.detail]);

const pitchTicks = CLOCK_HZ / 80 / P;
/** The tick of a place counted from position 0 of the first turn. */
const tickOf = (place: number): number => ((place / P - 0.123) / 80) * CLOCK_HZ;
const near = (tick: number, place: number): boolean =>
  Math.abs(tick - tickOf(place)) < 0.1 * pitchTicks;
const without =
  (...places: number[]) =>
  (ticks: number[]): number[] =>
    ticks.filter((tick) => !places.some((place) => near(tick, place)));
const withGlitch =
  (...places: number[]) =>
  (ticks: number[]): number[] => [...ticks, ...places.map((place) => Math.round(tickOf(place)))];

// The tone of 3 m/s² pk. Edge clock: 2·A·n/fclk = 2e-6·A; f32 sums and the poles: 2e-6·A. A bridged
// pitch at constant speed adds nothing. Measured 2.4e-7·A.
const LEVEL_TOLERANCE = 4e-6 * 3;
// A capture comes up to one tick late: 360·80/80e6 = 3.6e-4°; as much again for f32. Measured 1.7e-4°.
const PHASE_TOLERANCE_DEG = 7.2e-4;

const missing: Wheel = { positions: P, index: "missing-tooth" };
const extra: Wheel = { positions: P, index: "extra-edge" };
// Turn 100 begins at place 3600; its gap is 3599, its mark 3599.5.
const ROWS = [
  { name: "glitch", wheel: missing, change: withGlitch(3610.4), early: 1, missed: 0, doubts: 0 },
  {
    name: "three edges missed",
    wheel: missing,
    change: without(3610, 3611, 3612),
    early: 0,
    missed: 3,
    doubts: 0,
  },
  {
    name: "edge before the gap missed",
    wheel: missing,
    change: without(3598),
    early: 0,
    missed: 1,
    doubts: 0,
  },
  {
    name: "edge after the gap missed",
    wheel: missing,
    change: without(3600),
    early: 0,
    missed: 1,
    doubts: 0,
  },
  {
    name: "glitch inside the gap",
    wheel: missing,
    change: withGlitch(3599),
    early: 1,
    missed: 0,
    doubts: 1,
  },
  {
    name: "glitch half-way",
    wheel: extra,
    change: withGlitch(3610.5),
    early: 1,
    missed: 0,
    doubts: 0,
  },
  { name: "mark missed", wheel: extra, change: without(3599.5), early: 0, missed: 0, doubts: 1 },
  {
    name: "edge after the mark missed",
    wheel: extra,
    change: without(3600),
    early: 0,
    missed: 1,
    doubts: 0,
  },
];

describe.each(BUILDS)("whole firmware, %s", (build) => {
  test.each(ROWS)("[TACH-031] $name: the same level and phase, and a counter", async (row) => {
    const clean = await runCore({ ...fault(row.wheel, (ticks) => ticks), build });
    const answer = await runCore({ ...fault(row.wheel, row.change), build });

    const computed = settled(answer);
    expect(computed.length).toBe(settled(clean).length);
    expect(computed.length).toBeGreaterThan(20);
    for (const one of computed) {
      expect(Math.abs(one.level - 3)).toBeLessThan(LEVEL_TOLERANCE);
      expect(Math.abs(phaseLagDeg(one) - 40)).toBeLessThan(PHASE_TOLERANCE_DEG);
      expect(has(one, FLAG_PHASE_RELATIVE)).toBe(false);
    }
    expect(answer.levels.some((one) => has(one, FLAG_BRIDGED))).toBe(row.missed > 0);
    const { counters } = answer;
    expect(counters.edgesEarly[0]).toBe(row.early);
    expect(counters.edgesMissed[0]).toBe(row.missed);
    expect(counters.indexContradictions[0]).toBe(row.doubts);
    expect(counters.referenceLost[0]).toBe(0);
    expect(counters.revolutions).toEqual(clean.counters.revolutions);
    expect(events(answer)).toEqual(events(clean));
  });

  test("[TACH-032] the index elsewhere: the level stays, the phase turns with it", async () => {
    // From turn 100 the disc sits 5 positions on: teeth at every place until 3700, then the gap at
    // 35 + 5 of each turn.
    const all: Wheel = { positions: P, index: "none" };
    const change = (ticks: number[]): number[] =>
      ticks.filter((tick) => {
        const place = Math.round(((tick / CLOCK_HZ) * 80 + 0.123) * P);
        if (place < 3600) return place % P !== P - 1;
        return place < 3700 || place % P !== 4;
      });
    const run = { ...fault(all, change), profile: profile("missing-tooth"), build };
    const answer = await runCore(run);

    expect(events(answer).map(([code, , detail]) => [code, detail])).toEqual([
      [EVENT_REFERENCE_FOUND, 0],
      [EVENT_INDEX_LOST, 0],
      [EVENT_INDEX_FOUND, 5],
    ]);
    const computed = settled(answer);
    for (const one of computed) expect(Math.abs(one.level - 3)).toBeLessThan(LEVEL_TOLERANCE);
    const foundTick = events(answer)[2]?.[1] ?? 0;
    const after = computed.filter((one) => one.tick > foundTick + 0.1 * CLOCK_HZ);
    expect(after.length).toBeGreaterThan(10);
    // The peak comes 40° after the old index, and the new one comes 5/36 of a turn later: −10°.
    for (const one of after) {
      expect(Math.abs(phaseLagDeg(one) - 350)).toBeLessThan(PHASE_TOLERANCE_DEG);
      expect(has(one, FLAG_PHASE_RELATIVE)).toBe(false);
    }
    expect(computed.some((one) => has(one, FLAG_PHASE_RELATIVE))).toBe(true);
  });

  test.each([
    { dropS: 0.2, reason: LOST_GAP },
    { dropS: 0.8, reason: LOST_TIMEOUT },
  ])("[TACH-033] a drop-out of $dropS s ends at the first edge or the time-out", async (row) => {
    const change = (ticks: number[]): number[] =>
      ticks.filter((tick) => tick < 2 * CLOCK_HZ || tick >= (2 + row.dropS) * CLOCK_HZ);
    const run = fault(missing, change, 5);
    const answer = await runCore({ ...run, build });
    const edges = run.edges[0] ?? new Float64Array();
    const last = edges.filter((tick) => tick < 2 * CLOCK_HZ).at(-1) ?? 0;
    const next = edges.find((tick) => tick > last) ?? 0;
    const lost = events(answer).filter(([code]) => code === EVENT_REFERENCE_LOST);
    const tick = row.reason === LOST_GAP ? next : last + 0.35 * CLOCK_HZ;
    expect(lost).toEqual([[EVENT_REFERENCE_LOST, tick, row.reason]]);
    const atEnd = answer.levels.at(-1);
    expect(Math.abs((atEnd?.level ?? 0) - 3)).toBeLessThan(LEVEL_TOLERANCE);
    expect(atEnd !== undefined && has(atEnd, FLAG_SETTLED)).toBe(true);
  });

  test("[TACH-034] faults of every kind: any cut of the input gives the same bytes", async () => {
    const change = (ticks: number[]): number[] =>
      withGlitch(
        1000.4,
        2159,
        2195,
        2231,
      )(without(1500, 1799, 1800, 2600)(ticks)).filter(
        (tick) => tick < 1.5 * CLOCK_HZ || tick > 1.9 * CLOCK_HZ,
      );
    const run = { ...fault(missing, change), build };
    const whole = await runCore(run);
    expect(whole.counters.referenceLost[0]).toBe(1);
    for (const blockSamplesMax of [1, 7, 31]) {
      const cut = await runCore({ ...run, blockSamplesMax, batchSamples: 3001 });
      expect(Buffer.compare(cut.bytes, whole.bytes)).toBe(0);
      expect({ ...cut.counters, blocks: 0 }).toEqual({ ...whole.counters, blocks: 0 });
    }
  });
});
