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
  if (typeof a !== "object" || typeof b !== "object" || a === null || b === null) return 0;
  const both = Object.keys(a).filter((key) => key in b);
  const of = (tree: object, key: string): unknown => (tree as Record<string, unknown>)[key];
  return Math.max(0, ...both.map((key) => distance(of(a, key), of(b, key), count)));
}

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

  it("[LIB-001] Octave has SciPy's levels of the run-up", () => {
    const count = { numbers: 0 };
    const { levels } = OCTAVE["ramp"] as { levels: number[][] };
    const wanted = SCIPY.ramp.rows.map((row) => row.level);
    // Quadrature to 1e-12 a revolution.
    expect(distance(wanted, levels, count)).toBeLessThanOrEqual(1e-11);
    expect(count.numbers).toBeGreaterThan(100);
  });
});
