import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Amount } from "../../host/quantity.ts";
import {
  amountPk,
  DETECTORS,
  levelFactor,
  parseLevelUnit,
  parseQuantity,
  VIBRATION,
} from "../../host/quantity.ts";
import type { Detector } from "../../host/profile/types.ts";
import { standardWriting, WRITINGS } from "../../host/unit-writings.ts";
import { TEST_SEED } from "../kit/seed.ts";

/** Exact conversions: what f64 leaves over. */
const EXACT = 1e-12;
const RULE = { dimensions: VIBRATION, detectors: DETECTORS };

function read(text: string): Amount {
  const parsed = parseQuantity(text, RULE);
  if (typeof parsed === "string") throw new Error(`${text} ${parsed}`);
  return parsed;
}

describe("units", () => {
  it("[PROF-001] turns every unit of speed, time, angle, mass and unbalance into SI", () => {
    const si = (text: string, dimension: Amount["dimension"]): number => {
      const parsed = parseQuantity(text, { dimensions: [dimension] });
      if (typeof parsed === "string") throw new Error(parsed);
      return parsed.value;
    };
    expect(si("4800 r/min", "speed")).toBe(80);
    expect(si("1 r/min/s", "speed rate")).toBe(1 / 60);
    expect(si("250 ms", "time")).toBe(0.25);
    expect(si("1.5 h", "time")).toBe(5400);
    expect(si("3 us", "time")).toBe(3e-6);
    expect(si("80 MHz", "frequency")).toBe(80e6);
    expect(si("180 deg", "angle")).toBeCloseTo(Math.PI, 15);
    expect(si("0.5 rev", "angle")).toBeCloseTo(Math.PI, 15);
    expect(si("250 g", "mass")).toBe(0.25);
    expect(si("1000 g mm", "unbalance")).toBe(1e-3);
    expect(si("2 kg·m", "unbalance")).toBe(2);
    expect(si("2 %", "share")).toBe(0.02);
    // 1 oz in = 720.0778873749999 g mm: the ounce of SP 330 times the inch (check value B-11).
    expect(si("1 oz in", "unbalance") / 1e-6).toBeCloseTo(720.0778873749999, 9);
  });

  it.each([
    ["4800", /needs a unit \(r\/min, rev\/s\)/],
    ["4800 Hz", /must be in r\/min, rev\/s; "4800 Hz" is a frequency/],
    ["4800 rpm", /unknown unit "rpm"/],
    ["fast", /must be a number with a unit/],
    ["nan r/min", /must be a number with a unit/],
    ["1e999 r/min", /must be a number with a unit/],
    ["0.01 rev/sample", /is a speed in samples/],
    ["4800 r/min pk", /takes no detector/],
    ["", /must be a number with a unit/],
  ])("[PROF-002] refuses the speed %j and says what is allowed", (text, sentence) => {
    expect(parseQuantity(text, { dimensions: ["speed"] })).toMatch(sentence);
  });

  it.each([
    ["1.2 in/s", /must name its detector \(pk, rms, pk-pk\)/],
    ["1.2 in/s peak", /must name its detector as pk, rms, pk-pk, found "peak"/],
    ["1.2 pk", /needs a unit/],
    ["1.2 Hz pk", /is a frequency/],
  ])("[PROF-003] refuses the amplitude %j and says what is allowed", (text, sentence) => {
    expect(parseQuantity(text, RULE)).toMatch(sentence);
  });

  it("[PROF-004] a level's factor undoes the reading of the same unit and detector", () => {
    const units = ["g", "m/s²", "in/s", "mm/s", "m/s", "mil", "um", "mm", "m", "in", "units"];
    fc.assert(
      fc.property(
        fc.constantFrom(...units),
        fc.constantFrom<Detector>("pk", "rms", "pk-pk"),
        fc.double({ min: 1e-6, max: 1e6, noNaN: true }),
        (unit, detector, number) => {
          const amount = read(`${number} ${unit} ${detector}`);
          const back = levelFactor(unit, detector) * amountPk(amount);
          expect(Math.abs(back / number - 1)).toBeLessThan(EXACT);
        },
      ),
      { seed: TEST_SEED },
    );
  });

  it("[PROF-005] never throws, whatever the text", () => {
    fc.assert(
      fc.property(fc.string({ unit: "binary" }), (text) => {
        const parsed = parseQuantity(text, RULE);
        if (typeof parsed !== "string") expect(Number.isFinite(parsed.value)).toBe(true);
      }),
      { seed: TEST_SEED },
    );
  });

  const ALL = [...VIBRATION, "frequency", "speed", "speed rate", "time", "angle", "mass"] as const;
  const READ = { dimensions: [...ALL, "unbalance", "share"] as Amount["dimension"][] };

  it.each(
    WRITINGS.flatMap(([standard, others]) => others.split(" ").map((one) => [one, standard])),
  )("[PROF-006] %j is refused, and %j written instead", (found, standard) => {
    const other = String(found);
    expect(standardWriting(other, standard as string[])).toBe(standard[0]);
    for (const timeUnit of ["s", "sample"] as const) {
      for (const one of standard) {
        // Each dimension by itself: Hz and rev/s are units, and no writings of each other.
        const serving = READ.dimensions.filter((dimension) => {
          return (
            typeof parseQuantity(`1 ${one}`, { dimensions: [dimension], timeUnit }) !== "string"
          );
        });
        for (const dimension of serving) {
          const rule = { dimensions: [dimension], timeUnit };
          expect(parseQuantity(`1 ${other}`, rule)).toContain(`; write "${one}"`);
        }
      }
    }
  });

  const HINTS: [text: string, rule: Parameters<typeof parseQuantity>[1], hint: string][] = [
    [
      "4800 rpm",
      { dimensions: ["speed"] },
      'has an unknown unit "rpm" (allowed: r/min, rev/s); write "r/min"',
    ],
    ["4800 RPM", { dimensions: ["speed"] }, '; write "r/min"'],
    ["80 Hz", { dimensions: ["speed"] }, '"80 Hz" is a frequency; write "rev/s"'],
    ["80 rev/s", { dimensions: ["frequency"] }, '"80 rev/s" is a speed; write "Hz"'],
    ["12.8 KHZ", { dimensions: ["frequency"] }, '; write "kHz"'],
    ["1.2 ips pk", RULE, '; write "in/s"'],
    ["1 g's pk", RULE, '; write "g"'],
    ["5 mils pk-pk", RULE, 'has an unknown unit "mils"'],
    ["5 mils pk-pk", RULE, '; write "mil"'],
    ["1.2 in/s peak", RULE, 'found "peak" in "1.2 in/s peak"; write "pk"'],
    ["1.2 in/s RMS", RULE, '; write "rms"'],
    ["5 mil p-p", RULE, '; write "pk-pk"'],
    ["4,800 r/min", { dimensions: ["speed"] }, "must be a number without a comma"],
    ["1,2 in/s pk", RULE, "with a point for decimals"],
  ];
  it.each(HINTS)("[PROF-006] %j: the sentence says what to write", (text, rule, hint) => {
    expect(parseQuantity(text, rule)).toContain(hint);
  });

  it.each([
    ["the case of mHz, which is its size", "80 mHz", ["frequency"]],
    ["r/min where a frequency is meant, which would be another number", "120 rpm", ["frequency"]],
    ["a unit that is none", "3 furlongs", ["speed"]],
  ] as const)("[PROF-006] guesses nothing from %s", (_, text, dimensions) => {
    const complaint = parseQuantity(text, { dimensions });
    expect(complaint).toContain("has an unknown unit");
    expect(complaint).not.toContain("write");
  });

  it.each([
    ["ips pk", "in/s pk"],
    ["in/s peak", "in/s pk"],
    ["IPS RMS", "in/s rms"],
    ["mils p-p", "mil pk-pk"],
  ])("[PROF-006] a level in %j: write %j", (text, standard) => {
    expect(parseLevelUnit(text)).toContain(`found "${text}"; write "${standard}"`);
    expect(typeof parseLevelUnit(standard)).toBe("object");
  });

  it.each(["in/s", "foo pk", "in/s mean"])("[PROF-006] a level in %j: no guess", (text) => {
    expect(parseLevelUnit(text)).toMatch(/must be a unit and a detector .*found "[^"]*"$/);
  });
});
