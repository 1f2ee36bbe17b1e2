// Clipped samples and periods that are not whole, inside the whole firmware.
import { describe, expect, test } from "vitest";
import type { ChannelProfile, HealthProfile } from "../../host/profile/types.ts";
import { VALID } from "../../shared/units.ts";
import { loadCore, playScene } from "../kit/play-scene.ts";
import {
  channelProfile,
  channelSignal,
  monitorProfile,
  orderComponent,
  scene,
} from "../kit/scene-builder.ts";
import { edgeTicks, runCore, turning } from "./kit/core-run.ts";
import { profileOf } from "./kit/plain-profile.ts";

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

  // A converter's step is range/32,768: its last positive count lies under the range.
  test.each([
    ["positive", -20_000, 32_767],
    ["negative", -32_768, 20_000],
    ["symmetric", -32_767, 32_767],
  ])("[HEALTH-032] a converter at its %s end is clipped", async (_, low, high) => {
    const shaft = turning(80);
    const wheel = { positions: 6 };
    const health: HealthProfile = { steps: 1, clipSamples: 4 };
    const profile = profileOf(wheel, {}, {}, { range: RANGE, countStep: RANGE / 32_768, health });
    const counts = (t: number): number =>
      Math.max(low, Math.min(high, Math.round(60_000 * Math.cos(2 * Math.PI * 80 * t))));
    const { counters, levels } = await runCore({
      profile,
      edges: [edgeTicks(shaft, wheel, 2, profile.clockHz)],
      signals: [counts],
      durationS: 2,
      isCounts: true,
      build,
    });
    const ends = Array.from({ length: 2 * profile.sampleRateHz }, (__, i) =>
      counts(i / profile.sampleRateHz),
    ).filter((count) => Math.abs(count) >= 32_767);
    expect(counters.samplesClipped[0]).toBe(ends.length);
    expect(ends.length).toBeGreaterThan(1000);
    expect(levels.filter((level) => level.validity === VALID)).toEqual([]);
  });

  const CALM: [string, HealthProfile, ChannelProfile["kind"], number][] = [
    ["bursts", { steps: 1, burstRms: 1 }, "charge", 0],
    ["bias", { steps: 1, bias: { low: -2, high: 2 } }, "powered", 0],
    ["bursts about a bias", { steps: 1, burstRms: 1 }, "powered", 12],
    ["noise floor", { steps: 1, noiseFloorRms: 0.05 }, "charge", 0],
  ];
  test.each(CALM)(
    "[HEALTH-033] a stream that begins within a display period is judged from a whole one on: %s",
    async (_, health, kind, mean) => {
      const shaft = turning(80);
      const wheel = { positions: 6 };
      const profile = profileOf(wheel, {}, {}, { kind, health });
      for (const firstSample of [640, 700, 6700, 7678]) {
        // oxlint-disable-next-line no-await-in-loop
        const { counters } = await runCore({
          profile,
          edges: [edgeTicks(shaft, wheel, 3, profile.clockHz)],
          signals: [(t) => mean + 10 * Math.cos(2 * Math.PI * 80 * t)],
          durationS: 3,
          firstSample,
          build,
        });
        expect(counters.health).toEqual([0, 0, 0, 0, 0, 0, 0]);
      }
    },
  );
});
