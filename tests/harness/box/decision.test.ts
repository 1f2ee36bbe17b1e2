import { describe, expect, it } from "vitest";
import fc from "fast-check";
import type { Reading } from "../../../harness/adapter/adapter.ts";
import { decideSide, expandedUncertainty, rectangular } from "../../../harness/box/decision.ts";
import type { DecisionRule } from "../../../harness/box/device-file.ts";
import { BurstLost, fitClock, generatorTime } from "../../../harness/box/drift.ts";
import type { Burst } from "../../../harness/box/timeline.ts";
import { TEST_SEED } from "../../kit/seed.ts";

/** U on either side of the limit. */
const decide = (error: number, accuracy: number, u: number, rule: DecisionRule) =>
  decideSide(Math.abs(error), accuracy, { within: u, beyond: u }, rule);

describe("a decision near a limit", () => {
  // JCGM 106:2012, 8.3.2 and its example of a guard band w = U (r = 1), ILAC-G8 alike; from memory:
  // tolerance ± 10, U = 2: accepted to 8, not decided from 8 to 12, rejected above 12.
  it.each([
    [0, "inside"],
    [8, "inside"],
    [-8, "inside"],
    [8.01, "within the guard band"],
    [-12, "within the guard band"],
    [12.01, "outside"],
    [NaN, "outside"],
  ] as const)("[BOX-001] guarded acceptance of %f within ± 10, U = 2: %s", (error, decided) => {
    expect(decide(error, 10, 2, "guarded acceptance")).toBe(decided);
  });

  it.each([
    [10, "inside"],
    [-10.01, "outside"],
    [NaN, "outside"],
  ] as const)("[BOX-002] simple acceptance of %f within ± 10: %s", (error, decided) => {
    expect(decide(error, 10, 2, "simple acceptance")).toBe(decided);
  });

  it("[BOX-003] uncertainties add by their squares, and k = 2", () => {
    // JCGM 100:2008, 5.1.2: 3 and 4 give 5; 4.3.7: a rectangle of half width a has a/√3.
    const terms = [3, 4].map((standard) => ({ name: "one", standard }));
    expect(expandedUncertainty(terms)).toBe(10);
    expect(rectangular(Math.sqrt(3))).toBeCloseTo(1, 12);
  });

  it("[BOX-004] a guard band wider than the accuracy leaves nothing that is inside", () => {
    expect(decide(0, 1, 1.5, "guarded acceptance")).toBe("within the guard band");
  });
});

/** Readings of a burst through two equal poles on a clock of its own. */
function seen(
  bursts: readonly Burst[],
  { drift, offsetS, tauS, periodS, step, phase }: Record<string, number>,
): Reading[] {
  const rest = (x: number): number => (x <= 0 ? 0 : 1 - (1 + x / tauS!) * Math.exp(-x / tauS!));
  const end = bursts[1]!.untilS + 20 * tauS!;
  const readings: Reading[] = [];
  for (let timeS = phase! * periodS!; timeS < end; timeS += periodS!) {
    const height = bursts.reduce(
      (sum, { fromS, untilS }) => sum + rest(timeS - fromS) - rest(timeS - untilS),
      0,
    );
    const shown = step! * Math.round((5 * height) / step!);
    readings.push({ timeS: offsetS! + (1 + drift!) * timeS, filter: "fan", shown });
  }
  return readings;
}

const BURSTS: [Burst, Burst] = [
  { fromS: 3, untilS: 7 },
  { fromS: 63, untilS: 67 },
];

describe("the clock of a box", () => {
  it.each([0, 80e-6, -500e-6, 0.003])(
    "[BOX-010] a drift of %f is within the told uncertainty of what is found",
    (drift) => {
      fc.assert(
        fc.property(
          fc.double({ min: -0.5, max: 0.5, noNaN: true }),
          fc.double({ min: 0.1, max: 0.4, noNaN: true }),
          fc.double({ min: 0, max: 0.99, noNaN: true }),
          fc.constantFrom(0.05, 0.125, 0.25),
          (offsetS, tauS, phase, periodS) => {
            const readings = seen(BURSTS, { drift, offsetS, tauS, periodS, step: 0.1, phase });
            const fit = fitClock(readings, BURSTS, 2, 0.1);
            expect(Math.abs(fit.drift - drift)).toBeLessThanOrEqual(fit.driftUncertainty);
            // Neither is it so unsure that it says nothing.
            expect(fit.driftUncertainty).toBeLessThan(0.006);
          },
        ),
        { seed: TEST_SEED, numRuns: 60 },
      );
    },
  );

  it("[BOX-011] a burst that is not seen is told", () => {
    const whole = seen(BURSTS, {
      drift: 0,
      offsetS: 0,
      tauS: 0.2,
      periodS: 0.1,
      step: 0.1,
      phase: 0,
    });
    const flat = whole.map((one) => (one.timeS < 40 ? one : { ...one, shown: 0 }));
    expect(() => fitClock(flat, BURSTS, 2, 0.1)).toThrow(BurstLost);
    expect(() => fitClock(flat, BURSTS, 2, 0.1)).toThrow(/the burst at the end .* is not seen/);
  });

  it("[BOX-012] times go back to the generator's clock", () => {
    const seenAt = (timeS: number) => ({ timeS, standardS: 0 });
    const ends = [seenAt(0), seenAt(60)] as const;
    const fit = { drift: 1e-3, driftUncertainty: 0, offsetS: 0.5, bursts: ends };
    expect(generatorTime(fit, 0.5 + 1.001 * 12, 0)).toBeCloseTo(12, 12);
  });
});
