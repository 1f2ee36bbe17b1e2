// What an adapter's calls may give: anything. Each wrong shape is a sentence with file, call and field.
import { describe, expect, it } from "vitest";
import fc from "fast-check";
import {
  AdapterWrong,
  bytesOf,
  plainBytes,
  plainCapabilities,
  plainCounters,
  plainFacts,
  plainReadings,
} from "../../../harness/adapter/adapter-answer.ts";
import { messageOf } from "../../../host/error-message.ts";
import { cleanCounters } from "../../kit/clean-counters.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const FILE = "my box.mjs";
const FACTS = { name: "Box", identity: "no. 1", clock: "own" };
const WHO = { identity: "x", layoutVersion: 1, numericsVersion: 1, sampleFormats: ["f32"] };
const READING = { timeS: 1, filter: "fan", shown: 2 };
const read = (value: unknown) => plainReadings(FILE, value, ["fan", "core"]);
const thrower = (field: string): object =>
  Object.defineProperty({ ...READING }, field, {
    get() {
      throw new Error("no cable");
    },
  });

/** A list with nothing at its second place. */
function holed(): unknown[] {
  const list: unknown[] = [READING];
  list[2] = READING;
  return list;
}

const READINGS: [name: string, value: unknown, said: string][] = [
  ["nothing", undefined, "play() must give a list of readings, not nothing"],
  ["an object", { 0: READING }, "play() must give a list of readings, not an object"],
  ["none", [], "play() gave no reading at all"],
  ["a hole", holed(), "reading 2 must be an object with timeS, filter and shown"],
  ["a list in it", [[1, "fan", 2]], "reading 1 must be an object with timeS, filter and shown"],
  ["no time", [{ ...READING, timeS: undefined }], "reading 1: timeS must be a number, not nothing"],
  ["a time NaN", [{ ...READING, timeS: NaN }], "reading 1: timeS must be a number, not NaN"],
  ["a time without end", [{ ...READING, timeS: Infinity }], "timeS must be a number, not Infinity"],
  ["a time as text", [{ ...READING, timeS: "1" }], 'timeS must be a number, not the text "1"'],
  [
    "times that go back",
    [READING, { ...READING, timeS: 0.5 }],
    "reading 2: timeS is 0.5, before the 1 of the one above it; times must ascend",
  ],
  ["no number's name", [{ timeS: 1, shown: 2 }], "filter must be one of fan, core, as the profile"],
  ["another's name", [{ ...READING, filter: "x" }], 'has them, not the text "x"'],
  ["no number", [{ ...READING, shown: undefined }], "shown must be a number, not nothing"],
  ["a number NaN", [{ ...READING, shown: NaN }], "reading 1: shown must be a number, not NaN"],
  [
    "a number as text",
    [{ ...READING, shown: "2.0" }],
    'shown must be a number, not the text "2.0"',
  ],
  [
    "a number null",
    [{ ...READING, shown: null, isValid: false }],
    "shown must be a number, not null",
  ],
  ["a validity as text", [{ ...READING, isValid: "no" }], "isValid must be true or false"],
  [
    "a caution as a number",
    [{ ...READING, isCaution: 1 }],
    "isCaution must be true or false, not 1",
  ],
  ["a speed NaN", [{ ...READING, speedRevPerS: NaN }], "speedRevPerS must be a number, not NaN"],
  ["a speed as text", [{ ...READING, speedRevPerS: "40" }], "speedRevPerS must be a number"],
  ["a field that throws", [thrower("shown")], "play() cannot be read: no cable"],
];

const OTHERS: [name: string, look: () => unknown, said: string][] = [
  ["facts: nothing", () => plainFacts(FILE, undefined), "facts() must be an object with name"],
  ["facts: no name", () => plainFacts(FILE, { ...FACTS, name: " " }), "facts(): name must be text"],
  [
    "facts: a number for an identity",
    () => plainFacts(FILE, { ...FACTS, identity: 7 }),
    "facts(): identity must be text, not 7",
  ],
  [
    "facts: no such clock",
    () => plainFacts(FILE, { ...FACTS, clock: "mine" }),
    'facts(): clock must be "host" or "own", not the text "mine"',
  ],
  ["open: a list", () => plainCapabilities(FILE, []), "open() must be an object that says who"],
  [
    "open: no version",
    () => plainCapabilities(FILE, { ...WHO, numericsVersion: NaN }),
    "open(): numericsVersion must be a whole number, 0 or more, not NaN",
  ],
  [
    "open: half a version",
    () => plainCapabilities(FILE, { ...WHO, layoutVersion: 0.5 }),
    "open(): layoutVersion must be a whole number, 0 or more, not 0.5",
  ],
  [
    "open: no such format",
    () => plainCapabilities(FILE, { ...WHO, sampleFormats: ["f64"] }),
    'open(): sampleFormats must be a list of "f32" and "i16", not a list of 1',
  ],
  [
    "configure: nothing",
    () => bytesOf(FILE, "configure()", null, "bytes"),
    "configure() must be an",
  ],
  [
    "configure: a list",
    () => bytesOf(FILE, "configure()", { bytes: [1] }, "bytes"),
    "configure(): bytes must be bytes (a Uint8Array), not a list of 1",
  ],
  [
    "feed: text",
    () => plainBytes(FILE, "feed()", "00"),
    'feed() must be bytes (a Uint8Array), not the text "00"',
  ],
  [
    "finish: no counters",
    () => plainCounters(FILE, { records: new Uint8Array(0) }),
    "finish(): counters must be an object, not nothing",
  ],
  [
    "finish: a counter that is none",
    () => plainCounters(FILE, { counters: { ...cleanCounters({}), blocks: -1 } }),
    "finish(): counters: blocks must be a whole number, 0 or more, not -1",
  ],
  [
    "finish: a counter too few",
    () => plainCounters(FILE, { counters: { ...cleanCounters({}), edges: [0] } }),
    "finish(): counters: edges must be a list of 2 whole numbers, 0 or more, not a list of 1",
  ],
  [
    "finish: a counter that is text",
    () => plainCounters(FILE, { counters: { ...cleanCounters({}), edges: [0, "0"] } }),
    'finish(): counters: edges[1] must be a whole number, 0 or more, not the text "0"',
  ],
];

describe("what an adapter gives", () => {
  it.each(READINGS)("[ADAPT-001] readings: %s", (_name, value, said) => {
    expect(() => read(value)).toThrow(AdapterWrong);
    expect(() => read(value)).toThrow(`${FILE}: play()`);
    expect(() => read(value)).toThrow(said);
  });

  it.each(OTHERS)("[ADAPT-002] %s", (_name, look, said) => {
    expect(look).toThrow(AdapterWrong);
    expect(look).toThrow(`${FILE}: ${said}`);
  });

  it("[ADAPT-003] what is right is taken over as plain data, and no more", () => {
    const valid = { ...READING, isValid: true, isCaution: false, speedRevPerS: 40 };
    const given = [
      { ...valid, more: "x" },
      { timeS: 1, filter: "core", shown: NaN, isValid: false },
    ];
    const plain = read(given);
    expect(plain).toEqual([valid, { timeS: 1, filter: "core", shown: NaN, isValid: false }]);
    given[0]!.shown = 9;
    expect(plain[0]!.shown).toBe(2);
    // A box that says that its number is not valid need not know its speed.
    expect(read([{ ...READING, isValid: false, speedRevPerS: NaN }])[0]).not.toHaveProperty(
      "speedRevPerS",
    );
    expect(plainFacts(FILE, { ...FACTS, more: 1 })).toEqual(FACTS);
    expect(plainCapabilities(FILE, { ...WHO, kind: "x" })).toEqual(WHO);
    const counters = cleanCounters({ blocks: 3, edges: [4, 5] });
    expect(plainCounters(FILE, { counters: { ...counters, more: 1 } })).toEqual(counters);
  });

  it("[ADAPT-004] anything at all is taken over whole or told, and nothing else is thrown", () => {
    const looks = [
      read,
      (value: unknown) => read([READING, value]),
      (value: unknown) => read([{ ...READING, ...(value as object) }]),
      (value: unknown) => plainFacts(FILE, value),
      (value: unknown) => plainCapabilities(FILE, value),
      (value: unknown) => plainCounters(FILE, { counters: value }),
      (value: unknown) => bytesOf(FILE, "configure()", value, "bytes"),
    ];
    fc.assert(
      fc.property(fc.anything({ withNullPrototype: true, withBigInt: true }), (value) => {
        for (const look of looks) {
          try {
            look(value);
          } catch (error) {
            expect(error).toBeInstanceOf(AdapterWrong);
            expect(messageOf(error)).toContain(`${FILE}: `);
          }
        }
      }),
      { seed: TEST_SEED, numRuns: 400 },
    );
  });

  it("[ADAPT-005] whatever is thrown has words", () => {
    const strange = Object.assign(Object.create(null) as object, { a: 1 });
    const dumb = new Error("x");
    Object.defineProperty(dumb, "message", {
      get() {
        throw new Error("again");
      },
    });
    expect(messageOf(strange)).toBe("something was thrown that says nothing");
    expect(messageOf(dumb)).toBe("something was thrown that says nothing");
    expect([messageOf(new Error("gone")), messageOf("off"), messageOf(undefined)]).toEqual([
      "gone",
      "off",
      "undefined",
    ]);
  });
});
