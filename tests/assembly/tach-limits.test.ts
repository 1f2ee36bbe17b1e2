// The tachometer at the very limits of its settings, and on the second shaft.
import { beforeAll, describe, expect, test } from "vitest";
import * as L from "../../shared/layout.ts";
import { INDEX_EXTRA_EDGE, INDEX_NONE } from "../../shared/units.ts";
import { ticksOf, wheelEdges, withGlitch, without } from "./kit/tach-edges.ts";
import { TachStage, tachCompile } from "./kit/tach-stage.ts";

let module: WebAssembly.Module;
beforeAll(async () => {
  module = await tachCompile();
});

// A pitch of 2¹⁵ ticks and a tolerance of 1/8 are exact in binary, and so are parts of them; with no
// acceleration allowed the tolerance is the setting and nothing is added.
const PITCH = 2 ** 15;
const TICK = 1 / PITCH;
const EXACT = {
  positions: 60,
  index: INDEX_NONE,
  tolerance: 0.125,
  accelerationMax: 0,
  lockRevolutions: 1,
};
const ticksAt = (places: readonly number[]): number[] => places.map((one) => 1000 + one * PITCH);
const upTo = (count: number): number[] => Array.from({ length: count }, (_, i) => i);

describe("limits that belong to an edge's place", () => {
  test.each([
    ["early, after a missed one", [91 - 0.125], true],
    ["a tick earlier", [91 - 0.125 - TICK], false],
    ["late, after a missed one", [91 + 0.125], true],
    ["a tick later", [91 + 0.125 + TICK], false],
    ["late by twice the tolerance, after a twin", [89.1, 90 + 0.25], true],
    ["a tick later than that", [89.1, 90 + 0.25 + TICK], false],
    ["late by twice the tolerance, without a twin", [90 + 0.25], false],
  ])("[TACH-043] %s", (_name, places, isTaken) => {
    const before = new TachStage(module, EXACT).feed(ticksAt(upTo(90)));
    expect(before.isLocked).toBe(true);
    const stage = new TachStage(module, EXACT).feed(ticksAt([...upTo(90), ...places]));
    expect(stage.edges.length - before.edges.length).toBe(isTaken ? 1 : 0);
    expect(stage.counter(L.COUNTER_EDGES_IRREGULAR)).toBe(isTaken ? 0 : 1);
  });

  test("[TACH-043] an extra edge where an edge may stand is none, while the index is searched", () => {
    const wheel = { positions: 36, index: INDEX_EXTRA_EDGE, tolerance: 0.4 };
    const edges = wheelEdges({ ...wheel, turns: 20 });
    const at = (part: number): number[] =>
      ticksOf(edges.map((one) => (one.place % 1 === 0 ? one : { ...one, part }))).map((tick, i) =>
        edges[i]!.place % 1 === 0 ? tick : tick + Math.round((part - 0.5) * (80e6 / 80 / 36)),
      );
    expect(new TachStage(module, wheel).feed(at(0.5)).hasBeenLocked).toBe(true);
    expect(new TachStage(module, wheel).feed(at(0.7)).hasBeenLocked).toBe(false);
  });
});

describe("acceleration", () => {
  test("[TACH-044] of none is within a limit of none: a steady shaft keeps its reference", () => {
    // Two seconds and a half: several windows of a quarter of a second close.
    const stage = new TachStage(module, EXACT).feed(ticksAt(upTo(6000)));
    expect(stage.isLocked).toBe(true);
    expect(stage.counter(L.COUNTER_REFERENCE_LOST)).toBe(0);
  });

  test("[TACH-044] is measured over four cycles at least, however slow the shaft", () => {
    // 3 rev/s, cycle by cycle 8 % slow and fast: a cycle alone is longer than the least window.
    const wheel = { positions: 2, accelerationMax: 1 };
    const ticks: number[] = [];
    let tick = 1000;
    for (let cycle = 0; cycle < 60; cycle += 1) {
      const half = (80e6 / 3 / 2) * (cycle % 2 === 0 ? 0.92 : 1.08);
      for (let k = 0; k < 2; k += 1) {
        ticks.push(Math.round(tick));
        tick += half;
      }
    }
    const stage = new TachStage(module, wheel).feed(ticks);
    expect(stage.isLocked).toBe(true);
    expect(stage.counter(L.COUNTER_REFERENCE_LOST)).toBe(0);
    expect(stage.edges.length).toBeGreaterThan(100);
  });
});

describe("the second shaft", () => {
  test("[TACH-045] has counters of its own, equal to the first one's for equal edges", () => {
    const counters = [
      L.COUNTER_EDGES,
      L.COUNTER_EDGES_EARLY,
      L.COUNTER_EDGES_MISSED,
      L.COUNTER_EDGES_IRREGULAR,
      L.COUNTER_REFERENCE_LOST,
    ];
    const clean = wheelEdges({ positions: 60, turns: 20 });
    const ticks = ticksOf(without(withGlitch(withGlitch(clean, 300.2), 401.5), 401, 402, 500));
    // A gap that no bridge spans, and edges after it.
    ticks.push(...ticks.slice(-200).map((one) => one + 20e6));
    const all = [0, 1].map((shaft) => {
      const stage = new TachStage(module, {}, shaft).feed(ticks);
      return counters.map((one) => stage.counter(one));
    });
    expect(all[1]).toEqual(all[0]);
    expect(all[0]!.every((one) => one > 0)).toBe(true);
  });
});
