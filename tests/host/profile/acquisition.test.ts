// What `check` says of the longest acquisition, held against the firmware.
import { describe, expect, it } from "vitest";
import { impliedBy } from "../../../host/profile/implied.ts";
import { parseProfile } from "../../../host/profile/profile-reader.ts";
import { VALID } from "../../../shared/units.ts";
import { edgeTicks, runCore, turning } from "../../assembly/kit/core-run.ts";

const REV_PER_S = 40;

describe("the longest acquisition", () => {
  it.each([
    ["positions: 1, lock revolutions: 1", "1 Hz"],
    ["positions: 1, lock revolutions: 1", "80 %"],
    ["positions: 1, lock revolutions: 2", "80 %"],
    ["positions: 6, lock revolutions: 2", "80 %"],
    ["positions: 36, index: missing tooth, lock revolutions: 1", "80 %"],
    ["positions: 4, index: missing tooth, lock revolutions: 1", "80 %"],
    ["positions: 6, index: missing tooth, lock revolutions: 1", "80 %"],
    ["positions: 2, index: extra edge, lock revolutions: 1", "80 %"],
    ["positions: 31, per revolutions: 2, lock revolutions: 1", "80 %"],
  ])("[PROF-047] is not exceeded and nearly reached: %s, %s", async (shaft, bandwidth) => {
    const profile = parseProfile(
      "p",
      `monitor: my fan
display period: 10 ms
channels: { x: { measures: acceleration } }
shafts: { N1: { ${shaft}, lowest speed: 1800 r/min, highest speed: 6000 r/min } }
filters: { fan: { bandwidth: ${bandwidth} } }
`,
    );
    const wheel = profile.shafts[0]!;
    const told = impliedBy(profile, REV_PER_S).filters[0]!.atSpeeds[0]!.acquisitionS;
    let longestS = 0;
    for (const startRev of [0.003, 0.2, 0.4, 0.6, 0.8, 0.997]) {
      const edges = edgeTicks(turning(REV_PER_S, 0, startRev), wheel, 3, profile.clockHz);
      const signals = [(t: number) => Math.cos(2 * Math.PI * REV_PER_S * t)];
      // oxlint-disable-next-line no-await-in-loop
      const { levels } = await runCore({ profile, edges: [edges], signals, durationS: 3 });
      const first = levels.find((one) => one.validity === VALID)!;
      longestS = Math.max(longestS, (first.tick - edges[0]!) / profile.clockHz);
    }
    // The two samples that a cycle's end waits for are not told.
    expect(longestS).toBeLessThanOrEqual(told + 3 / profile.sampleRateHz);
    expect(longestS).toBeGreaterThan(told - (2 * wheel.revolutions) / REV_PER_S - 0.01);
  });
});
