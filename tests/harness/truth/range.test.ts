// Speeds at the ends of the reference's range: what the edges read there, and what that decides.
import { describe, expect, it } from "vitest";
import type { Scene, ShaftMotion } from "../../../harness/scene/scene.ts";
import { makePlainJudge } from "../../../harness/judge/streaming-judge.ts";
import { RangeOutages, readingBand } from "../../../harness/truth/range-outages.ts";
import { ReferenceTruth } from "../../../harness/truth/reference.ts";
import { MotionTruth } from "../../../harness/truth/shaft-motion.ts";
import { makeTruth } from "../../../harness/truth/truth.ts";
import { WheelTruth } from "../../../harness/truth/wheel-truth.ts";
import { playScene } from "../../kit/play-scene.ts";
import * as kit from "../../kit/scene-builder.ts";

const LEAST = 10;
const MOST = 120;
const WHEEL = {
  positions: 60,
  revolutions: 1,
  index: "missing-tooth" as const,
  eccentricityRev: 0,
  jitterS: 0,
};

function sceneOf(
  speed: [timeS: number, revPerS: number][],
  over: Partial<ShaftMotion> = {},
): Scene {
  const shaft = kit.shaftProfile({
    positions: 60,
    index: "missing-tooth",
    speedMinRevPerS: LEAST,
    speedMaxRevPerS: MOST,
    validSpeedRevPerS: LEAST,
    timeoutS: 0.05,
  });
  const rows = speed.map(([timeS, revPerS]) => ({ timeS, revPerS }));
  const motion = kit.shaftMotion({ speed: rows, wheel: WHEEL, ...over });
  const profile = kit.monitorProfile({ shafts: [shaft] });
  return kit.scene({ durationS: 14, profile, shafts: [motion] });
}

async function wrongOf(scene: Scene): Promise<string[]> {
  const { records, counters } = await playScene(scene);
  const judge = makePlainJudge(scene, makeTruth(scene));
  judge.take(records);
  const { checks } = judge.finish(counters);
  return checks.filter((one) => !one.isRight).map(({ check, why }) => `${check}: ${why}`);
}

function wheelOf(over: Partial<ShaftMotion> = {}): WheelTruth {
  const scene = sceneOf([[0, 80]], over);
  return new WheelTruth(scene, 0, new MotionTruth(scene.shafts[0]!));
}

function referenceOf(scene: Scene): ReferenceTruth {
  return new ReferenceTruth(scene, 0, new MotionTruth(scene.shafts[0]!));
}

describe("the band about a limit", () => {
  // Two pitches of 60 at 120 rev/s take 1/3600 s; half the angle of an error in each of two edges.
  const SPAN_S = 1 / 3600;
  const rows: [string, Partial<ShaftMotion>, number][] = [
    ["a tick of 80 MHz", {}, 1 / 80e6 / SPAN_S],
    [
      "jitter of 1 us, at six times its rms",
      { wheel: { ...WHEEL, jitterS: 1e-6 } },
      0.0432 + 4.5e-5,
    ],
    [
      "a bad tooth of 1e-4 rev in two pitches of 1/60 rev",
      { wheel: { ...WHEEL, badTooth: { position: 3, offsetRev: 1e-4 } } },
      0.003 + 4.5e-5,
    ],
    [
      "an eccentricity of 1e-4 rev: 4π/60 of it within two pitches",
      { wheel: { ...WHEEL, eccentricityRev: 1e-4 } },
      (1e-4 * 4 * Math.PI) / 60 / (2 / 60) + 4.5e-5,
    ],
    [
      "a ripple of 1e-4 rev at order 2: 4π of it in the speed",
      { ripple: [{ order: 2, amplitudeRev: 1e-4 }] },
      4e-4 * Math.PI + 4.5e-5,
    ],
  ];
  it.each(rows)("[TRUTH-081] is as wide as %s says", (_, over, share) => {
    const { low, high } = readingBand(MOST, wheelOf(over), 80e6);
    // The bound is kept to first order: what is left is the square of the share.
    expect(Math.abs(high / MOST - 1 - share)).toBeLessThan(2 * share * share + 1e-6);
    expect(Math.abs(1 - low / MOST - share)).toBeLessThan(2 * share * share + 1e-6);
  });

  it("[TRUTH-081] has no upper end where an edge may be out by two pitches", () => {
    const { high } = readingBand(MOST, wheelOf({ wheel: { ...WHEEL, jitterS: 3e-5 } }), 80e6);
    expect(high).toBe(Infinity);
  });
});

describe("a speed that leaves the range", () => {
  const rows: [string, Scene][] = [
    ["above it from the start to the end", sceneOf([[0, 150]])],
    ["below it from the start to the end", sceneOf([[0, 5]])],
    [
      "far above, in a ramp of two seconds",
      sceneOf([
        [0, 80],
        [3, 80],
        [5, 150],
        [8, 150],
        [10, 80],
      ]),
    ],
    [
      "over the highest in a slow ramp, by a tick",
      sceneOf([
        [0, 110],
        [14, 121],
      ]),
    ],
    [
      "over and back again, row by row",
      sceneOf([
        [0, 80],
        [5, 133],
        [10, 80],
      ]),
    ],
    [
      "up to the highest and back",
      sceneOf([
        [0, 80],
        [5, MOST],
        [10, 80],
      ]),
    ],
    [
      "down to the lowest and back",
      sceneOf([
        [0, 30],
        [5, LEAST],
        [10, 30],
      ]),
    ],
    [
      "under the lowest in a slow ramp",
      sceneOf([
        [0, 11],
        [14, 9.5],
      ]),
    ],
    [
      "from the highest down",
      sceneOf([
        [0, MOST],
        [14, 110],
      ]),
    ],
    ["held in the band of its jitter", sceneOf([[0, 119]], { wheel: { ...WHEEL, jitterS: 2e-6 } })],
    [
      "a slow ramp through the band of its jitter",
      sceneOf(
        [
          [0, 115],
          [14, 125],
        ],
        { wheel: { ...WHEEL, jitterS: 2e-6 } },
      ),
    ],
    [
      "held in the band of a bad tooth",
      sceneOf([[0, 119.5]], { wheel: { ...WHEEL, badTooth: { position: 5, offsetRev: 3e-4 } } }),
    ],
    [
      "a slow ramp with ripple",
      sceneOf(
        [
          [0, 115],
          [14, 125],
        ],
        { ripple: [{ order: 1, amplitudeRev: 3e-4 }] },
      ),
    ],
    [
      "a missed edge on the way out",
      sceneOf(
        [
          [0, 110],
          [10, 125],
        ],
        { faults: [{ kind: "missed", atS: 6.66, count: 2 }] },
      ),
    ],
    [
      "a glitch that passes for an edge just below the highest",
      sceneOf([[0, 118]], { faults: [{ kind: "glitch", atS: 6, fraction: 0.9 }] }),
    ],
  ];
  it.each(rows)("[TRUTH-082] truth and firmware agree: %s", async (_, scene) => {
    expect(await wrongOf(scene)).toEqual([]);
  });

  it("[TRUTH-083] is doubt within the band, and none beyond it", () => {
    // 1 rev/s²: the band of one tick, 4.5e-5 of 120 rev/s, is passed in 11 ms.
    const quick = referenceOf(
      sceneOf([
        [0, 80],
        [4, 80],
        [14, 130],
      ]),
    );
    expect(quick.at(4 + 7.99)).toBe("yes");
    expect(quick.at(4 + 8.05)).toBe("no");
    const jitter = { wheel: { ...WHEEL, jitterS: 1e-6 } };
    const slow = referenceOf(
      sceneOf(
        [
          [0, 80],
          [4, 80],
          [14, 130],
        ],
        jitter,
      ),
    );
    expect([114, 117, 123].map((n) => slow.at(4 + (n - 80) / 5))).toEqual([
      "yes",
      "maybe",
      "maybe",
    ]);
    expect(slow.at(4 + (127 - 80) / 5)).toBe("no");
  });

  it("[TRUTH-083] a touch leaves doubt for as long as a search takes, not for ever", () => {
    const reference = referenceOf(
      sceneOf([
        [0, 80],
        [5, MOST],
        [10, 80],
      ]),
    );
    expect([4.9, 5.01, 6].map((timeS) => reference.at(timeS))).toEqual(["yes", "maybe", "yes"]);
  });

  it("[TRUTH-083] what may pass within one reading is not sure to be read", () => {
    // 121 rev/s for no more than a moment.
    const scene = sceneOf([
      [0, 80],
      [5, 120.05],
      [5.001, 80],
    ]);
    const wheel = new WheelTruth(scene, 0, new MotionTruth(scene.shafts[0]!));
    const found = new RangeOutages(scene, 0, wheel).found.filter(({ why }) => why.includes("over"));
    expect(found.map(({ lostUntilS }) => lostUntilS)).toEqual([Infinity]);
  });

  it("[TRUTH-084] a piece that starts at a value and falls is below it at once", () => {
    const motion = (speed: [number, number][]): MotionTruth => {
      return new MotionTruth(sceneOf(speed).shafts[0]!);
    };
    expect(
      motion([
        [0, 100],
        [5, MOST],
        [10, 100],
      ]).crossings(MOST),
    ).toEqual([{ timeS: 0, isAbove: false }]);
    expect(
      motion([
        [0, MOST],
        [5, 100],
      ]).crossings(MOST),
    ).toEqual([{ timeS: 0, isAbove: false }]);
    expect(
      motion([
        [0, 100],
        [5, MOST],
        [10, 130],
      ]).crossings(MOST),
    ).toEqual([
      { timeS: 0, isAbove: false },
      { timeS: 5, isAbove: true },
    ]);
  });

  it("[TRUTH-085] a boundary beside its place opens the speed by what a ramp makes of it", () => {
    const offsetRev = 1e-3;
    const tolerance = (slope: number): number => {
      const scene = sceneOf(
        [
          [0, 60],
          [14, 60 + 14 * slope],
        ],
        {
          wheel: { ...WHEEL, badTooth: { position: 0, offsetRev } },
        },
      );
      const truth = makeTruth(scene);
      const motion = new MotionTruth(scene.shafts[0]!);
      const cycle = 12;
      truth.acquired(0, 5, Math.floor(motion.timeAt(cycle) * 80e6), 5);
      const { speedNowTolRevPerS, speedNowRevPerS } = truth.step(0, 5);
      return speedNowTolRevPerS! * speedNowRevPerS;
    };
    // dn/dt · offset / n, on top of what a steady speed leaves.
    expect(tolerance(4) - tolerance(0)).toBeGreaterThan(4 * offsetRev);
    expect(tolerance(4) - tolerance(0)).toBeLessThan(1.1 * 4 * offsetRev);
  });
});
