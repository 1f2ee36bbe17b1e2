// Laws of the tachometer: whatever the edges, it never traps, and what it tells is consistent.
import { beforeAll, describe, expect, test } from "vitest";
import * as fc from "fast-check";
import {
  COUNTER_EDGES,
  COUNTER_EDGES_EARLY,
  COUNTER_EDGES_IRREGULAR,
  COUNTER_REFERENCE_LOST,
} from "../../shared/layout.ts";
import { BRIDGE_POSITIONS_MAX } from "../../shared/capacity.ts";
import { EVENT_REFERENCE_FOUND, EVENT_REFERENCE_LOST } from "../../shared/units.ts";
import { evenNumber } from "../kit/even-number.ts";
import { TEST_SEED } from "../kit/seed.ts";
import { ticksOf, wheelEdges } from "./kit/tach-edges.ts";
import { TachStage, tachCompile } from "./kit/tach-stage.ts";
import type { TachSettings } from "./kit/tach-stage.ts";

let module: WebAssembly.Module;
beforeAll(async () => {
  module = await tachCompile();
});

/** Any settings that the configuration's check lets through. */
const settings: fc.Arbitrary<Partial<TachSettings>> = fc
  .record({
    clockHz: fc.constantFrom(1e6, 80e6, 400e6),
    positions: fc.oneof(fc.integer({ min: 1, max: 255 }), fc.integer({ min: 4, max: 6 })),
    index: fc.integer({ min: 0, max: 2 }),
    revolutions: fc.constantFrom(1, 1, 1, 32),
    speedMin: fc.constantFrom(Math.fround(0.001), 2, 20),
    speedMax: fc.constantFrom(500, 1e6),
    accelerationMax: fc.constantFrom(Math.fround(0.001), 30, 1e6),
    timeoutTicks: fc.constantFrom(1, 1000, 4e6, 0xffffffff),
    lockRevolutions: fc.integer({ min: 1, max: 4 }),
    tolerance: fc.constantFrom(Math.fround(0.001), 0.25, Math.fround(0.449)),
  })
  .map((s) => ({ ...s, index: s.positions < 4 ? 0 : s.index }));

/** Intervals of a wheel in pitches, disturbed in every way there is. */
const disturbed: fc.Arbitrary<number[]> = fc.array(
  fc.oneof(
    { weight: 12, arbitrary: fc.constant(1) },
    { weight: 2, arbitrary: fc.constantFrom(0.5, 2, 3, 8, 9) },
    { weight: 2, arbitrary: evenNumber(0, 3) },
    { weight: 1, arbitrary: fc.constantFrom(0, 1e-4, 1e3, 1e5) },
  ),
  { maxLength: 600 },
);

function ticksFrom(intervals: number[], pitchTicks: number): number[] {
  let tick = 1000;
  return intervals.map((interval) => (tick += Math.floor(interval * pitchTicks)));
}

describe("laws", () => {
  test("[TACH-027] no sequence of 64-bit ticks traps, in any order", () => {
    fc.assert(
      fc.property(
        settings,
        fc.array(
          fc.tuple(
            fc.oneof(fc.constantFrom(0, 1, 0xffffffff), fc.integer({ min: 0, max: 3 })),
            fc.oneof(fc.constantFrom(0, 1, 0xffffffff), fc.integer({ min: 0, max: 0xffffffff })),
            fc.boolean(),
          ),
          { maxLength: 200 },
        ),
        (given, ticks) => {
          const stage = new TachStage(module, given);
          for (const [high, low, isStep] of ticks) {
            if (isStep) stage.expire(high * 2 ** 20 + low);
            else stage.feedWide(high, low);
          }
          expect(Number.isFinite(stage.speed)).toBe(true);
        },
      ),
      { seed: TEST_SEED, numRuns: 300 },
    );
  });

  test("[TACH-027] whatever the edges, what is told and counted is consistent", () => {
    fc.assert(
      fc.property(
        settings,
        disturbed,
        fc.constantFrom(3, 1000, 16_667),
        (given, intervals, pitch) => {
          const ticks = ticksFrom(intervals, pitch);
          const stage = new TachStage(module, given).feed(ticks);
          const fed = new Set(ticks);
          let isLocked = false;
          let last = -1;
          for (const call of stage.calls) {
            if (call.kind === "start") {
              expect(isLocked).toBe(false);
              expect(fed.has(call.tick)).toBe(true);
              isLocked = true;
              last = call.tick;
            } else if (call.kind === "edge") {
              expect(isLocked).toBe(true);
              expect(fed.has(call.tick)).toBe(true);
              expect(call.tick).toBeGreaterThan(last);
              expect(call.positions).toBeGreaterThanOrEqual(1);
              expect(call.positions).toBeLessThanOrEqual(BRIDGE_POSITIONS_MAX);
              last = call.tick;
            } else if (call.kind === "lost") {
              expect(isLocked).toBe(true);
              isLocked = false;
            }
          }
          expect(stage.isLocked).toBe(isLocked);
          const count = (code: number): number =>
            stage.events.filter((e) => e.code === code).length;
          expect(count(EVENT_REFERENCE_FOUND)).toBe(stage.starts.length);
          expect(count(EVENT_REFERENCE_LOST)).toBe(stage.counter(COUNTER_REFERENCE_LOST));
          // Each edge is in one counter at most, and searching counts none.
          const counted =
            stage.counter(COUNTER_EDGES) +
            stage.counter(COUNTER_EDGES_EARLY) +
            stage.counter(COUNTER_EDGES_IRREGULAR);
          expect(counted).toBeLessThanOrEqual(ticks.length);
          expect(counted).toBeGreaterThanOrEqual(stage.starts.length + stage.edges.length);
          if (isLocked) expect(stage.speed).toBeGreaterThan(0);
          else expect(stage.speed).toBe(0);
        },
      ),
      { seed: TEST_SEED, numRuns: 300 },
    );
  });

  test("[TACH-028] later by any time, the same calls later by that time", () => {
    fc.assert(
      fc.property(
        settings,
        disturbed,
        fc.integer({ min: 0, max: 2 ** 50 }),
        (given, intervals, shift) => {
          const ticks = ticksFrom(intervals, 16_667);
          const here = new TachStage(module, given).feed(ticks);
          const there = new TachStage(module, given).feed(ticks.map((tick) => tick + shift));
          const back = there.calls.map((call) =>
            "tick" in call ? { ...call, tick: call.tick - shift } : call,
          );
          expect(back).toEqual(here.calls);
        },
      ),
      { seed: TEST_SEED, numRuns: 150 },
    );
  });

  test("[TACH-030] a step between two edges changes nothing but when a time-out is told", () => {
    fc.assert(
      fc.property(
        settings,
        disturbed,
        fc.integer({ min: 1, max: 7 }),
        (given, intervals, every) => {
          const ticks = ticksFrom(intervals, 16_667);
          const plain = new TachStage(module, given).feed(ticks);
          const stage = new TachStage(module, given);
          ticks.forEach((tick, i) => {
            stage.feed([tick]);
            const next = ticks[i + 1];
            if (i % every === 0 && next !== undefined) stage.expire(Math.floor((tick + next) / 2));
          });
          expect(stage.calls).toEqual(plain.calls);
        },
      ),
      { seed: TEST_SEED, numRuns: 150 },
    );
  });

  test("[TACH-027] after any disturbance a clean wheel locks again", () => {
    fc.assert(
      fc.property(disturbed, fc.integer({ min: 0, max: 2 }), (intervals, index) => {
        const wheel = { positions: 36, index };
        const ticks = ticksFrom(intervals, 16_667);
        const start = (ticks.at(-1) ?? 0) + 50_000;
        const stage = new TachStage(module, wheel).feed(ticks);
        stage.feed(ticksOf(wheelEdges({ ...wheel, turns: 30, startTick: start })));
        expect(stage.isLocked).toBe(true);
        expect(stage.speed).toBeCloseTo(80, 2);
        if (index !== 0) expect(stage.isPhaseRelative).toBe(false);
      }),
      { seed: TEST_SEED, numRuns: 150 },
    );
  });
});
