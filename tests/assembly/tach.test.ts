// Lock, judgement of edges, limits and time-out of the tachometer, the stage alone.
import { beforeAll, describe, expect, test } from "vitest";
import {
  COUNTER_EDGES,
  COUNTER_EDGES_EARLY,
  COUNTER_EDGES_IRREGULAR,
  COUNTER_EDGES_MISSED,
  COUNTER_REFERENCE_LOST,
} from "../../shared/layout.ts";
import {
  EVENT_REFERENCE_FOUND,
  EVENT_REFERENCE_LOST,
  LOST_ACCELERATION,
  LOST_DROPPED,
  LOST_GAP,
  LOST_SPEED,
  LOST_TIMEOUT,
} from "../../shared/units.ts";
import { ticksOf, wheelEdges, withGlitch, without } from "./kit/tach-edges.ts";
import { TACH_DEFAULTS, TachStage, tachCompile } from "./kit/tach-stage.ts";

let module: WebAssembly.Module;
beforeAll(async () => {
  module = await tachCompile();
});

const tickAt = (edges: { place: number; tick: number }[], place: number): number => {
  const edge = edges.find((one) => one.place === place);
  if (edge === undefined) throw new Error(`no edge at ${place}`);
  return edge.tick;
};

describe("lock", () => {
  test("[TACH-001] locks after the stated cycles of consistent intervals", () => {
    const edges = wheelEdges({ turns: 4 });
    const stage = new TachStage(module, { lockRevolutions: 2 });
    stage.feed(ticksOf(edges));

    expect(stage.starts).toEqual([
      { tick: tickAt(edges, 120), dt: expect.closeTo(16667, -1), positions: 1 },
    ]);
    expect(stage.events).toEqual([
      { code: EVENT_REFERENCE_FOUND, tick: tickAt(edges, 120), detail: 0 },
    ]);
    expect(stage.counter(COUNTER_EDGES)).toBe(120);
    expect(stage.edges.map((edge) => edge.tick)).toEqual(ticksOf(edges).slice(121));
  });

  test.each([1, 2, 3, 5])(
    "[TACH-002] one position a cycle, %i to lock: at least 3 edges",
    (lock) => {
      const edges = wheelEdges({ positions: 1, turns: 10, revPerS: 20 });
      const stage = new TachStage(module, { positions: 1, lockRevolutions: lock });
      stage.feed(ticksOf(edges));

      expect(stage.starts[0]?.tick).toBe(tickAt(edges, Math.max(2, lock)));
      expect(stage.isPhaseRelative).toBe(false);
    },
  );

  test("[TACH-001] a glitch while searching starts the run again, and counts nothing", () => {
    const edges = withGlitch(wheelEdges({ turns: 6 }), 50.5);
    const stage = new TachStage(module, {});
    stage.feed(ticksOf(edges));

    // The half pitch restarts the run twice; the pitch from 51 to 52 is the base of the next.
    expect(stage.starts[0]?.tick).toBe(tickAt(edges, 51 + 120));
    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(0);
    expect(stage.counter(COUNTER_EDGES_IRREGULAR)).toBe(0);
  });

  test("[TACH-001] no reference outside the speed range", () => {
    const stage = new TachStage(module, { speedMin: 81, speedMax: 500 });
    stage.feed(ticksOf(wheelEdges({ turns: 10, revPerS: 80 })));
    expect(stage.isLocked).toBe(false);
    expect(stage.hasBeenLocked).toBe(false);
    stage.feed(ticksOf(wheelEdges({ turns: 10, revPerS: 82, startTick: 20e6 })));
    expect(stage.isLocked).toBe(true);
  });
});

describe("search", () => {
  test("[TACH-001] intervals as long as the time-out never make a reference", () => {
    const run = { positions: 1, revPerS: 10, turns: 20 };
    const edges = ticksOf(wheelEdges(run));
    const settings = { positions: 1, timeoutTicks: 8_000_000 };
    expect(new TachStage(module, settings).feed(edges).hasBeenLocked).toBe(false);
    const longer = { ...settings, timeoutTicks: 8_000_002 };
    expect(new TachStage(module, longer).feed(edges).isLocked).toBe(true);
  });

  test("[TACH-001] a tick that does not ascend is ignored while searching", () => {
    const edges = ticksOf(wheelEdges({ turns: 4 }));
    const plain = new TachStage(module, {}).feed(edges);
    const stage = new TachStage(module, {});
    edges.forEach((tick, i) => stage.feed(i === 50 ? [tick, tick, tick - 30_000] : [tick]));
    expect(stage.calls).toEqual(plain.calls);
  });
});

describe("judgement of an edge", () => {
  test("[TACH-003] drops an edge inside the first part of a pitch and counts it", () => {
    const clean = ticksOf(wheelEdges({}));
    const plain = new TachStage(module, {}).feed(clean);
    const stage = new TachStage(module, {});
    stage.feed(ticksOf(withGlitch(wheelEdges({}), 300.3)));

    expect(stage.calls).toEqual(plain.calls);
    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(1);
    expect(plain.counter(COUNTER_EDGES_EARLY)).toBe(0);
  });

  test.each([
    [0.74, 1],
    [0.76, 0],
  ])("[TACH-003] the early part ends at 1 − tolerance: at %f, %i early", (fraction, early) => {
    // Tolerance 0.25 + 30 rev/s² · 60 · (1/4800 s)² = 0.2501. A glitch that is taken for the edge
    // makes the edge itself the early one, so only what the angle hears tells the two apart.
    const edges = withGlitch(wheelEdges({}), 300 + fraction);
    const stage = new TachStage(module, {}).feed(ticksOf(edges));
    const glitchTick = tickAt(edges, 300 + fraction);
    expect(stage.edges.some((edge) => edge.tick === glitchTick)).toBe(early === 0);
    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(1);
    expect(stage.isLocked).toBe(true);
  });

  test.each([0.76, 0.8, 0.85, 0.95])(
    "[TACH-003] a glitch that passes for the edge, at %f of a pitch, costs no reference",
    (fraction) => {
      const edges = withGlitch(wheelEdges({}), 300 + fraction);
      const stage = new TachStage(module, {}).feed(ticksOf(edges));
      // The edge itself, right behind it, is the only one dropped.
      expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(1);
      expect(stage.counter(COUNTER_EDGES_IRREGULAR)).toBe(0);
      expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(0);
      expect(stage.edges.every((edge) => edge.positions === 1 && !edge.isBridged)).toBe(true);
    },
  );

  test.each([1, 2, 3, 5, 7])("[TACH-004] bridges %i missed edges and invents none", (count) => {
    const gone = Array.from({ length: count }, (_, i) => 300 + i);
    const edges = without(wheelEdges({}), ...gone);
    const stage = new TachStage(module, {}).feed(ticksOf(edges));

    expect(stage.edges.filter((edge) => edge.isBridged)).toEqual([
      { tick: tickAt(edges, 300 + count), positions: count + 1, isBridged: true },
    ]);
    expect(stage.edges.map((edge) => edge.tick)).toEqual(ticksOf(edges).slice(121));
    expect(stage.counter(COUNTER_EDGES_MISSED)).toBe(count);
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(0);
  });

  test("[TACH-006] more pitches than may be bridged lose the reference at that edge", () => {
    const gone = Array.from({ length: 8 }, (_, i) => 300 + i);
    const edges = without(wheelEdges({}), ...gone);
    const stage = new TachStage(module, {}).feed(ticksOf(edges));

    expect(stage.events).toEqual([
      { code: EVENT_REFERENCE_FOUND, tick: tickAt(edges, 120), detail: 0 },
      { code: EVENT_REFERENCE_LOST, tick: tickAt(edges, 308), detail: LOST_GAP },
      { code: EVENT_REFERENCE_FOUND, tick: tickAt(edges, 428), detail: 0 },
    ]);
    expect(stage.counter(COUNTER_EDGES_IRREGULAR)).toBe(1);
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(1);
  });

  test("[TACH-005] an edge between two whole numbers of pitches is irregular and dropped", () => {
    const edges = withGlitch(without(wheelEdges({}), 300), 300.5);
    const stage = new TachStage(module, {}).feed(ticksOf(edges));

    expect(stage.counter(COUNTER_EDGES_IRREGULAR)).toBe(1);
    expect(stage.counter(COUNTER_EDGES_MISSED)).toBe(1);
    expect(stage.isLocked).toBe(true);
  });

  test.each([
    [2, 0],
    [3, 1],
  ])("[TACH-005] %i dropped edges in a row lose the reference %i times", (count, lost) => {
    let edges = wheelEdges({});
    for (let i = 1; i <= count; i += 1) edges = withGlitch(edges, 300 + i / 8);
    const stage = new TachStage(module, {}).feed(ticksOf(edges));

    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(count);
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(lost);
    const events = stage.events.filter((event) => event.code === EVENT_REFERENCE_LOST);
    expect(events.map((event) => [event.tick, event.detail])).toEqual(
      lost === 0 ? [] : [[tickAt(edges, 300.375), LOST_DROPPED]],
    );
  });

  test("[TACH-003] ticks that do not ascend are dropped as early", () => {
    const clean = ticksOf(wheelEdges({}));
    const stage = new TachStage(module, {}).feed(clean.slice(0, 200));
    const before = stage.calls.length;
    stage.feed([clean[199] ?? 0, (clean[199] ?? 0) - 40_000]);
    expect(stage.calls.length).toBe(before);
    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(2);
    stage.feed(clean.slice(200));
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(0);
    expect(stage.counter(COUNTER_EDGES)).toBe(clean.length - 120);
  });

  test.each([
    { positions: 1, revPerS: 5, revPerS2: 25, turns: 400 },
    { positions: 1, revPerS: 90, revPerS2: -25, turns: 160 },
    { positions: 2, revPerS: 5, revPerS2: 25, turns: 400 },
    { positions: 4, revPerS: 5, revPerS2: 25, turns: 400 },
    { positions: 60, revPerS: 5, revPerS2: 25, turns: 400 },
    { positions: 60, revPerS: 90, revPerS2: -25, turns: 155 },
  ])("[TACH-010] a ramp is followed without a dropped edge: %o", (ramp) => {
    const edges = ticksOf(wheelEdges(ramp));
    const stage = new TachStage(module, { positions: ramp.positions }).feed(edges);

    expect(stage.starts.length).toBe(1);
    expect(stage.edges.length + 1 + 2 * ramp.positions).toBe(edges.length);
    expect(stage.edges.every((edge) => edge.positions === 1 && !edge.isBridged)).toBe(true);
    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(0);
    expect(stage.counter(COUNTER_EDGES_IRREGULAR)).toBe(0);
    expect(stage.isLocked).toBe(true);
  });

  test("[TACH-010] a missed edge in a steep ramp is bridged by the right number", () => {
    const edges = without(
      wheelEdges({ positions: 1, revPerS: 8, revPerS2: 20, turns: 60 }),
      9,
      20,
      21,
    );
    const stage = new TachStage(module, { positions: 1 }).feed(ticksOf(edges));
    expect(stage.edges.filter((edge) => edge.isBridged).map((edge) => edge.positions)).toEqual([
      2, 3,
    ]);
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(0);
  });
});

describe("prediction", () => {
  test("[TACH-010] seven missed edges in a ramp at one position a cycle", () => {
    // Over 8 revolutions from 20 rev/s at 25 rev/s² the acceleration adds 2 pitches; the tolerance is
    // 0.05 + 26/20² = 0.115.
    const run = { positions: 1, revPerS: 20, revPerS2: 25, turns: 40 };
    const edges = without(wheelEdges(run), 4, 5, 6, 7, 8, 9, 10);
    const settings = { positions: 1, accelerationMax: 26, tolerance: 0.05 };
    const stage = new TachStage(module, settings).feed(ticksOf(edges));
    expect(stage.edges.filter((edge) => edge.isBridged).map((edge) => edge.positions)).toEqual([8]);
    expect(stage.starts.length).toBe(1);
    expect(stage.isLocked).toBe(true);
  });

  test("[TACH-004] eight pitches and a little are still bridged", () => {
    const gone = Array.from({ length: 7 }, (_, i) => 300 + i);
    const errorPitches = (place: number): number => (place === 307 ? 0.1 : 0);
    const stage = new TachStage(module, {});
    stage.feed(ticksOf(without(wheelEdges({ errorPitches }), ...gone)));
    expect(stage.counter(COUNTER_EDGES_MISSED)).toBe(7);
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(0);
  });

  // Once a revolution, times in s. Two intervals of 0.25 and 2/7 predict a standstill after 1.73 s and
  // 2.8 pitches; 1 and 1.3 one after 1.02 pitches, so that 60 s later one more edge is taken; after
  // that the shaft counts as all but stopped, and the edge that comes is the next one.
  test.each([
    { what: "later than the standstill", intervals: [0.25, 2 / 7, 3.3], told: [3], early: 0 },
    { what: "slower and slower", intervals: [1, 1.3, 60, 60], told: [1, 1], early: 0 },
  ])("[TACH-010] an edge $what is judged by the place of the standstill", (row) => {
    const stage = new TachStage(module, {
      positions: 1,
      clockHz: 1e6,
      timeoutTicks: 90e6,
      speedMin: 0.001,
    });
    let tick = 1000;
    stage.feed([tick, ...row.intervals.map((s) => (tick += Math.round(s * 1e6)))]);
    expect(stage.edges.map((edge) => edge.positions)).toEqual(row.told);
    expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(row.early);
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(0);
  });
});

describe("limits", () => {
  const timeout = 4_000_000;

  test("[TACH-007] the reference is lost at exactly the last edge + time-out", () => {
    const edges = ticksOf(wheelEdges({}));
    const last = edges.at(-1) ?? 0;
    const stage = new TachStage(module, { timeoutTicks: timeout }).feed(edges);

    stage.expire(last + timeout - 1);
    expect(stage.isLocked).toBe(true);
    stage.expire(last + timeout + 12_345);
    expect(stage.isLocked).toBe(false);
    expect(stage.hasBeenLocked).toBe(true);
    expect(stage.speed).toBe(0);
    expect(stage.calls.slice(-2)).toEqual([
      { kind: "lost" },
      { kind: "event", code: EVENT_REFERENCE_LOST, tick: last + timeout, detail: LOST_TIMEOUT },
    ]);
    stage.expire(last + 10 * timeout);
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(1);
  });

  test("[TACH-007] a late edge sees the time-out too, and an edge exactly at it comes too late", () => {
    const edges = ticksOf(wheelEdges({}));
    const last = edges.at(-1) ?? 0;
    const byEdge = new TachStage(module, { timeoutTicks: timeout }).feed([
      ...edges,
      last + timeout,
    ]);
    const byStep = new TachStage(module, { timeoutTicks: timeout }).feed(edges);
    byStep.expire(last + timeout);
    byStep.feed([last + timeout]);
    expect(byEdge.calls).toEqual(byStep.calls);
    expect(byEdge.events.at(-1)).toEqual({
      code: EVENT_REFERENCE_LOST,
      tick: last + timeout,
      detail: LOST_TIMEOUT,
    });
  });

  test("[TACH-022] recovers after a drop-out, with the stated cycles of consistent edges", () => {
    const edges = wheelEdges({ turns: 120 }).filter(
      (edge) => edge.place < 1000 || edge.place >= 6000,
    );
    const stage = new TachStage(module, { timeoutTicks: timeout }).feed(ticksOf(edges));
    expect(stage.events).toEqual([
      { code: EVENT_REFERENCE_FOUND, tick: tickAt(edges, 120), detail: 0 },
      { code: EVENT_REFERENCE_LOST, tick: tickAt(edges, 999) + timeout, detail: LOST_TIMEOUT },
      { code: EVENT_REFERENCE_FOUND, tick: tickAt(edges, 6120), detail: 0 },
    ]);
  });

  test.each([
    { what: "below", revPerS: 20, revPerS2: -5, limit: { speedMin: 12 }, crossing: 12 },
    { what: "above", revPerS: 20, revPerS2: 5, limit: { speedMax: 28 }, crossing: 28 },
  ])("[TACH-008] a speed $what the range loses the reference", (row) => {
    const edges = wheelEdges({ revPerS: row.revPerS, revPerS2: row.revPerS2, turns: 39 });
    const stage = new TachStage(module, row.limit).feed(ticksOf(edges));
    const lost = stage.events.filter((event) => event.code === EVENT_REFERENCE_LOST);
    expect(lost.map((event) => event.detail)).toEqual([LOST_SPEED]);
    // The speed is the mean of two pitches: it lags by one. 1000 is the first edge's tick.
    const atS = ((lost[0]?.tick ?? 0) - 1000) / TACH_DEFAULTS.clockHz;
    const speedThen = row.revPerS + row.revPerS2 * atS;
    const pitchS = 1 / (60 * row.crossing);
    expect(Math.abs(speedThen - row.crossing)).toBeLessThan(2.5 * pitchS * Math.abs(row.revPerS2));
  });

  test.each([
    { acceleration: 27, lost: 0 },
    { acceleration: -27, lost: 0 },
    { acceleration: 33, lost: 1 },
    { acceleration: -33, lost: 1 },
  ])("[TACH-009] limit 30 rev/s², ramp of $acceleration: lost within two windows", (row) => {
    const run = { revPerS: row.acceleration > 0 ? 20 : 80, revPerS2: row.acceleration };
    const edges = ticksOf(wheelEdges({ ...run, turns: 55 }));
    const stage = new TachStage(module, {}).feed(edges);
    const lost = stage.events.filter((event) => event.code === EVENT_REFERENCE_LOST);
    expect(lost.length >= 1 ? 1 : 0).toBe(row.lost);
    if (row.lost === 0) return;
    expect(lost[0]?.detail).toBe(LOST_ACCELERATION);
    const sinceLockS = ((lost[0]?.tick ?? 0) - (stage.starts[0]?.tick ?? 0)) / 80e6;
    // Two windows of 0.25 s (4 cycles are shorter), each up to a cycle longer (1/20 s at most).
    expect(sinceLockS).toBeGreaterThanOrEqual(0.5);
    expect(sinceLockS).toBeLessThan(0.6);
  });

  test("[TACH-009] one late edge a tenth of a revolution off is no acceleration", () => {
    // Once a revolution at 4 rev/s a cycle is 0.25 s: a window of one would read 1.6 rev/s² and more.
    const errorPitches = (place: number): number => (place === 30 ? 0.1 : 0);
    const edges = wheelEdges({ positions: 1, revPerS: 4, turns: 60, errorPitches });
    const stage = new TachStage(module, { positions: 1, accelerationMax: 1 }).feed(ticksOf(edges));
    expect(stage.counter(COUNTER_REFERENCE_LOST)).toBe(0);
    expect(stage.isLocked).toBe(true);
  });

  test("[TACH-009] a speed that jumps by a fifth between two pitches is no shaft", () => {
    const first = wheelEdges({ turns: 60, revPerS: 80 });
    const after = wheelEdges({
      turns: 60,
      revPerS: 96,
      startTick: (first.at(-1)?.tick ?? 0) + 14_000,
    });
    const stage = new TachStage(module, {}).feed(ticksOf(first)).feed(ticksOf(after));
    const lost = stage.events.filter((event) => event.code === EVENT_REFERENCE_LOST);
    expect(lost.map((event) => event.detail)).toEqual([LOST_ACCELERATION]);
  });
});
