import { describe, expect, it } from "vitest";
import * as U from "../../../shared/units.ts";
import type { EventRecord } from "../../../host/record-types.ts";
import type { Expectation } from "../../../harness/scene/scene.ts";
import { EVENT_NAMES } from "../../../harness/judge/event-names.ts";
import type { EventTruth } from "../../../harness/truth/types.ts";
import { CLIMB, cautionScene, judged, named } from "./caution-flight.ts";
import { encode, fly } from "./fake-flight.ts";

function lost(tick: number, over: Partial<EventRecord> = {}): EventRecord {
  return {
    kind: "event",
    code: U.EVENT_REFERENCE_LOST,
    source: 0,
    sequence: 0,
    tick,
    revolution: 0,
    speedRevPerS: 0,
    re: 0,
    im: 0,
    level: 0,
    shownCounts: 0,
    detail: 0,
    ...over,
  };
}

function due(fromTick: number, untilTick: number, over: Partial<EventTruth> = {}): EventTruth {
  const why = "drop-out";
  return { code: U.EVENT_REFERENCE_LOST, source: 0, fromTick, untilTick, why, ...over };
}

function eventsCheck(events: EventTruth[], deviceEvents: EventRecord[]) {
  const one = cautionScene();
  return named(judged(one, fly(one, CLIMB, { events, deviceEvents })), "events");
}

describe("device events", () => {
  it.each<[string, EventTruth[], EventRecord[], string | undefined]>([
    ["one in its window is right", [due(100, 200)], [lost(150)], undefined],
    ["the ends belong to the window", [due(100, 100)], [lost(100)], undefined],
    ["a missing one is wrong", [due(100, 200)], [], "missing"],
    ["one outside its window is wrong", [due(100, 200)], [lost(201)], "not expected"],
    ["a second one is wrong", [due(100, 200)], [lost(150), lost(160)], "not expected"],
    ["another source is wrong", [due(100, 200)], [lost(150, { source: 1 })], "not expected"],
    [
      "another detail is wrong",
      [due(1, 9, { detail: 3 })],
      [lost(5, { detail: 4 })],
      "not expected",
    ],
    ["overlapping windows take one each", [due(0, 9), due(5, 20)], [lost(6), lost(8)], undefined],
    ["one that may come may stay away", [due(0, 9, { isOptional: true })], [], undefined],
    ["one that may come may come once", [due(0, 9, { isOptional: true })], [lost(1)], undefined],
    [
      "and no more often than is said",
      [due(0, 9, { isOptional: true, countMax: 2 })],
      [lost(1), lost(2), lost(3)],
      "not expected",
    ],
    [
      "what must come is served before what may",
      [due(0, 99, { isOptional: true }), due(0, 99)],
      [lost(1)],
      undefined,
    ],
    [
      "records lost are never expected",
      [],
      [lost(5, { code: U.EVENT_RECORDS_LOST })],
      "records-lost",
    ],
  ])("[JUDGE-070] %s", (_, events, records, wrong) => {
    const check = eventsCheck(events, records);
    expect(check.isRight).toBe(wrong === undefined);
    if (wrong !== undefined) expect(check.why).toContain(wrong);
  });
});

describe("events of a display", () => {
  it("[JUDGE-071] agree with the level record of their step in every field", () => {
    const one = cautionScene();
    const flight = fly(one, CLIMB);
    const at = flight.records.findIndex(
      (record) => record.kind === "event" && record.code === U.EVENT_CAUTION_ON,
    );
    const event = flight.records[at] as EventRecord;
    const fields = ["level", "re", "im", "revolution", "speedRevPerS", "shownCounts"] as const;
    for (const field of fields) {
      const records = flight.records.with(at, { ...event, [field]: event[field] + 1 });
      const check = named(judged(one, flight, encode(records)), "events");
      expect(check.why, field).toContain("disagrees with the level record");
    }
  });

  it("[JUDGE-072] have a name each", () => {
    const codes = Object.entries(U).filter(([name]) => name.startsWith("EVENT_"));
    expect(codes.map(([, code]) => EVENT_NAMES[code])).not.toContain(undefined);
    expect(new Set(Object.values(EVENT_NAMES)).size).toBe(codes.length);
  });
});

describe("counters", () => {
  it("[JUDGE-073] are right inside the range that the truth states, ends included", () => {
    const one = cautionScene();
    const range = (min: number, max: number) => {
      const counters = [{ name: "edges" as const, index: 0, min, max, why: "80 a second" }];
      return named(judged(one, fly(one, CLIMB, { counters })), "counters");
    };
    expect(range(800, 800).isRight).toBe(true);
    expect(range(801, 900).why).toBe(
      "counter edges[0] reads 800 at the end, expected 801 to 900 (80 a second); " +
        "1 of 1 counter wrong.",
    );
    expect(range(700, 799).isRight).toBe(false);
    expect(range(790, 809).smallestCaught).toBe(20);
  });
});

describe("the scenario's own statements", () => {
  it.each<[string, Partial<Expectation>, string | undefined]>([
    ["a caution that must never come", { cautionNever: [{ filter: 0 }] }, "it came at 5.3 s"],
    ["on within", { cautionOnWithin: [{ filter: 0, fromS: 5, untilS: 6 }] }, undefined],
    ["not on within", { cautionOnWithin: [{ filter: 0, fromS: 1, untilS: 4 }] }, "expected on"],
    ["off within", { cautionOffWithin: [{ filter: 0, fromS: 15, untilS: 16 }] }, undefined],
    ["not off within", { cautionOffWithin: [{ filter: 0, fromS: 7, untilS: 9 }] }, "expected off"],
    ["an event", { events: [{ name: "caution-on", source: 0, fromS: 5, untilS: 6 }] }, undefined],
    [
      "an event that stays away",
      { events: [{ name: "index-lost", source: 0, fromS: 5, untilS: 6 }] },
      "did not come",
    ],
    ["an event that never comes", { eventsNever: [{ name: "index-lost" }] }, undefined],
    ["an event that must not", { eventsNever: [{ name: "caution-off" }] }, "must never come"],
    ["a counter", { counters: [{ name: "edges", index: 0, min: 1, max: 900 }] }, undefined],
    ["a wrong counter", { counters: [{ name: "edges", index: 1, min: 1, max: 9 }] }, "edges[1]"],
    ["no such counter", { counters: [{ name: "magic", index: 0, min: 0, max: 9 }] }, "magic"],
  ])("[JUDGE-074] %s", (_, over, wrong) => {
    const one = cautionScene({ expectation: { eitherShare: 0.02, ...over } });
    const check = named(judged(one, fly(one, CLIMB)), "expectation");
    expect(check.isRight).toBe(wrong === undefined);
    if (wrong !== undefined) expect(check.why).toContain(wrong);
  });
});
