import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Amount } from "../../host/quantity.ts";
import { amountPk, DETECTORS, levelFactor, parseQuantity, VIBRATION } from "../../host/quantity.ts";
import type { Detector } from "../../host/profile/types.ts";
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
});
