// The golden values themselves: where they come from, and that two libraries say the same.
import { describe, expect, it } from "vitest";
import { OCTAVE, SCIPY } from "./golden.ts";

/** Greatest distance of two trees of numbers, of those that both have; a value under 1 counts as 1. */
function distance(a: unknown, b: unknown, count: { numbers: number }): number {
  if (typeof a === "number" && typeof b === "number") {
    count.numbers += 1;
    return Math.abs(a - b) / Math.max(1, Math.abs(a));
  }
  if (Array.isArray(a) && Array.isArray(b)) {
    expect(a.length).toBe(b.length);
    return Math.max(0, ...a.map((one, i) => distance(one, b[i], count)));
  }
  if (!isTree(a) || !isTree(b)) throw new Error(`${typeof a} beside ${typeof b}`);
  const both = Object.keys(a).filter((key) => key in b);
  return Math.max(0, ...both.map((key) => distance(a[key], b[key], count)));
}

function isTree(one: unknown): one is Record<string, unknown> {
  return typeof one === "object" && one !== null && !Array.isArray(one);
}

/** Keys of `a` that `b` lacks, as paths; rows of an array are one. */
function lacking(a: unknown, b: unknown, path = ""): string[] {
  if (Array.isArray(a) && Array.isArray(b)) {
    return [...new Set(a.flatMap((one, i) => lacking(one, b[i], path)))];
  }
  if (!isTree(a)) return [];
  if (!isTree(b)) return [path];
  return Object.entries(a).flatMap(([key, value]) => {
    const own = path === "" ? key : `${path}.${key}`;
    return key in b ? lacking(value, b[key], own) : [own];
  });
}

/** What is put in: Octave reads it from SciPy's file and gives it back under no name. */
const INPUTS = [
  ...["kind", "order", "cornerHz", "hz"].map((key) => `butterworth.${key}`),
  ...["h", "turns"].map((key) => `trackingFilter.${key}`),
  ...["x", "left"].map((key) => `steps.${key}`),
  ...["x", "revolutions", "numbers", "exponents"].map((key) => `functions.${key}`),
  ...["fromRevPerS", "revPerS2", "durationS", "startRev", "amplitudePk", "lagRad"].map(
    (key) => `ramp.${key}`,
  ),
  ...["toneHz", "tonePk", "toneLagRad", "widthHz", "rateHz", "compareFromS"].map(
    (key) => `ramp.${key}`,
  ),
  ...["revPerS", "startRev", "middles"].map((key) => `dwell.${key}`),
  ...["timeS", "revPerS", "startRev", "rippleOrder", "rippleRev"].map((key) => `motion.${key}`),
  ...["times", "revolutions", "scale", "asked"].map((key) => `motion.${key}`),
  ...["looks", "zigguratTail"].map((key) => `statistics.${key}`),
  ...["naturalHz", "zeta", "fromRevPerS", "toRevPerS", "durationS", "times"].map(
    (key) => `rotor.${key}`,
  ),
];

/** Results that SciPy alone stands for, and why. */
const SCIPY_ALONE: Readonly<Record<string, string>> = {
  "trackingFilter.noiseCycles": "an integral of the gains, which Octave has one by one",
  "trackingFilter.widthCycles": "a root of the gains, which Octave has one by one",
  "trackingFilter.delayCycles": "the mean of an impulse response, which Octave does not make",
  windows: "not made there: the triangle stands in its gains, the line is found by SciPy alone",
  "functions.sines": "an elementary function of the C library in both: no other opinion",
  "functions.logarithms": "an elementary function of the C library in both: no other opinion",
  "functions.exponentials": "an elementary function of the C library in both: no other opinion",
  "ramp.rows":
    "its levels have a name of their own there and are compared below; the rest is not made",
  "statistics.factors": "a quantile of a distribution that is in a package beside Octave",
  "statistics.rectangular": "1/√3, which Octave could only write down",
  "rotor.velocities": "its solver has them, and its file keeps the displacements alone",
};

describe("golden values", () => {
  it("[LIB-001] say when, and with which versions, they were made", () => {
    for (const { made, by } of [SCIPY, OCTAVE]) {
      expect(made).toMatch(/^20\d\d-\d\d-\d\d$/);
      for (const version of Object.values(by)) expect(version).toMatch(/^\d+\.\d+/);
    }
    expect(Object.keys(SCIPY.by)).toEqual(["python", "numpy", "scipy"]);
    expect(Object.keys(OCTAVE.by)).toEqual(["octave"]);
  });

  // What the slower of both methods is asked for; where nothing is, some hundred roundings.
  it.each([
    ["butterworth", 1e-14],
    ["trackingFilter", 1e-11],
    ["steps", 1e-14],
    ["functions", 1e-14],
    // Quadrature to 1e-12 there.
    ["dwell", 1e-11],
    ["motion", 2e-13],
    ["statistics", 1e-14],
    ["rotor", 1e-8],
  ] as const)("[LIB-001] Octave has SciPy's %s", (part, most) => {
    const count = { numbers: 0 };
    expect(distance(SCIPY[part], OCTAVE[part], count)).toBeLessThanOrEqual(most);
    expect(count.numbers).toBeGreaterThan(5);
  });

  it("[LIB-011] Octave lacks the inputs, and the results that are listed with a reason", () => {
    const listed = [...INPUTS, ...Object.keys(SCIPY_ALONE), "made", "by.python", "by.numpy"];
    const { made: _made, ...rest } = OCTAVE;
    const found = lacking(SCIPY, rest);
    expect(found.toSorted()).toEqual([...listed, "by.scipy"].toSorted());
    // Nor has it anything that is compared with nothing.
    expect(lacking(OCTAVE, SCIPY)).toEqual(["by.octave", "ramp.levels"]);
  });

  it("[LIB-001] Octave has SciPy's levels of the run-up", () => {
    const count = { numbers: 0 };
    const { levels } = OCTAVE["ramp"] as { levels: number[][] };
    const wanted = SCIPY.ramp.rows.map((row) => row.level);
    // Quadrature to 1e-12 a revolution.
    expect(distance(wanted, levels, count)).toBeLessThanOrEqual(1e-11);
    expect(count.numbers).toBeGreaterThan(100);
  });
});
