// What the truth leaves open, and what it does not: reference and levels around faults.
import { describe, expect, it } from "vitest";
import { NumberInterval } from "../../../harness/judge/number-interval.ts";
import { stepFromTruth } from "../../../harness/judge/display-sources.ts";
import { makePlainJudge } from "../../../harness/judge/streaming-judge.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { ReferenceTruth } from "../../../harness/truth/reference.ts";
import { MotionTruth } from "../../../harness/truth/shaft-motion.ts";
import { makeTruth } from "../../../harness/truth/truth.ts";
import type { StepTruth } from "../../../harness/truth/types.ts";
import * as U from "../../../shared/units.ts";
import { playScene } from "../../kit/play-scene.ts";
import * as kit from "../../kit/scene-builder.ts";

async function wrongOf(scene: Scene): Promise<string[]> {
  const { records, counters } = await playScene(scene);
  const judge = makePlainJudge(scene, makeTruth(scene));
  judge.take(records);
  const { checks } = judge.finish(counters);
  return checks.filter((one) => !one.isRight).map(({ check, why }) => `${check}: ${why}`);
}

function referenceOf(scene: Scene): ReferenceTruth {
  return new ReferenceTruth(scene, 0, new MotionTruth(scene.shafts[0]!));
}

describe("what the truth leaves open", () => {
  it("[TRUTH-070] an acceleration over the limit may lose the reference two windows later", async () => {
    const speed = [
      { timeS: 0, revPerS: 80 },
      { timeS: 3, revPerS: 80 },
      { timeS: 3.1, revPerS: 50 },
    ];
    const scene = kit.scene({ durationS: 8, shafts: [kit.shaftMotion({ speed })] });
    const reference = referenceOf(scene);
    // A window: a quarter of a second, to the end of the cycle then open (at most 1/50 s more).
    expect(reference.at(3.1 + 2 * 0.25)).toBe("maybe");
    expect(reference.at(3.1 + 2 * (0.25 + 1 / 50) + 9 / 50)).toBe("yes");
    expect(reference.at(2.99)).toBe("yes");
    expect(await wrongOf(scene)).toEqual([]);
  });

  it("[TRUTH-071] a drop-out from the start on leaves nothing to lose", async () => {
    const motion = kit.shaftMotion({ faults: [{ kind: "drop-out", fromS: 0, untilS: 2 }] });
    const scene = kit.scene({ durationS: 5, shafts: [motion] });
    const { spans } = referenceOf(scene);
    expect(spans).toHaveLength(1);
    expect(spans[0]!.foundFromS).toBeGreaterThan(2);
    const lost = makeTruth(scene)
      .counters()
      .find((one) => one.name === "referenceLost")!;
    expect([lost.min, lost.max]).toEqual([0, 0]);
    expect(await wrongOf(scene)).toEqual([]);
  });

  it("[TRUTH-072] after a functional test the level is judged by what the test left behind", async () => {
    const none = { inhibit: 0, acknowledge: 0, running: 0 };
    const scene = kit.scene({
      durationS: 12,
      channels: [kit.channelSignal([kit.orderComponent(1, 40, 30)])],
      inputs: [
        { timeS: 0, ...none, test: false },
        { timeS: 4.03, ...none, test: true },
        { timeS: 6.03, ...none, test: false },
      ],
    });
    expect(await wrongOf(scene)).toEqual([]);
  });

  it("[TRUTH-073] a response that refuses from the start is told as such, not as settling", () => {
    const response = {
      kind: "filters" as const,
      highPassOrder: 2,
      highPassHz: 160,
      lowPassOrder: 0,
      lowPassHz: 0,
      delayS: 0,
    };
    const profile = kit.monitorProfile({ channels: [kit.channelProfile({ response })] });
    const truth = makeTruth(kit.scene({ profile }));
    let last: StepTruth | undefined;
    for (let step = 1; step <= 20; step += 1) last = truth.step(0, step);
    expect(last!.allowed).toEqual([{ validity: U.NO_COMPUTED_DATA, cause: U.CAUSE_RESPONSE }]);
  });

  it("[TRUTH-074] a level that is too open to be judged still bounds the number", () => {
    const truth: StepTruth = {
      isJudged: false,
      isBounded: true,
      re: 0,
      im: 0,
      level: 2,
      levelTol: 0.32,
      phaseLagDeg: 0,
      phaseTolDeg: 180,
      phaseIsJudged: false,
      speedRevPerS: 80,
      speedTolRevPerS: 0,
      speedNowRevPerS: 80,
      allowed: [{ validity: U.VALID, cause: U.CAUSE_NONE }],
    };
    const { display } = kit.filterProfile();
    const serving = { certain: [0], possible: [] };
    const group = { step: 1, tick: 0, levels: [], events: [], exceedances: [] };
    const number = new NumberInterval(display, 0.1);
    stepFromTruth(number, serving, [truth], group);
    expect([number.low, number.high]).toEqual([17, 23]);
    stepFromTruth(number, serving, [{ ...truth, isBounded: false }], group);
    // Nothing is known, and no record says otherwise.
    expect([number.low, number.high]).toEqual([0, display.countsMax]);
  });

  it("[TRUTH-075] a glitch that passes for an edge opens the level, one that does not, does not", async () => {
    const shaft = kit.shaftProfile({ positions: 6, edgeTolerancePitches: 0.15 });
    const glitched = (fraction: number): Scene => {
      const motion = kit.shaftMotion({
        wheel: kit.fittedWheel({ positions: 6 }),
        faults: [{ kind: "glitch", atS: 5, fraction }],
      });
      return kit.scene({ profile: kit.monitorProfile({ shafts: [shaft] }), shafts: [motion] });
    };
    const misplaced = [0.6, 0.9].map((fraction) => {
      return referenceOf(glitched(fraction)).wheel.extras.map((one) => one.misplacedRev);
    });
    expect(misplaced[0]).toEqual([0]);
    expect(misplaced[1]![0]).toBeCloseTo(0.1 / 6, 12);
    expect(await wrongOf(glitched(0.6))).toEqual([]);
    expect(await wrongOf(glitched(0.9))).toEqual([]);
  });
});

describe("the count of edges", () => {
  const WHEELS = [
    { positions: 1, index: "none" },
    { positions: 60, index: "none" },
    { positions: 24, index: "missing-tooth" },
    { positions: 24, index: "extra-edge" },
  ] as const;

  it.each(WHEELS)(
    "[TRUTH-076] is bound for %o, and a few edges more or less are wrong",
    async (wheel) => {
      const shaft = kit.shaftProfile({ ...wheel, timeoutS: 0.35 });
      const scene = kit.scene({
        durationS: 5,
        profile: kit.monitorProfile({ shafts: [shaft] }),
      });
      const { records, counters } = await playScene(scene);
      const verdict = (change: number): string[] => {
        const judge = makePlainJudge(scene, makeTruth(scene));
        judge.take(records);
        const edges = counters.edges.map((count, i) => (i === 0 ? count + change : count));
        const { checks } = judge.finish({ ...counters, edges });
        return checks.filter((one) => !one.isRight).map(({ check }) => check);
      };
      expect(verdict(0)).toEqual([]);
      // Three edges at either end may count or not; where an index is sought, two cycles of them.
      const open = 12 + (wheel.index === "none" ? 0 : 2 * wheel.positions);
      for (const change of [-open, open]) expect(verdict(change)).toEqual(["counters"]);
    },
  );
});
