// Few positions and a wide tolerance: what a glitch or a steep slow-down may and may not do.
import { beforeAll, describe, expect, test } from "vitest";
import { COUNTER_REFERENCE_LOST } from "../../shared/layout.ts";
import { INDEX_EXTRA_EDGE, INDEX_MISSING_TOOTH, INDEX_NONE } from "../../shared/units.ts";
import { ticksOf, wheelEdges, withGlitch, without } from "./kit/tach-edges.ts";
import { TachStage, tachCompile } from "./kit/tach-stage.ts";

let module: WebAssembly.Module;
beforeAll(async () => {
  module = await tachCompile();
});

/** Cycles after a glitch by which the speed is right or the reference lost; found and right after. */
const WRONG_CYCLES_MAX = 6;
const FOUND_CYCLES_MAX = 16;

interface Glitch {
  positions: number;
  index: number;
  tolerance: number;
  accelerationMax: number;
  revPerS: number;
  place: number;
}

/** The last times, in cycles after the glitch, at which the speed was wrong and there was none. */
function afterGlitch(g: Glitch): { wrongCycles: number; lostCycles: number } {
  const turns = 36;
  const edges = withGlitch(wheelEdges({ ...g, turns }), g.place);
  const stage = new TachStage(module, { ...g, speedMin: 1, timeoutTicks: 160e6 });
  let [wrongCycles, lostCycles] = [0, 0];
  for (const { place, tick } of edges) {
    stage.feed([tick]);
    const cycles = (place - g.place) / g.positions;
    if (cycles <= 0) continue;
    if (!stage.isLocked) lostCycles = cycles;
    else if (Math.abs(stage.speed / g.revPerS - 1) > 0.005) wrongCycles = cycles;
  }
  return { wrongCycles, lostCycles };
}

describe("a glitch", () => {
  test.each([
    { positions: 1, index: INDEX_NONE },
    { positions: 2, index: INDEX_NONE },
    { positions: 3, index: INDEX_NONE },
    { positions: 4, index: INDEX_NONE },
    { positions: 4, index: INDEX_MISSING_TOOTH },
    { positions: 4, index: INDEX_EXTRA_EDGE },
    { positions: 6, index: INDEX_NONE },
    { positions: 6, index: INDEX_MISSING_TOOTH },
    { positions: 6, index: INDEX_EXTRA_EDGE },
  ])("[TACH-038] never leaves a wrong speed standing: %o", (wheel) => {
    for (const [tolerance, accelerationMax] of [
      [0.25, 30],
      [0.4, 30],
      [0.4, 200],
    ] as const) {
      for (const revPerS of [3, 5, 8, 12, 20, 40]) {
        // At each tenth of a pitch, of the first pitch and of the one before the index.
        for (let tenth = 1; tenth < 20; tenth += 1) {
          const pitch = tenth < 10 ? 0 : wheel.positions - 1;
          const place = 8 * wheel.positions + pitch + (tenth % 10) / 10 + 0.003;
          const glitch = { ...wheel, tolerance, accelerationMax, revPerS, place };
          const told = JSON.stringify(glitch);
          const { wrongCycles, lostCycles } = afterGlitch(glitch);
          expect(wrongCycles, told).toBeLessThanOrEqual(WRONG_CYCLES_MAX);
          expect(lostCycles, told).toBeLessThanOrEqual(FOUND_CYCLES_MAX);
        }
      }
    }
  });

  test("[TACH-038] of 20 rev/s once a revolution, three quarters on: lost, then right", () => {
    // 0.25 + 30/20² of a pitch: the glitch passes for the edge, at 4/3 of the speed.
    const edges = withGlitch(wheelEdges({ positions: 1, revPerS: 20, turns: 40 }), 10.75);
    const stage = new TachStage(module, { positions: 1 }).feed(ticksOf(edges));
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(1);
    expect(stage.isLocked).toBe(true);
    expect(stage.speed).toBeCloseTo(20, 3);
  });

  test("[TACH-038] missed edges alone raise no doubt, even every second one", () => {
    const gone = Array.from({ length: 20 }, (_, i) => 21 + 2 * i);
    const edges = without(wheelEdges({ positions: 2, revPerS: 20, turns: 40 }), ...gone);
    const stage = new TachStage(module, { positions: 2 }).feed(ticksOf(edges));
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(0);
    expect(stage.speed).toBeCloseTo(20, 3);
  });
});

/** Edges of `from` rev/s for 6 s, then of a steady slow-down to `to` rev/s, then 15 s of that. */
function slowDownTicks(positions: number, from: number, to: number, rate: number): number[] {
  const begins = from * 6;
  const ends = begins + (from * from - to * to) / (2 * rate);
  const timeAt = (angle: number): number => {
    if (angle <= begins) return angle / from;
    if (angle >= ends) return 6 + (from - to) / rate + (angle - ends) / to;
    const root = Math.sqrt(from * from - 2 * rate * (angle - begins));
    return 6 + (2 * (angle - begins)) / (from + root);
  };
  const ticks: number[] = [];
  for (let k = 0; timeAt((k + 0.3) / positions) < 21 + (from - to) / rate; k += 1) {
    ticks.push(1000 + Math.floor(timeAt((k + 0.3) / positions) * 1e6));
  }
  return ticks;
}

describe("a slow-down that ends", () => {
  test.each([1, 2, 4])("[TACH-039] keeps reference and speed with %i positions", (positions) => {
    for (const rate of [2, 3, 6, 16, 30]) {
      for (const from of [4, 5, 10, 15]) {
        for (const to of [1.6, 2, 3, 5]) {
          // As steep as one pitch can show: A < N² at the end, in pitches.
          if (to >= from || rate >= positions * to * to) continue;
          const settings = { positions, clockHz: 1e6, accelerationMax: 1.05 * rate, speedMin: 1 };
          const stage = new TachStage(module, { ...settings, timeoutTicks: 2.5e6 });
          stage.feed(slowDownTicks(positions, from, to, rate));
          const told = JSON.stringify({ positions, from, to, rate });
          expect(stage.counter(COUNTER_REFERENCE_LOST), told).toBe(0);
          expect(
            stage.edges.every((edge) => edge.positions === 1),
            told,
          ).toBe(true);
          expect(stage.speed / to, told).toBeCloseTo(1, 4);
        }
      }
    }
  });
});
