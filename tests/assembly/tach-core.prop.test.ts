// Any edges that the block rule lets through: the whole firmware neither traps nor stores a number
// that is none, and the cut of the input does not matter.
import { expect, test } from "vitest";
import * as fc from "fast-check";
import { evenNumber } from "../kit/even-number.ts";
import { filterProfile, monitorProfile, shaftProfile } from "../kit/scene-builder.ts";
import { TEST_SEED } from "../kit/seed.ts";
import { coreOf, runCore } from "./kit/core-run.ts";
import type { CoreRun } from "./kit/core-run.ts";

const CLOCK_HZ = 80_000_000;
const DURATION_S = 1;

const shaftOf = fc.record({
  positions: fc.constantFrom(1, 4, 36, 60, 255),
  index: fc.constantFrom("none" as const, "missing-tooth" as const, "extra-edge" as const),
  lockRevolutions: fc.integer({ min: 1, max: 3 }),
  edgeTolerancePitches: fc.constantFrom(0.01, 0.25, 0.44),
  accelerationMaxRevPerS2: fc.constantFrom(1, 50, 1e6),
});
/** Mostly even edges of a wheel at a speed, disturbed; intervals in pitches. */
const wheelOf = fc.record({
  revPerS: fc.constantFrom(9, 80, 400),
  intervals: fc.array(
    fc.oneof(
      { weight: 12, arbitrary: fc.constant(1) },
      { weight: 2, arbitrary: fc.constantFrom(0, 0.5, 2, 3, 8) },
      { weight: 1, arbitrary: evenNumber(0, 20) },
    ),
    { minLength: 20, maxLength: 1500 },
  ),
});

test("[TACH-035] whatever the edges, the firmware holds", async () => {
  const core = coreOf("release");
  await fc.assert(
    fc.asyncProperty(shaftOf, wheelOf, async (given, wheel) => {
      const index = given.positions < 4 ? "none" : given.index;
      const profile = monitorProfile({
        shafts: [shaftProfile({ ...given, index })],
        filters: [filterProfile({ quantity: "acceleration", unit: "m/s²", levelFactor: 1 })],
      });
      const pitch = CLOCK_HZ / wheel.revPerS / given.positions;
      let tick = 0;
      const ticks = wheel.intervals
        .map((interval) => Math.floor((tick += interval * pitch)))
        .filter((one) => one < DURATION_S * CLOCK_HZ);
      const run: CoreRun = {
        profile,
        edges: [Float64Array.from(ticks)],
        signals: [(t) => Math.cos(2 * Math.PI * wheel.revPerS * t)],
        durationS: DURATION_S,
        core,
      };
      const whole = await runCore(run);
      const cut = await runCore({ ...run, blockSamplesMax: 17, batchSamples: 1000 });
      expect(Buffer.compare(cut.bytes, whole.bytes)).toBe(0);
      for (const one of whole.levels) {
        const numbers = [one.level, one.re, one.im, one.speedRevPerS, one.speedNowRevPerS];
        expect(numbers.every(Number.isFinite)).toBe(true);
      }
      expect(whole.levels.length).toBe(9);
    }),
    { seed: TEST_SEED, numRuns: 60 },
  );
});
