// By when a number must be there, and what puts it off: a firmware that shows none is wrong.
import { describe, expect, it } from "vitest";
import { makePlainJudge } from "../../../harness/judge/streaming-judge.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { makeTruth } from "../../../harness/truth/truth.ts";
import type { StepTruth } from "../../../harness/truth/types.ts";
import * as U from "../../../shared/units.ts";
import { playScene } from "../../kit/play-scene.ts";
import * as kit from "../../kit/scene-builder.ts";

const VALID = { validity: U.VALID, cause: U.CAUSE_NONE };
const SETTLING = { validity: U.NO_COMPUTED_DATA, cause: U.CAUSE_SETTLING };
const NO_INPUT = { inhibit: 0, acknowledge: 0, running: 0 };
const PERIOD_S = 0.1;

async function wrongOf(scene: Scene): Promise<string[]> {
  const { records, counters } = await playScene(scene);
  const judge = makePlainJudge(scene, makeTruth(scene));
  judge.take(records);
  const { checks } = judge.finish(counters);
  return checks.filter((one) => !one.isRight).map(({ check, why }) => `${check}: ${why}`);
}

/** What the truth says where no record ever says that a level is computed, by step from 1. */
function unseen(scene: Scene): (timeS: number) => StepTruth {
  const truth = makeTruth(scene);
  const steps = Array.from({ length: truth.stepCount }, (_, i) => truth.step(0, i + 1));
  return (timeS) => steps[Math.round(timeS / PERIOD_S) - 1]!;
}

/** A functional test from one time to another. */
function testing(fromS: number, untilS: number): Scene["inputs"] {
  return [
    { timeS: 0, ...NO_INPUT, test: false },
    { timeS: fromS, ...NO_INPUT, test: true },
    { timeS: untilS, ...NO_INPUT, test: false },
  ];
}

describe("a number that must be there", () => {
  it("[TRUTH-090] is due, and valid, once the reference must have been found", () => {
    // 20 rev/s, locked after three cycles: found by the eighth edge, a level four cycles later; 2 Hz
    // wide, 6.64 τ are 6.64·√(√2 − 1)/(2π) = 0.680 s (hand calculation).
    const speed = [{ timeS: 0, revPerS: 20 }];
    const filter = kit.filterProfile({ bandwidth: { kind: "fixed", fullWidthHz: 2 } });
    const profile = kit.monitorProfile({ filters: [filter], displayPeriodS: PERIOD_S });
    const motion = kit.shaftMotion({ speed });
    const at = unseen(kit.scene({ profile, shafts: [motion], durationS: 3 }));
    expect(at(0.1).record!.isComputed).not.toBe("yes");
    expect(at(0.8).record!.isComputed).toBe("yes");
    expect(at(0.8).allowed).toContainEqual(SETTLING);
    expect(at(0.7 + 0.68 + 0.5).allowed).toEqual([VALID]);
    expect(at(2.9).allowed).toEqual([VALID]);
  });

  it("[TRUTH-091] is due by cycles where the bandwidth is proportional", () => {
    // 2 % of the speed: 6.64 τ are 6.64·√(√2 − 1)/(π·0.02) = 68.01 cycles (hand calculation).
    const filter = kit.filterProfile({ bandwidth: { kind: "proportional", fullWidthRatio: 0.02 } });
    const profile = kit.monitorProfile({ filters: [filter], displayPeriodS: PERIOD_S });
    const motion = kit.shaftMotion({ speed: [{ timeS: 0, revPerS: 20 }] });
    const at = unseen(kit.scene({ profile, shafts: [motion], durationS: 6 }));
    expect(at(69 / 20).allowed).toContainEqual(SETTLING);
    expect(at((69 + 22) / 20).allowed).toEqual([VALID]);
  });

  it("[TRUTH-092] is put off by a functional test between two display steps", async () => {
    const profile = kit.monitorProfile({ displayPeriodS: 1 });
    const channels = [kit.channelSignal([kit.orderComponent(1, 40, 30)])];
    const scene = kit.scene({ profile, channels, durationS: 12, inputs: testing(5.3, 5.6) });
    expect(await wrongOf(scene)).toEqual([]);
    const truth = makeTruth(scene);
    const steps = Array.from({ length: 6 }, (_, i) => truth.step(0, i + 1));
    expect(steps[5]!.allowed).toEqual([SETTLING]);
  });

  it.each([
    ["up", 15, 80],
    ["down", 80, 15],
  ])(
    "[TRUTH-093] is put off by cycles, not by time, after a test on the way %s",
    async (_, a, b) => {
      const speed = [
        { timeS: 0, revPerS: a },
        { timeS: 8, revPerS: a },
        { timeS: 8 + 65 / 9, revPerS: b },
      ];
      const filter = kit.filterProfile({
        bandwidth: { kind: "proportional", fullWidthRatio: 0.01 },
      });
      const profile = kit.monitorProfile({ filters: [filter], displayPeriodS: PERIOD_S });
      const scene = kit.scene({
        profile,
        shafts: [kit.shaftMotion({ speed })],
        channels: [kit.channelSignal([kit.orderComponent(1, 40, 30)])],
        inputs: testing(7, 8),
        durationS: 24,
      });
      expect(await wrongOf(scene)).toEqual([]);
    },
  );

  it("[TRUTH-094] is put off by a response that refuses triangles up to four cycles old", async () => {
    const response = {
      kind: "filters" as const,
      highPassOrder: 4,
      highPassHz: 20,
      lowPassOrder: 0,
      lowPassHz: 0,
      delayS: 0,
    };
    const shafts = [kit.shaftProfile({ positions: 12, speedMinRevPerS: 5, validSpeedRevPerS: 5 })];
    const channels = [kit.channelProfile({ response })];
    const profile = kit.monitorProfile({ channels, shafts, displayPeriodS: 0.05 });
    const motion = kit.shaftMotion({
      wheel: kit.fittedWheel({ positions: 12 }),
      speed: [
        { timeS: 0, revPerS: 10 },
        { timeS: 3, revPerS: 10 },
        { timeS: 9, revPerS: 30 },
      ],
    });
    const signal = kit.channelSignal([kit.orderComponent(1, 40, 30)]);
    const scene = kit.scene({ profile, shafts: [motion], channels: [signal], durationS: 12 });
    expect(await wrongOf(scene)).toEqual([]);
    const truth = makeTruth(scene);
    const steps = Array.from({ length: truth.stepCount }, (_, i) => truth.step(0, i + 1));
    const cause = U.CAUSE_RESPONSE;
    expect(steps[50]!.allowed).toEqual([{ validity: U.NO_COMPUTED_DATA, cause }]);
    expect(steps.at(-1)!.allowed).toEqual([VALID]);
  });
});
