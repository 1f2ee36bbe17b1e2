// Edges taken in runs are edges taken one by one: what is remembered, counted and told is the same.
import { beforeAll, describe, expect, test } from "vitest";
import * as fc from "fast-check";
import { COUNTERS_BYTES } from "../../shared/layout.ts";
import { evenNumber } from "../kit/even-number.ts";
import { TEST_SEED } from "../kit/seed.ts";
import { ticksOf, wheelEdges } from "./kit/tach-edges.ts";
import { TachStage, tachCompile } from "./kit/tach-stage.ts";
import type { WheelEdge } from "./kit/tach-edges.ts";
import type { TachCall, TachSettings } from "./kit/tach-stage.ts";

let module: WebAssembly.Module;
beforeAll(async () => {
  module = await tachCompile();
});

/** Ticks of a pitch of a wheel at its first speed. */
const pitchTicks = (positions: number): number => 80e6 / (80 * positions);

const divisors = (n: number): number[] =>
  Array.from({ length: n }, (_, i) => i + 1).filter((d) => n % d === 0);

const isPlainEdge = (call: TachCall): boolean =>
  call.kind === "edge" && call.positions === 1 && !call.isBridged;

/** All counters of a stage. */
const counters = (stage: TachStage): number[] =>
  Array.from({ length: COUNTERS_BYTES / 4 }, (_, i) => stage.counter(4 * i));

/** Feeds both ways, block by block, and holds one against the other; how many came in runs. */
function held(
  settings: Partial<TachSettings> & { positions: number },
  spacing: number,
  blocks: readonly number[][],
): number {
  const one = new TachStage(module, settings);
  const many = new TachStage(module, settings);
  one.spacing = spacing;
  many.spacing = spacing;
  let inRuns = 0;
  for (const block of blocks) {
    one.feed(block);
    inRuns += many.feedBlock(block);
    expect(many.state).toEqual(one.state);
  }
  expect(counters(many)).toEqual(counters(one));
  // What the runs leave out is plain edges between knots, and no more.
  const told = one.calls.filter((call) => !isPlainEdge(call));
  expect(many.calls.filter((call) => !isPlainEdge(call))).toEqual(told);
  expect(one.calls.length - many.calls.length).toBe(inRuns);
  return inRuns;
}

/** Cuts ticks into blocks of at most 64 edges. */
function blocksOf(ticks: readonly number[], lengths: readonly number[]): number[][] {
  const blocks: number[][] = [];
  let at = 0;
  for (let i = 0; at < ticks.length; i += 1) {
    const length = lengths[i % lengths.length]!;
    blocks.push(ticks.slice(at, at + length));
    at += length;
  }
  return blocks;
}

const wheel = fc
  .record({
    positions: fc.constantFrom(4, 24, 36, 60, 120),
    index: fc.constantFrom(0, 1, 1, 2),
    lockRevolutions: fc.constant(1),
    tolerance: fc.constantFrom(Math.fround(0.02), 0.25, 0.25, Math.fround(0.449)),
    accelerationMax: fc.constantFrom(1, 30, 1e6),
    speedMin: fc.constantFrom(2, 2, 2, Math.fround(79.9)),
    speedMax: fc.constantFrom(Math.fround(80.1), 500, 500, 500),
    // Of a pitch at the first speed: an edge that is in its place may come after it.
    timeout: fc.constantFrom(1.02, 2.5, 1e4, 1e4),
  })
  .chain(({ timeout, ...given }) => {
    const timeoutTicks = Math.floor(timeout * pitchTicks(given.positions));
    const spacings = divisors(given.positions).filter((d) => d > 1);
    return fc.tuple(fc.constant({ ...given, timeoutTicks }), fc.constantFrom(...spacings));
  });

const fault = fc.record({
  /** Which edge, as a share of all. */
  at: evenNumber(0, 0.9999),
  kind: fc.constantFrom("gone", "moved", "nudged", "doubled", "in gap"),
  /** Pitches. */
  by: evenNumber(-0.3, 0.6),
});

/** A tooth that is broken off, in every turn from some turn on. */
const broken = fc.option(fc.tuple(fc.integer({ min: 0, max: 5 }), fc.constantFrom(0, 0, 1, 7)));

interface Fault {
  at: number;
  kind: string;
  by: number;
}

/** The ticks of a wheel with its faults, in order. */
function withFaults(
  edges: readonly WheelEdge[],
  positions: number,
  faults: readonly Fault[],
  tooth: readonly [turn: number, position: number] | null,
): number[] {
  const pitch = pitchTicks(positions);
  const isThere = ({ place }: WheelEdge): boolean =>
    tooth === null || place < tooth[0] * positions || place % positions !== tooth[1];
  const ticks = ticksOf(edges.filter(isThere));
  for (const { at, kind, by } of faults) {
    const i = Math.floor(at * ticks.length);
    const moved = Math.floor(ticks[i]! + by * pitch);
    if (kind === "gone") ticks.splice(i, 1);
    else if (kind === "moved") ticks[i] = moved;
    else if (kind === "nudged") ticks[i]! += Math.floor(0.2 * by * pitch);
    else if (kind === "doubled") ticks.push(moved);
    else {
      // A pitch after the last tooth of two turns: where a tooth is missing, something is.
      const places = [4, 5].map((turn) => (turn + 1) * positions - 2);
      const lasts = edges.filter(({ place }) => places.includes(place));
      ticks.push(...lasts.map(({ tick }) => Math.floor(tick + pitch)));
    }
    ticks.sort((a, b) => a - b);
  }
  return ticks.filter((tick) => tick >= 0);
}

const lengths = fc.array(
  fc.oneof(fc.integer({ min: 1, max: 4 }), fc.integer({ min: 1, max: 64 })),
  { minLength: 1, maxLength: 8 },
);

describe("runs of plain edges", () => {
  test("[TACH-040] a wheel with any faults is taken as by one edge after the other", () => {
    let inRuns = 0;
    let all = 0;
    fc.assert(
      fc.property(
        wheel,
        lengths,
        fc.oneof(fc.constant(0), evenNumber(-2, 2)),
        fc.array(fault, { maxLength: 6 }),
        broken,
        fc.integer({ min: 0, max: 2 ** 45 }),
        ([given, spacing], cuts, revPerS2, faults, tooth, startTick) => {
          const made = wheelEdges({ ...given, revPerS2, turns: 12, startTick });
          const ticks = withFaults(made, given.positions, faults, tooth);
          inRuns += held(given, spacing, blocksOf(ticks, cuts));
          all += ticks.length;
        },
      ),
      { seed: TEST_SEED, numRuns: 200 },
    );
    // Nothing would be shown where no run came about.
    expect(inRuns).toBeGreaterThan(all / 10);
  });

  test("[TACH-040] any intervals are taken as by one edge after the other", () => {
    fc.assert(
      fc.property(
        wheel,
        lengths,
        fc.array(
          fc.oneof(
            { weight: 20, arbitrary: fc.constant(1) },
            { weight: 2, arbitrary: fc.constantFrom(0, 0.5, 2, 3, 8, 9, 1e4) },
            { weight: 2, arbitrary: evenNumber(0.5, 1.5) },
          ),
          { maxLength: 800 },
        ),
        ([given, spacing], cuts, intervals) => {
          let tick = 2 ** 32 - 1e5;
          const ticks = intervals.map((interval) => (tick += Math.floor(interval * 16_667)));
          held(given, spacing, blocksOf(ticks, cuts));
        },
      ),
      { seed: TEST_SEED, numRuns: 300 },
    );
  });
});
