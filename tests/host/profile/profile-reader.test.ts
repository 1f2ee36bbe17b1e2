import { describe, expect, it } from "vitest";
import { InputError } from "../../../host/input-error.ts";
import { parseProfile } from "../../../host/profile/profile-reader.ts";

const MINIMAL = `monitor: my fan
channels:
  fan frame: {}
shafts:
  N1: {}
filters:
  fan vibration: { caution: { level: 4.0 } }
`;

/** The complaints of a profile in which one line was changed, without the file's name. */
function complaints(...changes: [from: string, to: string][]): string[] {
  let text = MINIMAL;
  for (const [from, to] of changes) {
    if (!text.includes(from)) throw new Error(`nothing reads ${from}`);
    text = text.replace(from, to);
  }
  try {
    parseProfile("p", text);
  } catch (error) {
    if (error instanceof InputError) return error.message.split("\n").map((line) => line.slice(2));
    throw error;
  }
  return [];
}

const channel = (fields: string): [string, string] => ["fan frame: {}", `fan frame: {${fields}}`];
const shaft = (fields: string): [string, string] => ["N1: {}", `N1: {${fields}}`];
const filter = (fields: string): [string, string] => ["{ caution: { level: 4.0 } }", `{${fields}}`];

describe("a profile", () => {
  it("[PROF-020] needs no more than names: the rest has defaults", () => {
    const profile = parseProfile("p", MINIMAL);
    expect(profile).toMatchObject({
      clockHz: 80e6,
      sampleRateHz: 12_800,
      displayPeriodS: 0.25,
      timeUnit: "s",
      channels: [{ name: "fan frame", quantity: "velocity", range: 2.54 }],
      shafts: [{ name: "N1", positions: 1, speedMinRevPerS: 10, timeoutS: 0.25 }],
    });
    expect(profile.filters[0]).toMatchObject({
      unit: "in/s",
      detector: "pk",
      bandwidth: { kind: "fixed", fullWidthHz: 1 },
      display: { countsMax: 100, caution: { levelCounts: 40, hysteresisCounts: 0 } },
    });
  });

  it.each([120, 200, 305, 12_800])(
    "[PROF-027] the clock that is taken at %i Hz is one that the firmware takes",
    (rate) => {
      const text = MINIMAL.replace(
        "channels:",
        `sample rate: ${rate} Hz\ndisplay period: 20 s\nchannels:`,
      );
      const found = parseProfile("p", text).clockHz / rate;
      expect(Number.isInteger(found)).toBe(true);
      expect(found).toBe(Math.min(262_144, Math.round(80e6 / rate)));
    },
  );

  it("[PROF-021] tells several complaints at once, in the order of the file", () => {
    const three = complaints(
      ["monitor: my fan", "monitr: my fan"],
      channel(" range: 50 "),
      shaft(" lowest speed: -3 r/min "),
    );
    expect(three).toEqual([
      "1:1: monitor is missing",
      '1:1: unknown key "monitr" (did you mean "monitor"?)',
      "3:23: range needs a unit (g, m/s², mm/s², um/s², in/s², in/s, mm/s, m/s, nm/s, mil, um, " +
        "mm, m, in, units with pk), found 50",
      '5:23: lowest speed must be > 0 r/min, found "-3 r/min"',
    ]);
  });

  it.each<[string, [string, string], RegExp]>([
    ["NaN", filter(" caution: { level: .nan } "), /level must be a number, found NaN/],
    ["infinity", filter(" caution: { level: .inf } "), /level must be a number, found Infinity/],
    ["text in a number", filter(" order: one "), /order must be a .*number, found "one"/],
    ["a broken order", filter(" order: 1.5 "), /order must be a whole number, found 1.5/],
    ["an order of 0", filter(" order: 0 "), /order must be >= 1, found 0/],
    ["another dimension", filter(" bandwidth: 3 r/min "), /bandwidth must be in Hz, .*is a speed/],
    ["a unit alone", filter(" level: in/s "), /level must be a unit and a detector/],
    ["a wrong choice", channel(" measures: speed "), /measures must be one of acceleration/],
    ["too many positions", shaft(" positions: 256 "), /positions must be <= 255, found 256/],
    ["an unknown channel", filter(" channel: fan fram "), /names no channel: .*"fan frame"/],
    [
      "a name with a digit first",
      ["fan vibration: {", "1X: {"],
      /a name must start with a letter .*, found "1X"; "order 1X" would do/,
    ],
    ["a shaft's name with a digit first", ["N1: {}", "1N: {}"], /a name must start with a letter/],
    [
      "a list for a map",
      ["N1: {}", "N1: [1]"],
      /N1 must be a map of keys and values, found a list/,
    ],
  ])("[PROF-022] refuses %s", (_name, change, sentence) => {
    expect(complaints(change).join("\n")).toMatch(sentence);
  });

  it.each<[string, [string, string], RegExp]>([
    [
      "a caution level between two counts names the nearest",
      filter(" caution: { level: 4.05 } "),
      /level must be a whole count of the display step 0.1, found 4.05; the nearest are 4 and 4.1$/,
    ],
    [
      "a hysteresis between two counts names the nearest",
      filter(" caution: { level: 4, hysteresis: 0.25 } "),
      /hysteresis must be a whole count .* the nearest are 0.2 and 0.3$/,
    ],
    [
      "a delay between two display periods names the nearest",
      filter(" caution: { level: 4, on-delay: 0.3 s } "),
      /on-delay must be a whole number of display periods of 0.25 s, found 0.3 s; the nearest are 0.25 s and 0.5 s$/,
    ],
    [
      "a hysteresis as large as the level",
      filter(" caution: { level: 4, hysteresis: 4 } "),
      /hysteresis must be < the caution level 4, found 4$/,
    ],
    [
      "a caution level off the scale",
      filter(" caution: { level: 10.1 } "),
      /level must not be above the top of the display \(10\), found 10.1$/,
    ],
    [
      "a display period of broken samples",
      ["channels:", "display period: 0.1 ms\nchannels:"],
      /display period must be a whole number of samples, found 1.28 samples; the nearest are/,
    ],
    [
      "a clock that is no whole multiple of the sample rate",
      ["channels:", "edge clock: 80.001 MHz\nchannels:"],
      /edge clock must be a whole multiple of the sample rate 12800 Hz/,
    ],
    [
      "a lowest speed that the pool cannot wait for names both numbers and what would fit",
      shaft(" lowest speed: 300 r/min "),
      /a time-out of 500 ms needs 6532 samples a channel, and 5120 shared by 1 leave 5120; .*389\.688 ms, the lowest speed 384\.924 r\/min$/,
    ],
    [
      "a time-out too short for the lowest speed",
      shaft(" time-out: 100 ms "),
      /time-out must be at least 2.5 knot intervals at the lowest speed, 250 ms, found 100 ms$/,
    ],
    [
      "a lowest speed above the highest",
      shaft(" lowest speed: 6000 r/min, highest speed: 5000 r/min "),
      /lowest speed must be below the highest speed \(5000 r\/min\), found 6000 r\/min/,
    ],
    [
      "a validity limit below the lowest speed",
      shaft(" valid from: 500 r/min "),
      /valid from must not be below the lowest speed/,
    ],
    [
      "a missing tooth on three positions",
      shaft(" positions: 3, index: missing tooth "),
      /index missing tooth needs 4 positions, found 3/,
    ],
    [
      "an index on a geared shaft",
      shaft(" positions: 30, per revolutions: 7, index: extra edge "),
      /index must be none on a geared shaft/,
    ],
    [
      "a level that would need differentiation",
      filter(" level: g pk "),
      /level is acceleration, which a velocity channel \("fan frame"\) cannot give/,
    ],
    [
      "a health check on the wrong kind of transducer",
      channel(" health: { bias: { low: 1 in/s, high: 2 in/s } } "),
      /bias serves powered transducers only; this one is coil/,
    ],
    [
      "a table of response beside filters",
      channel(
        " response: { low pass: { corner: 1 kHz }, table: [ { frequency: 1 Hz, gain: 1 } ] } ",
      ),
      /response may hold either a table or high pass and low pass/,
    ],
    [
      "a high order at a high speed",
      [
        "  N1: {}\nfilters:\n  fan vibration: {",
        "  N1: { highest speed: 24000 r/min }\nfilters:\n  fan vibration: { order: 20,",
      ],
      /order 20 at the highest speed 24000 r\/min of "N1" is not below half the sample rate; .* < 19200 r\/min/,
    ],
    [
      "a substitute that is the filter itself",
      filter(" display: { substitute: fan vibration } "),
      /substitute must be another filter than this one/,
    ],
    [
      "a lowest speed above the highest, told once",
      shaft(" lowest speed: 9600 r/min, highest speed: 7200 r/min "),
      /^[^\n]*lowest speed must be below the highest speed \(7200 r\/min\), found 9600 r\/min$/,
    ],
    [
      "a hysteresis that reaches the highest speed",
      shaft(" valid hysteresis: 24000 r/min "),
      /valid hysteresis above the lowest speed must stay below the highest speed \(24000 r\/min\), found 24600 r\/min/,
    ],
    [
      "a speed from which the number counts, with its hysteresis",
      shaft(" valid from: 23000 r/min, valid hysteresis: 1000 r/min "),
      /valid from and its hysteresis must stay below the highest speed \(24000 r\/min\), found 24000 r\/min/,
    ],
    [
      "evidence from a shaft that is not there",
      shaft(" evidence of turning: [other shaft] "),
      /names the other shaft, but there is none/,
    ],
  ])("[PROF-023] contradictions: %s", (_name, change, sentence) => {
    expect(complaints(change).join("\n")).toMatch(sentence);
  });

  it("[PROF-024] refuses more than the firmware carries", () => {
    const many = Array.from({ length: 9 }, (_, at) => `  filter ${at}: {}`).join("\n");
    expect(complaints(["  fan vibration: { caution: { level: 4.0 } }", many]).join("\n")).toMatch(
      /filters must hold 1 to 8, found 9/,
    );
    expect(complaints(["  N1: {}", "  N1: {}\n  N2: {}\n  N3: {}"]).join("\n")).toMatch(
      /shafts must hold 1 to 2, found 3/,
    );
  });

  it("[PROF-025] the lowest speed that a refusal names does fit", () => {
    expect(complaints(shaft(" lowest speed: 384.924 r/min "))).toEqual([]);
    expect(complaints(shaft(" lowest speed: 384.92 r/min "))).toHaveLength(1);
  });

  it("[PROF-026] a recording without unit and sample rate counts samples", () => {
    const profile = parseProfile(
      "p",
      `monitor: a recording
time: samples
channels: { x: { measures: unstated } }
shafts: { N1: { lowest speed: 0.001 rev/sample, highest speed: 0.01 rev/sample } }
filters: { one: { display: { hold: 6400 samples } } }
`,
    );
    expect(profile).toMatchObject({ timeUnit: "sample", sampleRateHz: 1, displayPeriodS: 3200 });
    expect(profile.filters[0]).toMatchObject({
      quantity: "unstated",
      unit: "units",
      bandwidth: { kind: "proportional", fullWidthRatio: 0.02 },
      display: { holdSteps: 2 },
    });
    expect(() => parseProfile("p", "monitor: a\ntime: samples\nsample rate: 1 kHz\n")).toThrow(
      /sample rate must be one of unstated/,
    );
  });
});
