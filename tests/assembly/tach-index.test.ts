// The index of the tachometer: missing tooth and extra edge, found, contradicted, lost, found again.
import { beforeAll, describe, expect, test } from "vitest";
import {
  COUNTER_EDGES_EARLY,
  COUNTER_EDGES_IRREGULAR,
  COUNTER_EDGES_MISSED,
  COUNTER_INDEX_CONTRADICTIONS,
  COUNTER_REFERENCE_LOST,
} from "../../shared/layout.ts";
import {
  EVENT_INDEX_FOUND,
  EVENT_INDEX_LOST,
  EVENT_REFERENCE_FOUND,
  INDEX_EXTRA_EDGE,
  INDEX_MISSING_TOOTH,
} from "../../shared/units.ts";
import { ticksOf, wheelEdges, withGlitch, without } from "./kit/tach-edges.ts";
import type { WheelEdge } from "./kit/tach-edges.ts";
import { TachStage, tachCompile } from "./kit/tach-stage.ts";

let module: WebAssembly.Module;
beforeAll(async () => {
  module = await tachCompile();
});

const MISSING = { positions: 36, index: INDEX_MISSING_TOOTH };
const EXTRA = { positions: 36, index: INDEX_EXTRA_EDGE };
const BOTH = [
  ["missing tooth", MISSING],
  ["extra edge", EXTRA],
] as const;

const tickAt = (edges: WheelEdge[], place: number): number => {
  const edge = edges.find((one) => one.place === place);
  if (edge === undefined) throw new Error(`no edge at ${place}`);
  return edge.tick;
};

/** Places of the accepted edges, counted by the positions that the angle was told. */
function placesHeard(stage: TachStage, startPlace: number): number[] {
  const places = [startPlace];
  for (const edge of stage.edges) places.push((places.at(-1) ?? 0) + edge.positions);
  return places;
}

/** Every accepted edge was told to the angle at the place where the wheel has it. */
function expectTruePlaces(stage: TachStage, edges: WheelEdge[], startPlace: number): void {
  const placeOf = new Map(edges.map((edge) => [edge.tick, edge.place]));
  const heard = placesHeard(stage, startPlace);
  expect(heard[0]).toBe(placeOf.get(stage.starts[0]?.tick ?? -1));
  expect(heard.slice(1)).toEqual(stage.edges.map((edge) => placeOf.get(edge.tick)));
}

describe("lock with an index", () => {
  const firsts = [0, 1, 2, 17, 33, 34, 35];
  test.each(BOTH.flatMap(([name, wheel]) => firsts.map((first) => ({ name, wheel, first }))))(
    "[TACH-011] $name, first edge at $first: locks on an index edge after two whole cycles",
    ({ wheel, first }) => {
      const edges = wheelEdges({ ...wheel, first, turns: 6 });
      const stage = new TachStage(module, { ...wheel, lockRevolutions: 2 }).feed(ticksOf(edges));

      // An index edge counts once the pitch before it is known.
      const firstIndex = first >= (wheel === EXTRA ? 35 : 34) ? 72 : 36;
      expect(stage.starts.map((start) => start.tick)).toEqual([tickAt(edges, firstIndex + 72)]);
      expect(stage.events[0]?.code).toBe(EVENT_REFERENCE_FOUND);
      expect(stage.isPhaseRelative).toBe(false);
      expectTruePlaces(stage, edges, firstIndex + 72);
      expect(stage.counter(COUNTER_EDGES_MISSED)).toBe(0);
      expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(0);
      expect(stage.edges.some((edge) => edge.isBridged)).toBe(false);
    },
  );

  test.each([
    { positions: 4, index: INDEX_MISSING_TOOTH },
    { positions: 2, index: INDEX_EXTRA_EDGE },
    { positions: 3, index: INDEX_EXTRA_EDGE },
    { positions: 255, index: INDEX_MISSING_TOOTH },
    { positions: 255, index: INDEX_EXTRA_EDGE },
  ])("[TACH-011] the smallest and the largest wheel in a ramp: %o", (wheel) => {
    const edges = wheelEdges({ ...wheel, revPerS: 6, revPerS2: 20, turns: 40 });
    const stage = new TachStage(module, wheel).feed(ticksOf(edges));
    const start = edges.find((edge) => edge.tick === stage.starts[0]?.tick)?.place ?? -1;
    expect(start % wheel.positions).toBe(0);
    expectTruePlaces(stage, edges, start);
    expect(stage.starts.length).toBe(1);
    expect(stage.counter(COUNTER_EDGES_EARLY) + stage.counter(COUNTER_EDGES_IRREGULAR)).toBe(0);
    expect(stage.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(0);
  });

  test.each(BOTH)("[TACH-011] %s: no reference while the index does not come", (_name, wheel) => {
    const plain = wheelEdges({ positions: 36, turns: 40 });
    const stage = new TachStage(module, wheel).feed(ticksOf(without(plain, 300, 500)));
    expect(stage.isLocked).toBe(false);
  });
});

describe("search for an index", () => {
  test("[TACH-011] an extra edge that does not stand half-way is none", () => {
    const edges = wheelEdges({ ...EXTRA, turns: 20 }).map((edge) =>
      edge.place % 1 === 0 ? edge : { ...edge, tick: edge.tick - Math.round(0.35 * 27_778) },
    );
    expect(new TachStage(module, EXTRA).feed(ticksOf(edges)).hasBeenLocked).toBe(false);
  });
});

describe("a missing tooth among faults", () => {
  const clean = wheelEdges({ ...MISSING, turns: 20 });
  // Positions of the gap of the tenth cycle: …, 358 = P − 2, (359), 360 = index, 361.
  test.each([
    { what: "far from the gap", gone: [340], missed: 1 },
    { what: "last before the gap", gone: [358], missed: 1 },
    { what: "index edge itself", gone: [360], missed: 1 },
    { what: "both sides of the gap", gone: [358, 360], missed: 2 },
    { what: "two before the gap", gone: [357, 358], missed: 2 },
    { what: "index edge and the next", gone: [360, 361], missed: 2 },
    { what: "second after the gap", gone: [361], missed: 1 },
  ])("[TACH-014] a missed edge $what keeps every place", ({ gone, missed }) => {
    const edges = without(clean, ...gone);
    const stage = new TachStage(module, MISSING).feed(ticksOf(edges));
    expectTruePlaces(stage, edges, 108);
    expect(stage.counter(COUNTER_EDGES_MISSED)).toBe(missed);
    expect(stage.edges.filter((edge) => edge.isBridged).length).toBe(1);
    expect(stage.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(0);
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(0);
    expect(stage.indexOffset).toBe(0);
  });

  test.each([
    { place: 358.4, early: 1, irregular: 0, contradictions: 0 },
    { place: 359, early: 1, irregular: 0, contradictions: 1 },
    { place: 359.2, early: 1, irregular: 0, contradictions: 1 },
    { place: 359.5, early: 0, irregular: 1, contradictions: 0 },
    { place: 360.5, early: 1, irregular: 0, contradictions: 0 },
  ])("[TACH-015] a glitch at $place, the gap being 358 to 360, changes no place", (row) => {
    const edges = withGlitch(clean, row.place);
    const plain = new TachStage(module, MISSING).feed(ticksOf(clean));
    const stage = new TachStage(module, MISSING).feed(ticksOf(edges));
    expect(stage.calls).toEqual(plain.calls);
    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(row.early);
    expect(stage.counter(COUNTER_EDGES_IRREGULAR)).toBe(row.irregular);
    expect(stage.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(row.contradictions);
  });

  test("[TACH-015] glitch in the gap and a missed edge beside it at once", () => {
    const edges = without(withGlitch(clean, 359), 360);
    const stage = new TachStage(module, MISSING).feed(ticksOf(edges));
    const real = edges.filter((edge) => edge.place !== 359);
    expectTruePlaces(stage, real, 108);
    expect(stage.counter(COUNTER_EDGES_MISSED)).toBe(1);
    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(1);
  });

  test("[TACH-013] contradictions with a good cycle between them lose nothing", () => {
    const edges = withGlitch(withGlitch(clean, 359), 431);
    const stage = new TachStage(module, MISSING).feed(ticksOf(edges));
    expect(stage.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(2);
    expect(stage.isPhaseRelative).toBe(false);
    expect(stage.events.length).toBe(1);
  });
});

describe("two glitches in one gap", () => {
  test("[TACH-015] are one contradiction, and lose nothing", () => {
    const clean = wheelEdges({ ...MISSING, turns: 20 });
    const edges = withGlitch(withGlitch(clean, 358.9), 359.1);
    const plain = new TachStage(module, MISSING).feed(ticksOf(clean));
    const stage = new TachStage(module, MISSING).feed(ticksOf(edges));
    expect(stage.calls).toEqual(plain.calls);
    expect(stage.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(1);
    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(2);
  });
});

describe("an extra edge among faults", () => {
  const clean = wheelEdges({ ...EXTRA, turns: 20 });

  test("[TACH-016] half-way elsewhere it is a glitch", () => {
    const plain = new TachStage(module, EXTRA).feed(ticksOf(clean));
    const stage = new TachStage(module, EXTRA).feed(ticksOf(withGlitch(clean, 340.5)));
    expect(stage.calls).toEqual(plain.calls);
    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(1);
    expect(stage.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(0);
  });

  test.each([
    { what: "edge before the mark", gone: [359], missed: 1, contradictions: 0 },
    { what: "edge after the mark", gone: [360], missed: 1, contradictions: 0 },
    { what: "mark itself", gone: [359.5], missed: 0, contradictions: 1 },
    { what: "mark and the edge before it", gone: [359, 359.5], missed: 1, contradictions: 0 },
    { what: "mark and the edge after it", gone: [359.5, 360], missed: 1, contradictions: 0 },
  ])("[TACH-016] without the $what every place stays", ({ gone, missed, contradictions }) => {
    const edges = without(clean, ...gone);
    const stage = new TachStage(module, EXTRA).feed(ticksOf(edges));
    expectTruePlaces(stage, edges, 108);
    expect(stage.counter(COUNTER_EDGES_MISSED)).toBe(missed);
    expect(stage.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(contradictions);
    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(0);
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(0);
    expect(stage.events.length).toBe(1);
  });

  test.each([359.1, 359.4, 359.6, 359.7])("[TACH-016] a glitch beside the mark at %f", (place) => {
    const plain = new TachStage(module, EXTRA).feed(ticksOf(clean));
    const stage = new TachStage(module, EXTRA).feed(ticksOf(withGlitch(clean, place)));
    expect(stage.calls).toEqual(plain.calls);
    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(1);
    expect(stage.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(0);
  });
});

describe("index lost and found again", () => {
  test.each(BOTH)(
    "[TACH-017] %s: two cycles without it lose the index, not the level",
    (_n, wheel) => {
      // From cycle 10 to 14 the index does not come: the gap is filled, or the extra edge left out.
      const plain = wheelEdges({ positions: 36, turns: 25 });
      const isOut = (edge: WheelEdge): boolean => edge.place >= 360 && edge.place < 540;
      const edges = [
        ...wheelEdges({ ...wheel, turns: 25 }).filter((e) => !isOut(e)),
        ...plain.filter(isOut),
      ];
      edges.sort((a, b) => a.tick - b.tick);
      const stage = new TachStage(module, wheel).feed(ticksOf(edges));

      expectTruePlaces(stage, edges, 108);
      const isMissing = wheel.index === INDEX_MISSING_TOOTH;
      // The gap of the cycle is at its end: 395 and 431 are filled; without marks 396 and 432 tell.
      const lostAt = tickAt(edges, isMissing ? 431 : 432);
      // It shows again at 576 first, then a cycle and two cycles later.
      const foundAt = tickAt(edges, 576 + 72);
      expect(stage.events.slice(1)).toEqual([
        { code: EVENT_INDEX_LOST, tick: lostAt, detail: 0 },
        { code: EVENT_INDEX_FOUND, tick: foundAt, detail: 0 },
      ]);
      expect(stage.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(2);
      expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(0);
      // One filled tooth was dropped as an intruder before that; the first gap again reads as missed,
      // and the first mark again as a glitch.
      expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(1);
      expect(stage.counter(COUNTER_EDGES_MISSED)).toBe(isMissing ? 1 : 0);
      expect(stage.isPhaseRelative).toBe(false);
    },
  );

  const offsets = [0, 1, 2, 5, 20, 35];
  test.each(BOTH.flatMap(([name, wheel]) => offsets.map((offset) => ({ name, wheel, offset }))))(
    "[TACH-018] $name found again $offset positions on: the phase turns, boundaries stay",
    ({ wheel, offset }) => {
      // After a length of bare wheel the index comes back elsewhere: another disc on the same shaft.
      const bare = wheelEdges({ positions: 36, turns: 40 });
      const before = wheelEdges({ ...wheel, turns: 10 });
      const after = wheelEdges({ ...wheel, turns: 40 - 20, first: 0, startTick: 0 });
      const shift = 36 * 15 + offset;
      const shiftTick = tickAt(bare, shift) - 0;
      const edges = [
        ...before,
        ...bare.filter((edge) => edge.place >= 360 && edge.place < shift),
        ...after.map((edge) => ({ place: edge.place + shift, tick: edge.tick + shiftTick })),
      ];
      const stage = new TachStage(module, wheel).feed(ticksOf(edges));

      expectTruePlaces(stage, edges, 108);
      expect(stage.indexOffset).toBe(offset);
      expect(stage.isPhaseRelative).toBe(false);
      expect(stage.events.map((event) => event.code)).toEqual([
        EVENT_REFERENCE_FOUND,
        EVENT_INDEX_LOST,
        EVENT_INDEX_FOUND,
      ]);
      expect(stage.events[2]).toEqual({
        code: EVENT_INDEX_FOUND,
        tick: tickAt(edges, shift + 36 * 3),
        detail: offset,
      });
      expect(stage.speed).toBeCloseTo(80, 2);
      expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(0);
    },
  );

  test("[TACH-016] a narrow tolerance makes the place of the mark narrow", () => {
    const clean = wheelEdges({ ...EXTRA, turns: 20 });
    const edges = without(withGlitch(clean, 359.3), 359.5);
    const narrow = new TachStage(module, { ...EXTRA, tolerance: 0.1 }).feed(ticksOf(edges));
    expect(narrow.counter(COUNTER_EDGES_EARLY)).toBe(1);
    expect(narrow.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(1);
    const wide = new TachStage(module, EXTRA).feed(ticksOf(edges));
    expect(wide.counter(COUNTER_EDGES_EARLY)).toBe(0);
    expect(wide.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(0);
  });

  test.each(BOTH)(
    "[TACH-018] %s: a suspicion that fails gives way to the index",
    (_name, wheel) => {
      const isMissing = wheel.index === INDEX_MISSING_TOOTH;
      const bare = wheelEdges({ positions: 36, turns: 40 }).filter((edge) => edge.place >= 360);
      const shown = wheelEdges({ ...wheel, turns: 40 });
      // Lost from 360 on; one edge missed, or one glitch half-way, at another place; back from 720 on.
      const between = isMissing ? without(bare, 500) : withGlitch(bare, 500.5);
      const edges = [
        ...shown.filter((edge) => edge.place < 360),
        ...between.filter((edge) => edge.place < 720),
        ...shown.filter((edge) => edge.place >= 720),
      ];
      const stage = new TachStage(module, wheel).feed(ticksOf(edges));
      expect(stage.events.at(-1)).toEqual({
        code: EVENT_INDEX_FOUND,
        tick: tickAt(edges, 756 + 72),
        detail: 0,
      });
    },
  );

  test("[TACH-018] with the boundary in the gap the speed is still followed", () => {
    // Index 1 position on: the missing tooth is then the boundary's own position.
    const run = { positions: 36, revPerS: 40, revPerS2: 10, turns: 100 };
    const isThere = (edge: WheelEdge): boolean => {
      if (edge.place < 360) return edge.place % 36 !== 35;
      return edge.place < 540 || edge.place % 36 !== 0;
    };
    const edges = wheelEdges(run).filter(isThere);
    const stage = new TachStage(module, MISSING).feed(ticksOf(edges));
    expectTruePlaces(stage, edges, 108);
    expect(stage.indexOffset).toBe(1);
    // Speed of the last whole cycle: its middle lies half a cycle and the rest before the end.
    const speedAt = (turns: number): number => Math.sqrt(40 ** 2 + 2 * 10 * turns);
    const lastIndex = 99 + 1 / 36;
    expect(stage.speed).toBeGreaterThan(speedAt(lastIndex - 1));
    expect(stage.speed).toBeLessThan(speedAt(lastIndex));
  });

  test("[TACH-018] a gap seen once is not the index", () => {
    const plain = wheelEdges({ positions: 36, turns: 40 }).filter((edge) => edge.place >= 360);
    const edges = [...wheelEdges({ ...MISSING, turns: 10 }), ...without(plain, 600, 700, 805)];
    const stage = new TachStage(module, MISSING).feed(ticksOf(edges));
    expect(stage.isPhaseRelative).toBe(true);
    expect(stage.events.map((event) => event.code)).not.toContain(EVENT_INDEX_FOUND);
    expect(stage.counter(COUNTER_EDGES_MISSED)).toBe(3);
  });

  test("[TACH-018] an edge missed while the mark is lost says nothing of the index", () => {
    const bare = wheelEdges({ positions: 36, turns: 40 }).filter((edge) => edge.place >= 360);
    const shown = wheelEdges({ ...EXTRA, turns: 40 });
    // Lost from 360 on; a suspicion at 500.5, then the edge at its place a turn on is missed.
    const between = without(withGlitch(withGlitch(bare, 500.5), 572.5), 537);
    const edges = [
      ...shown.filter((edge) => edge.place < 360),
      ...between.filter((edge) => edge.place < 720),
      ...shown.filter((edge) => edge.place >= 720),
    ];
    const stage = new TachStage(module, EXTRA).feed(ticksOf(edges));
    expect(stage.counter(COUNTER_EDGES_MISSED)).toBe(1);
    expect(stage.events.at(-1)?.code).toBe(EVENT_INDEX_FOUND);
  });
});
