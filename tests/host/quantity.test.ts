import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Amount } from "../../host/quantity.ts";
import {
  amountPk,
  DETECTORS,
  fromPk,
  GRAVITY_M_PER_S2,
  levelFactor,
  parseLevelUnit,
  parseQuantity,
  sineIn,
  VIBRATION,
} from "../../host/quantity.ts";
import type { Detector, Quantity } from "../../host/profile/types.ts";
import { TEST_SEED } from "../kit/seed.ts";

/** Exact conversions: what f64 leaves over. */
const EXACT = 1e-12;
const RULE = { dimensions: VIBRATION, detectors: DETECTORS };

function read(text: string): Amount {
  const parsed = parseQuantity(text, RULE);
  if (typeof parsed === "string") throw new Error(`${text} ${parsed}`);
  return parsed;
}

/** A sine that is written one way, read in another quantity, unit and detector. */
function reads(text: string, frequencyHz: number, level: string): number {
  const amount = read(text);
  const wanted = parseLevelUnit(level);
  if (typeof wanted === "string") throw new Error(`${level} ${wanted}`);
  const from = amount.dimension as Quantity;
  return wanted.factor * sineIn(amountPk(amount), from, wanted.quantity, frequencyHz);
}

/** Check values with their sources; figures follow from the definitions of the units. */
const ROWS: readonly [id: string, source: string, found: () => number, wanted: number][] = [
  ["U-01", "CGPM 1901; ISO 80000-3", () => read("1 g pk").value, 9.80665],
  [
    "U-02",
    "ASA terms 2.55",
    () => read("1 g pk").value / read("1 in/s² pk").value,
    386.0885826771654,
  ],
  ["U-03", "SP 330 table of exact factors", () => reads("1 in pk", 1, "mm pk"), 25.4],
  ["U-03", "SP 330 table of exact factors", () => reads("1 mil pk", 1, "um pk"), 25.4],
  ["U-04", "definition", () => reads("1 g pk", 1, "in/s pk"), 61.44790640441478],
  ["U-05", "NASA GSFC FEMCI, 2002", () => reads("1 in pk-pk", 1, "g pk"), 0.0511261137672232],
  ["U-06", "definition", () => reads("1 g pk", 1, "in pk-pk"), 19.55947609382149],
  ["U-07", "definition", () => reads("1 g pk", 1, "in pk"), 9.779738046910746],
  ["U-08", "definition", () => reads("1 in/s pk", 1, "g pk"), 0.016273947454264352],
  ["U-09", "definition", () => reads("1 g rms", 1, "in/s pk"), 86.90046261655596],
  ["U-10", "definition", () => reads("1 g rms", 1, "mil pk-pk"), 27661.27636479468],
  ["U-11", "definition", () => reads("1 in/s pk", 1, "mil pk-pk"), 318.3098861837907],
  ["U-12", "definition", () => reads("1 g pk", 80, "in/s pk"), 0.7680988300551848],
  ["U-12", "definition", () => reads("1 g pk", 80, "mm/s rms"), 13.795448440378257],
  ["U-12", "definition", () => reads("1 g pk", 80, "mils pk-pk"), 3.056168139659608],
  ["U-13", "definition", () => reads("1 g pk", 60, "in/s pk"), 1.024131773406913],
  ["U-13", "definition", () => reads("1 g pk", 60, "mm/s rms"), 18.393931253837675],
  ["U-13", "definition", () => reads("1 g pk", 60, "um pk-pk"), 138.0029702175183],
  ["U-14", "definition", () => reads("1 in/s pk", 80, "g pk"), 1.301915796341148],
  ["U-14", "definition", () => reads("1 in/s pk", 80, "mil pk-pk"), 3.9788735772973833],
  ["U-14", "definition", () => reads("1 in/s pk", 80, "mm/s rms"), 17.960512242138304],
  ["U-15", "definition", () => reads("1 mm/s rms", 80, "in/s pk"), 0.055677699306027374],
  ["U-15", "definition", () => reads("0.5 in/s pk", 80, "mm/s rms"), 8.980256121069152],
  ["U-16", "definition", () => reads("1 g pk", 61.44790640441478, "in/s pk"), 1],
  [
    "U-17",
    "ISO 16063-44, from memory",
    () => reads("10 m/s² rms", 159.15494309189535, "mm/s rms"),
    10,
  ],
  [
    "U-17",
    "ISO 16063-44, from memory",
    () => reads("10 m/s² rms", 159.15494309189535, "um rms"),
    10,
  ],
  [
    "U-18",
    "ratio of a sine, definition",
    () => reads("1 in/s pk", 1, "in/s rms"),
    0.7071067811865476,
  ],
  ["U-20", "NASA GSFC FEMCI, 2002", () => reads("1 m pk-pk", 1, "m/s² pk"), 19.739208802178716],
  [
    "U-21",
    "ISO 1683, from memory",
    () => read("139.83041351154537 dB re 1 um/s² rms").value,
    GRAVITY_M_PER_S2,
  ],
  ["U-21", "ISO 1683, from memory", () => read("120 dB re 1 nm/s rms").value, 1e-3],
];

describe("units", () => {
  it.each(ROWS)("[PUB-UNITS] %s holds (%s)", (_id, _source, found, wanted) => {
    expect(Math.abs(found() / wanted - 1)).toBeLessThan(EXACT);
  });

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
          expect(fromPk(amountPk(amount), detector) / amount.value).toBeCloseTo(1, 12);
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
