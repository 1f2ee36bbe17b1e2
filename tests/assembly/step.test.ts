import { describe, expect, test } from "vitest";
import * as L from "../../shared/layout.ts";
import * as U from "../../shared/units.ts";
import { type Field, STAGE_BUILDS } from "./kit/stage.ts";
import { eventsOf, levelOf, openStep } from "./kit/step-stage.ts";

const QUIET = [0, 1, -1, 1, -1, 1, -1, 1];
const SPIKE = [0, 1, -1, 500, -1, 1, -1, 1];
const display = (filter: number, offset: number, value: number): Field => [
  L.CONFIG_DISPLAYS + filter * L.DISPLAY_BYTES + offset,
  "u32",
  value,
];
const bit = (first: number, index = 0): number => 1 << (first + index);

describe.each(STAGE_BUILDS)("display step, %s build", async (build) => {
  const stage = await openStep(build);

  test("[LEVEL-050] one level record a filter and step, in order, with what was tracked", () => {
    stage.configure();
    const records = stage.step().filter((one) => one.kind === "level");
    expect(records.map((one) => one.filter)).toEqual([0, 1, 2]);
    expect(records[0]).toEqual({
      kind: "level",
      filter: 0,
      sequence: 0,
      tick: 1000,
      ageTicks: 100,
      revolution: 100,
      speedRevPerS: 80,
      speedNowRevPerS: 80.5,
      re: 3,
      im: -4,
      level: 5,
      shownCounts: 50,
      validity: U.VALID,
      cause: U.CAUSE_NONE,
      cautionState: U.CAUTION_OFF,
      statusBits: 0,
      flags: L.FLAG_COMPUTED | L.FLAG_SETTLED,
      word: 0,
      integrationDistance: 0,
    });
  });

  test("[LEVEL-051] ticks beyond 2³² stand in both words of the record", () => {
    stage.configure();
    stage.tracked(0, { closingTick: 0 });
    stage.run.step(5, 3);
    const record = levelOf(stage.take(), 0);
    expect(record.tick).toBe(3 * 2 ** 32 + 5);
    expect(record.ageTicks).toBe(2 ** 32 - 1); // an age that does not fit stays at its top
  });

  test("[LEVEL-052] nothing measured is told where nothing is computed", () => {
    stage.configure();
    stage.tracked(0, { isComputed: false, flags: 0 });
    expect(levelOf(stage.step(), 0)).toMatchObject({
      re: 0,
      im: 0,
      level: 0,
      speedRevPerS: 0,
      speedNowRevPerS: 0,
      ageTicks: 0,
      flags: 0,
      validity: U.NO_COMPUTED_DATA,
      cause: U.CAUSE_SETTLING,
      statusBits: L.STATUS_BLANK,
    });
  });

  test("[LEVEL-053] flags and integration distance are the tracker's own", () => {
    stage.configure();
    stage.tracked(0, { flags: L.FLAG_BRIDGED | L.FLAG_COMPUTED, integrationDistance: 0.0006 });
    expect(levelOf(stage.step(), 0)).toMatchObject({
      flags: L.FLAG_BRIDGED | L.FLAG_COMPUTED,
      integrationDistance: Math.fround(0.0006),
    });
  });

  test("[LEVEL-054] validity gained and lost are events that agree with the level record", () => {
    stage.configure();
    const first = stage.step();
    expect(eventsOf(first)).toEqual([0, 1, 2].map((f) => [U.EVENT_VALID, f, 0]));
    expect(first[1]).toMatchObject({
      kind: "event",
      tick: 1000,
      revolution: 100,
      speedRevPerS: 80,
      re: 3,
      im: -4,
      level: 5,
      shownCounts: 50,
    });
    expect(eventsOf(stage.step())).toEqual([]);
    stage.shaft(1, { isLocked: false });
    expect(eventsOf(stage.step())).toEqual([[U.EVENT_INVALID, 1, U.CAUSE_STOPPED]]);
    expect(eventsOf(stage.step())).toEqual([]);
  });

  test.each([
    ["the running input", L.EVIDENCE_INPUT, bit(L.INPUT_RUNNING, 1), true],
    ["the other shaft's input does not count", L.EVIDENCE_INPUT, bit(L.INPUT_RUNNING, 0), false],
    ["the other shaft's reference", L.EVIDENCE_OTHER_SHAFT, 0, true],
    ["evidence that is not configured", 0, bit(L.INPUT_RUNNING, 1), false],
  ])(
    "[LEVEL-055] reference lost, evidence of turning: %s",
    (_name, evidence, inputs, isFailure) => {
      const at = L.CONFIG_SHAFTS + L.SHAFT_BYTES + L.SHAFT_EVIDENCE;
      stage.configure([[at, "u32", evidence]]);
      stage.run.inputsSet(inputs);
      stage.shaft(1, { isLocked: false });
      expect(levelOf(stage.step(), 1)).toMatchObject(
        isFailure
          ? { validity: U.FAILURE, cause: U.CAUSE_REFERENCE_LOST }
          : { validity: U.NO_COMPUTED_DATA, cause: U.CAUSE_STOPPED },
      );
    },
  );

  test("[LEVEL-056] a transducer fault fails its filters, is an event, is counted, and ends", () => {
    stage.configure();
    stage.step();
    stage.samples(0, [...QUIET, 1]);
    stage.samples(1, [...QUIET, 1]);
    expect(eventsOf(stage.step())).toEqual([]);
    stage.samples(0, SPIKE);
    stage.samples(1, QUIET);
    const faulty = stage.step();
    expect(faulty[0]).toMatchObject({ code: U.EVENT_TRANSDUCER_FAULT, source: 0, detail: 5 });
    expect([0, 1, 2].map((f) => levelOf(faulty, f).cause)).toEqual([
      U.CAUSE_TRANSDUCER,
      U.CAUSE_NONE,
      U.CAUSE_TRANSDUCER,
    ]);
    expect(stage.run.channelHasFault(0)).toBe(1);
    stage.samples(0, QUIET);
    stage.samples(1, QUIET);
    expect(eventsOf(stage.step())[0]).toEqual([U.EVENT_TRANSDUCER_HEALTHY, 0, 5]);
    expect(stage.counters().health).toEqual([0, 0, 0, 0, 0, 1, 0]);
  });

  test("[LEVEL-057] a level beyond f32 counts as a transducer's failure and is stored as 0", () => {
    const factor = L.CONFIG_FILTERS + L.FILTER_LEVEL_FACTOR;
    stage.configure([[factor, "f32", 100]]);
    stage.tracked(0, { levelPk: 3e38, re: 3e38, im: NaN });
    const record = levelOf(stage.step(), 0);
    expect(record).toMatchObject({ level: 0, im: 0, cause: U.CAUSE_TRANSDUCER });
  });

  test("[LEVEL-058] the functional test marks every filter and is told at both ends", () => {
    stage.configure();
    stage.step();
    stage.run.inputsSet(bit(L.INPUT_TEST));
    const during = stage.step();
    expect(eventsOf(during)[0]).toEqual([U.EVENT_TEST_ON, 0, 0]);
    expect([0, 1, 2].map((f) => levelOf(during, f).validity)).toEqual([3, 3, 3]);
    stage.run.inputsSet(0);
    expect(eventsOf(stage.step())[0]).toEqual([U.EVENT_TEST_OFF, 0, 0]);
  });

  test("[LEVEL-059] a substitute serves with its event and its mark, and ends with another", () => {
    stage.configure([
      display(0, L.DISPLAY_SOURCE, U.SOURCE_SUBSTITUTE),
      display(0, L.DISPLAY_SOURCES, 1),
    ]);
    stage.tracked(1, { levelPk: 7 });
    stage.step();
    stage.tracked(0, { isSettled: false });
    const served = stage.step();
    expect(eventsOf(served)).toEqual([[U.EVENT_SUBSTITUTE_ON, 0, 1]]);
    expect(levelOf(served, 0)).toMatchObject({
      validity: U.VALID,
      shownCounts: 70,
      level: 5, // the record's level is the filter's own
      statusBits: L.STATUS_SUBSTITUTE,
    });
    stage.tracked(0, {});
    expect(eventsOf(stage.step())).toEqual([[U.EVENT_SUBSTITUTE_OFF, 0, 0]]);
  });

  test("[CAUT-030] records of a step: level, then validity, caution and exceedance of that filter", () => {
    stage.configure();
    stage.tracked(0, { levelPk: 9 });
    const on = stage.step();
    expect(on.slice(0, 3)).toMatchObject([
      { kind: "level", filter: 0, cautionState: U.CAUTION_ON, statusBits: 3 },
      { kind: "event", code: U.EVENT_VALID, source: 0 },
      { kind: "event", code: U.EVENT_CAUTION_ON, source: 0, shownCounts: 90 },
    ]);
    stage.tracked(0, { isSettled: false });
    const off = stage.step();
    expect(off.slice(0, 4)).toMatchObject([
      { kind: "level", filter: 0, statusBits: L.STATUS_HELD, cautionState: U.CAUTION_OFF },
      { kind: "event", code: U.EVENT_INVALID, detail: U.CAUSE_SETTLING },
      { kind: "event", code: U.EVENT_CAUTION_ENDED_INVALID, source: 0 },
      { kind: "exceedance", filter: 0 },
    ]);
  });

  test("[CAUT-031] an exceedance sums up onset, end, peak, speed at the peak and time above", () => {
    stage.configure();
    // Counts 80, 95, 95, 95, 75, 69: level 80, hysteresis 10; of two equal peaks the first.
    const levels = [8, 9.5, 9.52, 9.52, 7.5, 6.9];
    const all = levels.flatMap((levelPk, i) => {
      stage.tracked(0, { levelPk, speed: 80 + i, revolution: 100 + i });
      return stage.step();
    });
    expect(all.filter((one) => one.kind === "exceedance")).toEqual([
      {
        kind: "exceedance",
        filter: 0,
        sequence: expect.any(Number),
        onsetTick: 1000,
        endTick: 6000,
        peakSteps: 2,
        aboveSteps: 4,
        peakLevel: Math.fround(9.52),
        peakShownCounts: 95,
        speedAtPeakRevPerS: 82,
        revolutionAtPeak: 102,
      },
    ]);
  });

  test("[CAUT-032] an exceedance of a display's greatest carries the filter that served", () => {
    stage.configure([
      display(0, L.DISPLAY_SOURCE, U.SOURCE_GREATEST),
      display(0, L.DISPLAY_SOURCES, 0b011),
    ]);
    stage.tracked(1, { levelPk: 9, speed: 60, revolution: 77 });
    stage.step();
    stage.tracked(1, { levelPk: 1 });
    const ended = stage.step().find((one) => one.kind === "exceedance" && one.filter === 0);
    expect(ended).toMatchObject({
      peakLevel: 9,
      speedAtPeakRevPerS: 60,
      revolutionAtPeak: 77,
      aboveSteps: 1,
    });
  });

  test("[CAUT-033] an exceedance without a caution configured is none", () => {
    stage.configure([display(0, L.DISPLAY_FLAGS, 0)]);
    stage.tracked(0, { levelPk: 9 });
    stage.step();
    stage.tracked(0, { levelPk: 1 });
    expect(stage.step().filter((one) => one.kind === "exceedance")).toEqual([]);
  });

  test("[CAUT-034] an acknowledge shorter than a display period is not missed", () => {
    stage.configure();
    stage.tracked(0, { levelPk: 9 });
    stage.step();
    stage.run.inputsSet(bit(L.INPUT_ACKNOWLEDGE, 0));
    stage.run.inputsSet(0);
    const records = stage.step();
    expect(eventsOf(records)).toEqual([[U.EVENT_ACKNOWLEDGED, 0, 0]]);
    expect(levelOf(records, 0).statusBits & L.STATUS_ACKNOWLEDGED).not.toBe(0);
  });

  test("[CAUT-035] a bit that goes on standing acknowledges one occurrence only", () => {
    stage.configure();
    const levels = [9, 9, 1, 9, 9];
    const codes = levels.flatMap((levelPk, i) => {
      stage.tracked(0, { levelPk });
      if (i > 0) stage.run.inputsSet(bit(L.INPUT_ACKNOWLEDGE, 0));
      return eventsOf(stage.step()).filter(([, source]) => source === 0);
    });
    expect(codes.map(([code]) => code)).toEqual([
      U.EVENT_VALID,
      U.EVENT_CAUTION_ON,
      U.EVENT_ACKNOWLEDGED,
      U.EVENT_CAUTION_OFF,
      U.EVENT_CAUTION_ON,
    ]);
  });

  test("[CAUT-036] inhibit and acknowledge reach their own display only", () => {
    stage.configure();
    for (const f of [0, 1, 2]) stage.tracked(f, { levelPk: 9 });
    stage.run.inputsSet(bit(L.INPUT_INHIBIT, 1));
    const records = stage.step();
    expect([0, 1, 2].map((f) => levelOf(records, f).cautionState)).toEqual([
      U.CAUTION_ON,
      U.CAUTION_INHIBITED,
      U.CAUTION_ON,
    ]);
    expect(levelOf(records, 1).statusBits).toBe(L.STATUS_AT_LEVEL | L.STATUS_INHIBITED);
  });

  test("[HEALTH-036] a reset forgets a functional test: the first period after it is judged", () => {
    stage.configure();
    stage.run.inputsSet(bit(L.INPUT_TEST));
    stage.run.stepReset();
    stage.run.recordsReset();
    stage.samples(0, [...SPIKE, 1]);
    const events = eventsOf(stage.step());
    expect(events[0]).toEqual([U.EVENT_TRANSDUCER_FAULT, 0, U.HEALTH_PHYSICAL]);
    expect(events.map(([code]) => code)).not.toContain(U.EVENT_TEST_OFF);
  });

  test("[CAUT-037] a reset starts as fresh: no caution, no number, no events of the past", () => {
    stage.configure();
    stage.tracked(0, { levelPk: 9 });
    const first = stage.step();
    stage.step();
    stage.run.stepReset();
    stage.run.recordsReset();
    stage.stepCount = 0;
    expect(stage.step()).toEqual(first);
  });
});
