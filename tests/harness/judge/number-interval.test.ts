import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { DisplayProfile } from "../../../harness/scene/scene.ts";
import type { NumberSource } from "../../../harness/judge/number-interval.ts";
import { NumberInterval, scaleAt, smoothingShare } from "../../../harness/judge/number-interval.ts";
import { evenNumber } from "../../kit/even-number.ts";
import { filterProfile } from "../../kit/scene-builder.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const DISPLAY = filterProfile().display;

function source(low: number, high = low, speedLow = 80, speedHigh = speedLow): NumberSource {
  return { levelLow: low, levelHigh: high, speedLow, speedHigh };
}

function interval(display: DisplayProfile, steps: NumberSource[]): [number, number] {
  const number = new NumberInterval(display, 0.1);
  for (const one of steps) number.step([one], []);
  return [number.low, number.high];
}

describe("the interval of the shown number", () => {
  it("[JUDGE-040] is one count where the level lies well inside it", () => {
    expect(interval(DISPLAY, [source(4.97, 5.03)])).toEqual([50, 50]);
    expect(interval(DISPLAY, [source(4.94, 5.06)])).toEqual([49, 51]);
  });

  it("[JUDGE-041] leaves an exact tie open by the rounding of f32 alone", () => {
    // 4.95 and 0.1 are no f32 numbers: either side of the tie is a right rounding.
    expect(interval(DISPLAY, [source(4.95)])).toEqual([49, 50]);
    expect(interval(DISPLAY, [source(4.95001)])).toEqual([50, 50]);
    expect(interval(DISPLAY, [source(4.94999)])).toEqual([49, 49]);
  });

  it("[JUDGE-042] stops at 0 and at the top of the scale", () => {
    expect(interval(DISPLAY, [source(-1, -0.5)])).toEqual([0, 0]);
    expect(interval(DISPLAY, [source(99, 101)])).toEqual([100, 100]);
  });

  it("[JUDGE-043] takes the extremes of the scale over the speeds that are possible", () => {
    const scale = [
      { speedRevPerS: 50, factor: 1 },
      { speedRevPerS: 100, factor: 2 },
      { speedRevPerS: 150, factor: 1 },
    ];
    const display = { ...DISPLAY, scale };
    expect(scaleAt(scale, 75)).toBe(1.5);
    expect(scaleAt(scale, 10)).toBe(1);
    expect(scaleAt(scale, 200)).toBe(1);
    expect(interval(display, [source(2, 2, 80, 120)])).toEqual([32, 40]);
  });

  it("[JUDGE-044] follows a step through the smoothing as the exponential does", () => {
    const display = { ...DISPLAY, smoothingS: 1, step: 0.001, countsMax: 100_000 };
    const steps = Array.from({ length: 21 }, (_, i) => source(i === 0 ? 0 : 10));
    const expected = Math.floor((10 * (1 - Math.exp(-2))) / 0.001 + 0.5);
    const [low, high] = interval(display, steps);
    expect(low).toBeGreaterThanOrEqual(expected - 1);
    expect(high).toBeLessThanOrEqual(expected + 1);
  });

  it("[JUDGE-045] starts anew after a restart", () => {
    const number = new NumberInterval({ ...DISPLAY, smoothingS: 10 }, 0.1);
    number.step([source(1)], []);
    number.restart();
    number.step([source(5)], []);
    expect([number.low, number.high]).toEqual([50, 50]);
  });

  it("[JUDGE-046] of the greatest takes certain sources as the least and possible ones as the most", () => {
    const number = new NumberInterval(DISPLAY, 0.1);
    number.step([source(2), source(3)], [source(4)]);
    expect([number.low, number.high]).toEqual([30, 40]);
    number.step([], [source(2), source(4)]);
    expect([number.low, number.high]).toEqual([20, 40]);
  });

  it("[JUDGE-047] holds every f32 evaluation of a level inside the tolerance", () => {
    const steps = fc.array(
      fc.record({
        level: evenNumber(0, 9),
        at: evenNumber(-1, 1),
      }),
      { minLength: 1, maxLength: 30 },
    );
    const smoothing = fc.constantFrom(0, 0.05, 1, 30);
    fc.assert(
      fc.property(steps, smoothing, evenNumber(0.5, 2), (list, smoothingS, factor) => {
        const display = {
          ...DISPLAY,
          smoothingS,
          step: 0.01,
          countsMax: 10_000,
          scale: [{ speedRevPerS: 0, factor }],
        };
        const number = new NumberInterval(display, 0.1);
        const f = Math.fround;
        const share = f(smoothingShare(smoothingS, 0.1));
        let smoothed: number | undefined;
        for (const { level, at } of list) {
          const tolerance = 0.01 * level;
          number.step([source(level - tolerance, level + tolerance)], []);
          const value = f(f(level + at * tolerance) * f(factor));
          smoothed = smoothed === undefined ? value : f(smoothed + f(share * f(value - smoothed)));
          const counts = Math.min(Math.floor(f(f(smoothed * f(1 / 0.01)) + 0.5)), 10_000);
          expect(counts).toBeGreaterThanOrEqual(number.low);
          expect(counts).toBeLessThanOrEqual(number.high);
        }
      }),
      { seed: TEST_SEED, numRuns: 300 },
    );
  });

  it("[JUDGE-048] holds a number that a level beyond the top makes while it is not judged", () => {
    const display = { ...DISPLAY, smoothingS: 0.5 };
    const number = new NumberInterval(display, 0.25);
    number.step([source(1)], []);
    // By hand: the smoothing takes 30 as it is, not the top of 10.
    const smoothed = 1 + smoothingShare(0.5, 0.25) * (30 - 1);
    expect(smoothed).toBeGreaterThan(10);
    number.stepUnknown([source(30)]);
    expect([number.low, number.high]).toEqual([6, 100]);
    number.stepUnknown();
    expect(number.high).toBe(100);
  });
});
