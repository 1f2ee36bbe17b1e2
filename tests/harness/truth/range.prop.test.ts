// Shafts that turn near the ends of the reference's range, as the edge clock, jitter, the wheel,
// ripple and missed edges make them read: where the reference may go, the truth says so.
import fc from "fast-check";
import { beforeAll, describe, expect, it } from "vitest";
import type { Core } from "../../../host/core.ts";
import { makePlainJudge } from "../../../harness/judge/streaming-judge.ts";
import type { Scene, TachFault } from "../../../harness/scene/scene.ts";
import { makeTruth } from "../../../harness/truth/truth.ts";
import { evenNumber } from "../../kit/even-number.ts";
import { loadCore, playScene } from "../../kit/play-scene.ts";
import * as kit from "../../kit/scene-builder.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const LEAST = 20;
const MOST = 60;
const DURATION_S = 12;
const RUNS = 40;
/** How true the values are has tests of its own: here is asked whether there are any. */
const VALUES = new Set(["level", "phase", "speed"]);

let core: Core;
beforeAll(() => {
  core = loadCore();
});

async function wrongOf(scene: Scene): Promise<string[]> {
  const { records, counters } = await playScene(scene, { core });
  const judge = makePlainJudge(scene, makeTruth(scene));
  judge.take(records);
  const { checks } = judge.finish(counters);
  return checks
    .filter((one) => !one.isRight && !VALUES.has(one.check))
    .map(({ check, why }) => `${check}: ${why}`);
}

/** Speeds in shares of a limit: at it, about it, far from it. */
const speed = fc
  .oneof(
    fc.tuple(fc.constantFrom(LEAST, MOST), evenNumber(-0.02, 0.02)),
    fc.tuple(fc.constantFrom(LEAST, MOST), fc.constantFrom(0, -0.3, 0.3, -1e-4, 1e-4, 1e-5)),
  )
  .map(([limit, share]) => limit * (1 + share));

/** Pieces of one to six seconds; changes stay well below the limit of the acceleration. */
const speeds = fc
  .array(fc.tuple(evenNumber(2, 6), speed), {
    minLength: 1,
    maxLength: 5,
  })
  .map((rows) => {
    let timeS = 0;
    return rows.map(([spanS, revPerS], i) => {
      timeS += i === 0 ? 0 : spanS;
      return { timeS, revPerS };
    });
  });

const wheel = fc.constantFrom(
  { positions: 1, index: "none" as const },
  { positions: 6, index: "none" as const },
  { positions: 24, index: "missing-tooth" as const },
  { positions: 12, index: "extra-edge" as const },
);

const small = (most: number): fc.Arbitrary<number> =>
  fc.oneof({ weight: 3, arbitrary: fc.constant(0) }, { weight: 1, arbitrary: evenNumber(0, most) });

/** Missed edges lengthen what the speed is read over. */
const faults = fc.oneof(
  { weight: 3, arbitrary: fc.constant<TachFault[]>([]) },
  {
    weight: 1,
    arbitrary: fc
      .record({ atS: evenNumber(1, 11), count: fc.integer({ min: 1, max: 4 }) })
      .map((one): TachFault[] => [{ kind: "missed", ...one }]),
  },
);

const scenes = fc
  .record({
    rows: speeds,
    wheel,
    faults,
    startAngleRev: evenNumber(0, 1),
    jitterPitches: small(0.004),
    eccentricPitches: small(0.01),
    badPitches: small(0.01),
    rippleRev: small(2e-4),
    ticksPerSample: fc.constantFrom(6250, 100, 10),
    seed: fc.integer({ min: 0, max: 2 ** 31 }),
  })
  .map((one): Scene => {
    const { positions, index } = one.wheel;
    const pitchRev = 1 / positions;
    const shaft = kit.shaftProfile({
      positions,
      index,
      speedMinRevPerS: LEAST,
      speedMaxRevPerS: MOST,
      validSpeedRevPerS: LEAST,
      timeoutS: 0.2,
    });
    const motion = kit.shaftMotion({
      speed: one.rows,
      startAngleRev: one.startAngleRev,
      ripple: one.rippleRev === 0 ? [] : [{ order: 2, amplitudeRev: one.rippleRev }],
      wheel: {
        positions,
        revolutions: 1,
        index,
        eccentricityRev: one.eccentricPitches * pitchRev,
        jitterS: (one.jitterPitches * pitchRev) / MOST,
        ...(one.badPitches > 0 && {
          badTooth: { position: 0, offsetRev: one.badPitches * pitchRev },
        }),
      },
      // What is missed beside an extra edge, or at one edge a revolution, is another matter.
      faults: positions === 1 || index === "extra-edge" ? [] : one.faults,
    });
    return kit.scene({
      durationS: DURATION_S,
      seed: one.seed,
      profile: kit.monitorProfile({
        shafts: [shaft],
        clockHz: 12_800 * one.ticksPerSample,
      }),
      shafts: [motion],
    });
  });

describe("a shaft near the ends of the reference's range", () => {
  it("[TRUTH-080] is judged right however its edges read", async () => {
    await fc.assert(
      fc.asyncProperty(scenes, async (scene) => {
        expect(await wrongOf(scene)).toEqual([]);
      }),
      { seed: TEST_SEED, numRuns: RUNS },
    );
  });
});
