import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { MotionTruth } from "../../../harness/truth/shaft-motion.ts";
import { WheelTruth } from "../../../harness/truth/wheel-truth.ts";
import { makeWaveform } from "../../../harness/waveform/waveform.ts";
import {
  fittedWheel,
  monitorProfile,
  scene,
  shaftMotion,
  shaftProfile,
} from "../../kit/scene-builder.ts";
import { evenNumber } from "../../kit/even-number.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const RIPPLE = [{ order: 2, amplitudeRev: 0.002 }];

/** Rows of speed: times ascend by at least a tenth of a second, speeds may touch zero. */
const speeds = fc
  .array(
    fc.record({
      gapS: evenNumber(0.1, 3),
      revPerS: evenNumber(0, 200),
    }),
    { minLength: 1, maxLength: 6 },
  )
  .map((rows) => {
    let timeS = 0;
    return rows.map(({ gapS, revPerS }, i) => {
      if (i > 0) timeS += gapS;
      return { timeS, revPerS };
    });
  });

describe("shaft motion", () => {
  it("[TRUTH-001] integrates the speed: angle by Simpson's rule over each row", () => {
    fc.assert(
      fc.property(speeds, evenNumber(0, 12), (speed, timeS) => {
        const motion = new MotionTruth({ speed, startAngleRev: 0.3, ripple: [] });
        let sum = 0.3;
        const ends = [...speed.map((row) => row.timeS).filter((t) => t < timeS), timeS];
        for (let i = 1; i < ends.length; i += 1) {
          const [a, b] = [ends[i - 1]!, ends[i]!];
          const at = (t: number): number => motion.meanSpeedAt(Math.min(t, b - 1e-12 * b));
          sum += ((b - a) / 6) * (at(a) + 4 * at((a + b) / 2) + at(b));
        }
        expect(motion.angleAt(timeS)).toBeCloseTo(sum, 7);
      }),
      { seed: TEST_SEED, numRuns: 200 },
    );
  });

  it("[TRUTH-002] finds the time of an angle, with ripple, wherever the shaft turns", () => {
    fc.assert(
      fc.property(speeds, evenNumber(0.01, 12), (speed, timeS) => {
        const motion = new MotionTruth({ speed, startAngleRev: 0.3, ripple: RIPPLE });
        fc.pre(motion.meanSpeedAt(timeS) > 1);
        const back = motion.timeAt(motion.angleAt(timeS));
        expect(Math.abs(back - timeS)).toBeLessThan(1e-9);
      }),
      { seed: TEST_SEED, numRuns: 200 },
    );
  });

  it("[TRUTH-003] gives the rates of the rippled angle as its difference quotients do", () => {
    const speed = [
      { timeS: 0, revPerS: 20 },
      { timeS: 4, revPerS: 60 },
    ];
    const motion = new MotionTruth({ speed, startAngleRev: 0.1, ripple: RIPPLE });
    const h = 1e-4;
    for (const t of [0.5, 1.234, 3.2]) {
      const a = motion.angleAt(t - h);
      const b = motion.angleAt(t);
      const c = motion.angleAt(t + h);
      // Second order in h: (2π·2·60)³·0.002·h²/6 and its like for the slope.
      expect(motion.ratesAt(t).speed).toBeCloseTo((c - a) / (2 * h), 2);
      expect(motion.ratesAt(t).slope / 1000).toBeCloseTo((c - 2 * b + a) / (h * h) / 1000, 1);
    }
  });

  it("[TRUTH-004] never reaches an angle beyond the standstill", () => {
    const speed = [
      { timeS: 0, revPerS: 10 },
      { timeS: 2, revPerS: 0 },
    ];
    const motion = new MotionTruth({ speed, startAngleRev: 0, ripple: [] });
    expect(motion.angleAt(100)).toBeCloseTo(10, 12);
    expect(motion.timeAt(10.5)).toBe(Infinity);
  });

  it("[TRUTH-005] stands within a tick of the waveform's edges, made by other arithmetic", () => {
    const profile = monitorProfile({
      shafts: [shaftProfile({ positions: 12, index: "missing-tooth" })],
    });
    const wheel = fittedWheel({ positions: 12, index: "missing-tooth" });
    const speed = [
      { timeS: 0, revPerS: 15 },
      { timeS: 1, revPerS: 17 },
      { timeS: 4, revPerS: 80 },
      { timeS: 5, revPerS: 61 },
    ];
    const motionData = shaftMotion({ speed, ripple: RIPPLE, wheel });
    const played = scene({ profile, durationS: 6, shafts: [motionData] });
    const truth = new WheelTruth(played, 0, new MotionTruth(motionData));
    const waveform = makeWaveform(played);
    let position = truth.positionAtOrAfter(0);
    let count = 0;
    for (;;) {
      const batch = waveform.next(65_536);
      if (batch === undefined) break;
      for (const tick of batch.edges[0]!) {
        while (!truth.isFitted(position)) position += 1;
        const ticks = truth.positionTimeS(position) * profile.clockHz;
        expect(Math.abs(tick + 0.5 - ticks)).toBeLessThan(0.51);
        position += 1;
        count += 1;
      }
    }
    expect(count).toBeGreaterThan(2500);
  });
});
