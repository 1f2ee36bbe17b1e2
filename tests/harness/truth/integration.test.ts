// The integration's distance from the true one, between what both moduli leave open.
import { describe, expect, it } from "vitest";
import { makePlainJudge } from "../../../harness/judge/streaming-judge.ts";
import { integrationOf } from "../../../harness/truth/integration-distance.ts";
import { makeTruth } from "../../../harness/truth/truth.ts";
import { playScene } from "../../kit/play-scene.ts";
import * as kit from "../../kit/scene-builder.ts";

describe("the distance of an integration", () => {
  it("[TRUTH-095] is made of the slope of the speed and of the change of the modulus", () => {
    // Cycles of 0.1 s and 0.08 s: 1/b − 1/a = 2.5, mean speed (0.8 + 1.25)/0.18 = 11.3889 rev/s,
    // ω = 71.5585 rad/s; slope 2·2.5/0.18/(11.3889·71.5585) = 0.0340843 (hand calculation).
    const before = { modulus: 3, bound: 0, variance: 0 };
    const parts = integrationOf(1, 1, [0, 0.1, 0.18], 2, before);
    expect(parts.slope).toBeCloseTo(0.0340843, 6);
    expect(parts.modulusChange).toBe(1);
    expect(parts.turnRad).toBeCloseTo(5.72468, 5);
  });

  it("[TRUTH-096] is bounded by what the cycle before left open, too", async () => {
    // Poles that forget in one geared cycle: the bound of the cycle with the corner is gone at once.
    const shaft = kit.shaftProfile({
      positions: 3,
      revolutions: 32,
      speedMinRevPerS: 30,
      timeoutS: 1.2,
    });
    const filter = kit.filterProfile({ bandwidth: { kind: "fixed", fullWidthHz: 4 } });
    const wheel = kit.fittedWheel({ positions: 3, revolutions: 32 });
    const speed = [
      { timeS: 0, revPerS: 36 },
      { timeS: 4, revPerS: 36 },
      { timeS: 7, revPerS: 42.5 },
    ];
    const scene = kit.scene({
      profile: kit.monitorProfile({ sampleRateHz: 2560, shafts: [shaft], filters: [filter] }),
      shafts: [kit.shaftMotion({ speed, wheel })],
      durationS: 16,
    });
    const { records, counters } = await playScene(scene);
    const judge = makePlainJudge(scene, makeTruth(scene));
    judge.take(records);
    const { checks } = judge.finish(counters);
    expect(checks.filter((one) => !one.isRight).map((one) => one.why)).toEqual([]);
  });
});
