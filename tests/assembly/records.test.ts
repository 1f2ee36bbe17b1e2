import { describe, expect, test } from "vitest";
import { RECORDS_MAX } from "../../shared/capacity.ts";
import * as U from "../../shared/units.ts";
import { STAGE_BUILDS } from "./kit/stage.ts";
import { eventsOf, openStep } from "./kit/step-stage.ts";

describe.each(STAGE_BUILDS)("records, %s build", async (build) => {
  const stage = await openStep(build);
  const put = (count: number): void => {
    for (let i = 0; i < count; i++) stage.run.event(U.EVENT_REFERENCE_FOUND, 1, 100 + i, i);
  };

  test("[CORE-040] an event carries code, source, time and detail, and a sequence number", () => {
    stage.configure();
    put(2);
    expect(stage.take()).toMatchObject([
      {
        kind: "event",
        code: U.EVENT_REFERENCE_FOUND,
        source: 1,
        tick: 100,
        detail: 0,
        sequence: 0,
      },
      {
        kind: "event",
        code: U.EVENT_REFERENCE_FOUND,
        source: 1,
        tick: 101,
        detail: 1,
        sequence: 1,
      },
    ]);
  });

  test("[CORE-041] records that find no room are counted and told when there is room again", () => {
    stage.configure();
    put(RECORDS_MAX + 3);
    expect(stage.take()).toHaveLength(RECORDS_MAX);
    expect(stage.counters().recordsLost).toBe(3);
    put(2);
    const after = stage.take();
    expect(eventsOf(after)).toEqual([
      [U.EVENT_RECORDS_LOST, 0, 3],
      [U.EVENT_REFERENCE_FOUND, 1, 0],
      [U.EVENT_REFERENCE_FOUND, 1, 1],
    ]);
    // The gap in the sequence is what was lost.
    expect(after.map((one) => one.sequence)).toEqual([3, 4, 5].map((n) => RECORDS_MAX + n));
    put(1);
    expect(stage.take()).toHaveLength(1);
    expect(stage.counters().recordsLost).toBe(3);
  });

  test("[CORE-042] the notice of a loss takes a place itself: what then finds none is counted", () => {
    stage.configure();
    put(RECORDS_MAX + 1);
    stage.take();
    put(RECORDS_MAX);
    expect(stage.take()).toHaveLength(RECORDS_MAX);
    expect(stage.counters().recordsLost).toBe(2);
    put(1);
    expect(eventsOf(stage.take())[0]).toEqual([U.EVENT_RECORDS_LOST, 0, 1]);
  });

  test("[CORE-045] what a step tells is counted as lost, one by one, where there is no room", () => {
    const last = (isFull: boolean): number => {
      stage.configure();
      stage.tracked(0, { levelPk: 9 });
      stage.step();
      stage.tracked(0, { levelPk: 5 });
      if (isFull) put(RECORDS_MAX);
      stage.run.step(2000, 0);
      const told = stage.take();
      if (isFull) return stage.counters().recordsLost;
      const kinds = new Set(told.map((one) => one.kind));
      expect([...kinds].toSorted()).toEqual(["event", "exceedance", "level"]);
      expect(stage.counters().recordsLost).toBe(0);
      return told.length;
    };
    expect(last(true)).toBe(last(false));
  });

  test("[CORE-043] a reset forgets what waits and starts the sequence anew", () => {
    stage.configure();
    put(RECORDS_MAX + 1);
    stage.run.recordsReset();
    expect(stage.run.recordsCount()).toBe(0);
    put(1);
    expect(stage.take()).toMatchObject([{ code: U.EVENT_REFERENCE_FOUND, sequence: 0 }]);
  });

  // IEEE 754, check value D-39: a NaN that reached a record could not be compared there either.
  test("[CORE-044] no NaN and no infinity is stored (D-39)", () => {
    const values = [NaN, Infinity, -Infinity, 1.5, -0.25, 3.4028234663852886e38];
    const stored = values.map((value) => stage.run.stored(value));
    expect(stored).toEqual([0, 0, 0, 1.5, -0.25, 3.4028234663852886e38]);
  });
});
