// Clipped samples inside the whole firmware: counted whether or not a check asks for them.
import { describe, expect, test } from "vitest";
import type { HealthProfile } from "../../host/profile/types.ts";
import { loadCore, playScene } from "../kit/play-scene.ts";
import {
  channelProfile,
  channelSignal,
  monitorProfile,
  orderComponent,
  scene,
} from "../kit/scene-builder.ts";

const AMPLITUDE_PK = 30;
const RANGE = 20;

/** Samples of 2 s of a 30 pk cosine at 80 rev/s that lie beyond 20. */
function clippedExpected(): number {
  let count = 0;
  for (let i = 0; i < 2 * 12_800; i += 1) {
    const x = AMPLITUDE_PK * Math.cos(2 * Math.PI * (((80 * i) / 12_800 + 0.123) % 1));
    if (Math.abs(x) >= RANGE) count += 1;
  }
  return count;
}

const HEALTHS: [string, HealthProfile][] = [
  ["no check", { steps: 1 }],
  ["a check of another kind", { steps: 1, physicalPk: 1000 }],
  ["the check of clipping", { steps: 1, clipSamples: 5 }],
];

describe.each(["release", "debug"] as const)("health in the firmware, %s", (build) => {
  test.each(HEALTHS)("[HEALTH-031] clipped samples are counted with %s", async (_, health) => {
    const made = scene({
      durationS: 2,
      profile: monitorProfile({ channels: [channelProfile({ range: RANGE, health })] }),
      channels: [channelSignal([orderComponent(1, AMPLITUDE_PK)])],
    });
    const { counters } = await playScene(made, { core: loadCore(build) });
    expect(counters.samplesClipped[0]).toBe(clippedExpected());
    expect(clippedExpected()).toBeGreaterThan(1000);
  });
});
