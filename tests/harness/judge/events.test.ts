import { describe, expect, it } from "vitest";
import * as U from "../../../shared/units.ts";
import type { EventRecord } from "../../../host/record-types.ts";
import type { Expectation } from "../../../harness/scene/scene.ts";
import { EVENT_NAMES } from "../../../harness/judge/event-names.ts";
import { COUNTER_WORDS, SourceNames } from "../../../harness/judge/source-names.ts";
import { EVENT_CODES } from "../../../harness/scenario/event-codes.ts";
import { COUNTERS, HEALTH_NAMES } from "../../../harness/scenario/expect-schema.ts";
import type { EventTruth } from "../../../harness/truth/types.ts";
import {
  channelProfile,
  filterProfile,
  monitorProfile,
  shaftProfile,
} from "../../kit/scene-builder.ts";
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
    detail: U.LOST_TIMEOUT,
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
    ["a missing one is wrong", [due(0, 8e7)], [], "expected from 0 s to 1 s (drop-out), none came"],
    [
      "one outside its window is wrong",
      [due(8e7, 16e7)],
      [lost(18e7)],
      "expected from 1 s to 2 s (drop-out), came at 2.25 s: 0.25 s too late; 2 of",
    ],
    [
      "a second one is wrong",
      [due(0, 8e7)],
      [lost(4e7), lost(6e7)],
      'event "reference-lost" came at 0.75 s, expected from 0 s to 1 s (drop-out): one too many',
    ],
    [
      "another source is wrong",
      [],
      [lost(8e7, { source: 1 })],
      'shaft no. 2: event "reference-lost" came at 1 s, none was expected',
    ],
    [
      "another detail is wrong",
      [due(0, 9, { detail: U.LOST_GAP })],
      [lost(8, { detail: U.LOST_SPEED })],
      'came at 0 s and says "speed out of range", expected "gap too long to bridge"',
    ],
    ["overlapping windows take one each", [due(0, 9), due(5, 20)], [lost(6), lost(8)], undefined],
    ["one that may come may stay away", [due(0, 9, { isOptional: true })], [], undefined],
    ["one that may come may come once", [due(0, 9, { isOptional: true })], [lost(1)], undefined],
    [
      "and no more often than is said",
      [due(0, 9, { isOptional: true, countMax: 2 })],
      [lost(1), lost(2), lost(3)],
      "one too many",
    ],
    [
      "what must come is served before what may",
      [due(0, 99, { isOptional: true }), due(0, 99)],
      [lost(1)],
      undefined,
    ],
    [
      "a reason that does not exist is wrong",
      [due(0, 9)],
      [lost(8, { detail: U.LOST_ACCELERATION + 1 })],
      "there is no reason 6",
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

describe("names", () => {
  const names = new SourceNames(
    monitorProfile({
      shafts: [shaftProfile({ name: "N1" }), shaftProfile({ name: "N2" })],
      channels: [channelProfile({ name: "front" }), channelProfile({ name: "rear" })],
      filters: [filterProfile({ name: "fan" }), filterProfile({ name: "core" })],
    }),
  );

  it("[JUDGE-075] stand for the index of every event's source, as a scenario names it", () => {
    const of = { shaft: "shaft N2", channel: "channel rear", filter: "core", device: "device" };
    for (const [name, { code, of: kind }] of EVENT_CODES) {
      expect(names.ofEvent(code, 1), name).toBe(of[kind]);
    }
    expect(names.ofEvent(U.EVENT_REFERENCE_LOST, 7)).toBe("shaft no. 8");
  });

  it("[JUDGE-076] of counters and health checks are the words of a scenario", () => {
    const written = Object.entries(COUNTERS).map(([words, { field, of }]) => [field, words, of]);
    const ours = Object.entries(COUNTER_WORDS).map(([field, { words, of }]) => [field, words, of]);
    expect(ours).toEqual(written);
    expect(names.ofCounter("edgesMissed", 1)).toBe("shaft N2: edges missed");
    expect(names.ofCounter("samples", 0)).toBe("samples");
    HEALTH_NAMES.forEach((name, i) => {
      expect(names.ofCounter("health", i)).toBe(`health check ${name}: health`);
    });
  });

  it("[JUDGE-077] stand for every detail that an event may carry", () => {
    const detail = (code: number, prefix: string): string[] =>
      Object.entries(U)
        .filter(([name]) => name.startsWith(prefix) && name !== "HEALTH_CHECKS")
        .map(([, value]) => names.detail(code, value));
    for (const [code, prefix] of [
      [U.EVENT_REFERENCE_LOST, "LOST_"],
      [U.EVENT_INVALID, "CAUSE_"],
      [U.EVENT_TRANSDUCER_FAULT, "HEALTH_"],
    ] as const) {
      const all = detail(code, prefix);
      expect(all.length).toBeGreaterThan(4);
      expect(new Set(all).size).toBe(all.length);
      expect(all.filter((words) => /\d/.test(words))).toEqual([]);
    }
    expect(names.detail(U.EVENT_SUBSTITUTE_ON, 1)).toBe("core");
    expect(names.detail(U.EVENT_CAUTION_ON, 0)).toBe("");
  });

  it("[JUDGE-078] stand in the list of events, with what their detail says", () => {
    const one = cautionScene();
    const lostOne = lost(8e7, { detail: U.LOST_TIMEOUT });
    const flight = fly(one, CLIMB, { events: [], deviceEvents: [lostOne] });
    const { events } = judged(one, flight);
    const seen = events.map((event) => [event.name, event.of, event.detailText]);
    expect(seen).toContainEqual(["reference-lost", "shaft fan", "time-out"]);
    expect(seen).toContainEqual(["caution-on", "fan order 1", ""]);
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
      "shaft fan: edges: count is 800 at the end, expected 801 to 900 (80 a second): 1 too few; " +
        "1 of 2 counters wrong.",
    );
    expect(range(700, 799).isRight).toBe(false);
    // Samples late are a counter, too, and may not be off by one.
    expect(range(790, 809).smallestCaught).toBe(1);
  });

  it("[JUDGE-079] may not tell of samples that were gone, unless the scenario expects it", () => {
    const late = (expectation: Partial<Expectation>): boolean => {
      const one = cautionScene({ expectation: { eitherShare: 0.02, ...expectation } });
      const flight = fly(one, CLIMB);
      flight.counters.samplesLate = [3, 0];
      return named(judged(one, flight), "counters").isRight;
    };
    expect(late({})).toBe(false);
    expect(late({ counters: [{ name: "samplesLate", index: 0, min: 1, max: 9 }] })).toBe(true);
  });
});

describe("the scenario's own statements", () => {
  it.each<[string, Partial<Expectation>, string | undefined]>([
    ["a caution that must never come", { cautionNever: [{ filter: 0 }] }, "it came at 5.3 s"],
    ["on within", { cautionOnWithin: [{ filter: 0, fromS: 5, untilS: 6 }] }, undefined],
    [
      "not on within",
      { cautionOnWithin: [{ filter: 0, fromS: 1, untilS: 4 }] },
      "the caution was expected on from 1 s to 4 s; it was so from 5.3 s on, 1.3 s after that",
    ],
    ["off within", { cautionOffWithin: [{ filter: 0, fromS: 15, untilS: 16 }] }, undefined],
    [
      "not off within",
      { cautionOffWithin: [{ filter: 0, fromS: 7, untilS: 9 }] },
      "expected off from 7 s to 9 s; it was so until 5.2 s, 1.8 s before that",
    ],
    ["an event", { events: [{ name: "caution-on", source: 0, fromS: 5, untilS: 6 }] }, undefined],
    [
      "an event that stays away",
      { events: [{ name: "index-lost", source: 0, fromS: 5, untilS: 6 }] },
      'shaft fan: event "index-lost" expected from 5 s to 6 s, none came',
    ],
    [
      "an event that comes at another time",
      { events: [{ name: "caution-on", source: 0, fromS: 6, untilS: 7 }] },
      'fan order 1: event "caution-on" expected from 6 s to 7 s, came at 5.3 s: 0.7 s too early',
    ],
    ["an event that never comes", { eventsNever: [{ name: "index-lost" }] }, undefined],
    [
      "an event that must not",
      { eventsNever: [{ name: "caution-off" }] },
      'fan order 1: event "caution-off" must never come; it came at 15.5 s',
    ],
    ["a counter", { counters: [{ name: "edges", index: 0, min: 1, max: 900 }] }, undefined],
    [
      "a wrong counter",
      { counters: [{ name: "edges", index: 1, min: 1, max: 9 }] },
      "shaft no. 2: edges",
    ],
    ["no such counter", { counters: [{ name: "magic", index: 0, min: 0, max: 9 }] }, "magic"],
  ])("[JUDGE-074] %s", (_, over, wrong) => {
    const one = cautionScene({ expectation: { eitherShare: 0.02, ...over } });
    const check = named(judged(one, fly(one, CLIMB)), "expectation");
    expect(check.isRight).toBe(wrong === undefined);
    if (wrong !== undefined) expect(check.why).toContain(wrong);
  });
});
