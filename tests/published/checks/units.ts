// Units: "1.2 in/s pk" read in another quantity, unit and detector by host/quantity.ts.
import { expect } from "vitest";
import {
  amountPk,
  DETECTORS,
  parseLevelUnit,
  parseQuantity,
  sineIn,
  VIBRATION,
} from "../../../host/quantity.ts";
import type { Dimension } from "../../../host/quantity.ts";
import type { Quantity } from "../../../host/profile/types.ts";
import { check, EXACT, isWithin, near, trap } from "../check.ts";

/** SI value of a text that the reader takes. */
export function siValue(text: string, dimension: Dimension): number {
  const isVibration = VIBRATION.includes(dimension);
  const parsed = parseQuantity(text, {
    dimensions: [dimension],
    ...(isVibration && { detectors: DETECTORS }),
  });
  if (typeof parsed === "string") throw new Error(`${text} ${parsed}`);
  return parsed.value;
}

/** A sine that is written one way, read in another quantity, unit and detector. */
export function reads(text: string, frequencyHz: number, level: string): number {
  const amount = parseQuantity(text, { dimensions: VIBRATION, detectors: DETECTORS });
  const wanted = parseLevelUnit(level);
  if (typeof amount === "string" || typeof wanted === "string") throw new Error(`${text} ${level}`);
  const from = amount.dimension as Quantity;
  return wanted.factor * sineIn(amountPk(amount), from, wanted.quantity, frequencyHz);
}

type Case = [text: string, frequencyHz: number, level: string, wanted: number];

const CASES: Record<string, Case[]> = {
  "U-03": [
    ["1 in pk", 1, "mm pk", 25.4],
    ["1 mil pk", 1, "mm pk", 0.0254],
    ["1 mil pk", 1, "um pk", 25.4],
  ],
  "U-04": [["1 g pk", 1, "in/s pk", 61.44790640441478]],
  "U-05": [["1 in pk-pk", 1, "g pk", 0.0511261137672232]],
  "U-06": [["1 g pk", 1, "in pk-pk", 19.55947609382149]],
  "U-07": [["1 g pk", 1, "in pk", 9.779738046910746]],
  "U-08": [["1 in/s pk", 1, "g pk", 0.016273947454264352]],
  "U-09": [["1 g rms", 1, "in/s pk", 86.90046261655596]],
  "U-10": [["1 g rms", 1, "mil pk-pk", 27661.27636479468]],
  "U-11": [["1 in/s pk", 1, "mil pk-pk", 318.3098861837907]],
  "U-12": [
    ["1 g pk", 80, "in/s pk", 0.7680988300551848],
    ["1 g pk", 80, "mm/s rms", 13.795448440378257],
    ["1 g pk", 80, "mil pk-pk", 3.056168139659608],
  ],
  "U-13": [
    ["1 g pk", 60, "in/s pk", 1.024131773406913],
    ["1 g pk", 60, "mm/s rms", 18.393931253837675],
    ["1 g pk", 60, "mil pk-pk", 5.433187803839304],
    ["1 g pk", 60, "um pk-pk", 138.0029702175183],
  ],
  "U-14": [
    ["1 in/s pk", 80, "g pk", 1.301915796341148],
    ["1 in/s pk", 80, "mil pk-pk", 3.9788735772973833],
    ["1 in/s pk", 80, "mm/s rms", 17.960512242138304],
  ],
  "U-15": [
    ["1 mm/s rms", 80, "in/s pk", 0.055677699306027374],
    ["0.5 in/s pk", 80, "mm/s rms", 8.980256121069152],
  ],
  "U-16": [["1 g pk", 61.44790640441478, "in/s pk", 1]],
  "U-17": [
    ["10 m/s² rms", 159.15494309189535, "mm/s rms", 10],
    ["10 m/s² rms", 159.15494309189535, "um rms", 10],
  ],
  "U-18": [["1 in/s pk", 1, "in/s rms", 0.7071067811865476]],
  "U-20": [["1 m pk-pk", 1, "m/s² pk", 19.739208802178716]],
};

check("U-01", "a g is 9.80665 m/s²", () => {
  near(siValue("1 g pk", "acceleration"), 9.80665, EXACT);
});

check("U-02", "a g is 386.0886 in/s²", () => {
  near(reads("1 g pk", 1, "in/s² pk"), 386.0885826771654, EXACT);
});

for (const [id, cases] of Object.entries(CASES)) {
  const what = cases.map(([text, hz, level]) => `${text} at ${hz} Hz in ${level}`).join("; ");
  check(id, what, () => {
    for (const [text, hz, level, wanted] of cases) near(reads(text, hz, level), wanted, EXACT);
  });
}

trap("U-04", "the factor of 61.48, and its inverse 0.016266, are refused", () => {
  const isRight = (factor: number): boolean => Math.abs(factor - 61.4479) <= 0.001;
  expect(isRight(reads("1 g pk", 1, "in/s pk"))).toBe(true);
  expect(isRight(1 / reads("1 in/s pk", 1, "g pk"))).toBe(true);
  for (const wrong of [61.4, 61.44, 61.45, 61.48, 1 / 0.016266]) {
    expect(isRight(wrong)).toBe(false);
  }
});

trap("U-09", "a level without its detector is refused, and g rms is not taken for g pk", () => {
  const rule = { dimensions: VIBRATION, detectors: DETECTORS };
  for (const text of ["1 g", "1 in/s", "1 g peak", "1 mil pp"]) {
    expect(parseQuantity(text, rule)).toMatch(/must name its detector/);
  }
  expect(typeof parseLevelUnit("in/s")).toBe("string");
  expect(isWithin(reads("1 g pk", 1, "in/s pk"), 86.90046261655596, 1e-5)).toBe(false);
  near(reads("1 g rms", 1, "in/s pk") / reads("1 g pk", 1, "in/s pk"), Math.SQRT2, EXACT);
});

check("U-18", "the mean is no detector that a level may have", () => {
  expect(DETECTORS).toEqual(["pk", "rms", "pk-pk"]);
  expect(parseQuantity("1 g mean", { dimensions: VIBRATION, detectors: DETECTORS })).toMatch(
    /must name its detector/,
  );
});

check("U-21", "dB re 1 µm/s² and re 1 nm/s", () => {
  near(siValue("139.83041351154537 dB re 1 um/s² rms", "acceleration"), 9.80665, EXACT);
  near(siValue("120 dB re 1 nm/s rms", "velocity"), 1e-3, EXACT);
});
