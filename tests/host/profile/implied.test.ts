import { describe, expect, it } from "vitest";
import { TAU_TIMES_HALF_WIDTH } from "../../../host/profile/configuration.ts";
import {
  clearing,
  impliedBy,
  noiseBandwidthHz,
  SETTLING_TAU,
} from "../../../host/profile/implied.ts";
import { parseProfile } from "../../../host/profile/profile-reader.ts";

const profile = (caution: string, more = ""): ReturnType<typeof parseProfile> =>
  parseProfile(
    "p",
    `monitor: my fan
channels: { x: {} }
shafts: { N1: { lowest speed: 600 r/min, highest speed: 6000 r/min } }
filters: { fan: { bandwidth: 1 Hz, caution: { ${caution} }${more} } }
`,
  );

describe("what a profile implies", () => {
  it("[PROF-040] two equal poles settle to 1 % in 6.638 time constants", () => {
    // (1 + x)·e^(−x) = 0.01: check value F-03.
    expect((1 + SETTLING_TAU) * Math.exp(-SETTLING_TAU)).toBeCloseTo(0.01, 10);
    const at = impliedBy(profile("level: 4"), 80).filters[0]!.atSpeeds[0]!;
    expect(at.timeConstantS).toBeCloseTo(TAU_TIMES_HALF_WIDTH / 0.5, 12);
    expect(at.settlingS).toBeCloseTo(6.638352068 * at.timeConstantS + 2 / 80, 9);
    expect(at.latencyS).toBeCloseTo(2 * at.timeConstantS + 1 / 80, 12);
    expect(at.samplesPerPeriod).toBe(160);
  });

  it("[PROF-041] the noise bandwidth tends to 1/(4τ) where the filter is slow", () => {
    // Two equal poles, both sides: ∫|H|²df = 1/(4τ), computed from the definition.
    const tau = 1;
    const speed = 1000;
    expect(noiseBandwidthHz(1 / (speed * tau), speed)).toBeCloseTo(1 / (4 * tau), 5);
  });

  it("[PROF-042] the noise bandwidth is that of white noise sent through the definition", () => {
    // Weights of the revolutions by running the recursion on a unit pulse of one revolution's mean:
    // the triangle spreads it over two revolutions, rising over one and falling over the next.
    const h = 0.3;
    const beta = Math.exp(-h);
    let [y1, y2] = [0, 0];
    let [before, sum] = [0, 0];
    for (let m = 0; m < 400; m += 1) {
      const z = m === 0 ? 1 : 0;
      y2 = z + beta * (y2 - z + h * (y1 - z));
      y1 = z + beta * (y1 - z);
      // Over one revolution the weight runs straight from this value to the last one: ∫w² = ….
      sum += (y2 * y2 + y2 * before + before * before) / 3;
      before = y2;
    }
    expect(noiseBandwidthHz(h, 50)).toBeCloseTo(sum * 50, 9);
  });

  it("[PROF-043] a caution without delay, smoothing or hysteresis clears as the poles fall", () => {
    // From 1.5 to 0.5 of the level; below it where the fall has done a half and half a step: with
    // 40 counts (1 + x)·e^(−x) = (39.5 − 20)/40 = 0.4875, x = 1.714…; 1 ms display, 100 rev/s.
    const fast = parseProfile(
      "p",
      `monitor: my fan
display period: 10 ms
channels: { x: {} }
shafts: { N1: {} }
filters: { fan: { bandwidth: 0.2 Hz, caution: { level: 4 } } }
`,
    );
    const tau = TAU_TIMES_HALF_WIDTH / 0.1;
    let x = 1;
    for (let round = 0; round < 60; round += 1) x = Math.log((1 + x) / 0.4875);
    const found = clearing(fast.filters[0]!, fast, 400);
    // Longest alignment: up to two revolutions of the triangle and one display period later.
    expect(found.clearsS).toBeGreaterThan(x * tau);
    expect(found.clearsS).toBeLessThan(x * tau + 2 / 400 + 0.011);
    expect(found.numberBelowS).toBe(found.clearsS);
  });

  it("[PROF-044] the off-delay adds its display periods", () => {
    const without = clearing(profile("level: 4").filters[0]!, profile("level: 4"), 80);
    const delayed = profile("level: 4, off-delay: 5 s");
    const found = clearing(delayed.filters[0]!, delayed, 80);
    expect(found.numberBelowS).toBe(without.numberBelowS);
    expect(found.clearsS).toBeCloseTo(without.clearsS + 5, 9);
  });

  it("[PROF-045] warns where clearing is longer than the procedure's wait, and where it never is", () => {
    const late = profile("level: 4, off-delay: 10 s, procedure wait: 10 s");
    expect(impliedBy(late).warnings.join()).toMatch(/may need .* s to clear, longer than .* 10 s/);
    const soon = profile("level: 4, off-delay: 5 s, procedure wait: 10 s");
    expect(impliedBy(soon).warnings).toEqual([]);
    const stuck = profile("level: 4, hysteresis: 3");
    expect(impliedBy(stuck).filters[0]!.atSpeeds[0]!.caution!.clearsS).toBe(Infinity);
    expect(impliedBy(stuck).warnings.join()).toMatch(/does not clear/);
  });

  it("[PROF-049] warns where the caution level is at the channel's range or above it", () => {
    const ranged = (range: string, level: string): string =>
      impliedBy(
        parseProfile(
          "p",
          `monitor: my fan
channels: { x: { measures: acceleration, range: ${range} } }
shafts: { N1: { lowest speed: 600 r/min, highest speed: 6000 r/min } }
filters: { fan: { level: ${level}, caution: { level: 2 } } }
`,
        ),
      ).warnings.join();
    const WARNED = /the caution level is .* times the range of channel x or more/;
    expect(ranged("2 g pk", "g pk")).toMatch(WARNED);
    expect(ranged("2.1 g pk", "g pk")).not.toMatch(WARNED);
    // 2 in/s pk at 10 rev/s are 0.325 g pk: at the lowest speed it can be shown.
    expect(ranged("0.34 g pk", "in/s pk")).not.toMatch(WARNED);
    expect(ranged("0.32 g pk", "in/s pk")).toMatch(WARNED);
  });

  it("[PROF-053] warns where a filter is as wide as orders are apart", () => {
    // 600 r/min: orders 10 Hz apart, half of the full width to either side.
    const wide = (width: string): string =>
      impliedBy(
        parseProfile(
          "p",
          `monitor: my fan
channels: { x: {} }
shafts: { N1: { lowest speed: 600 r/min, highest speed: 6000 r/min } }
filters: { fan: { bandwidth: ${width} } }
`,
        ),
      ).warnings.join();
    expect(wide("20 Hz")).toMatch(/20 Hz reaches the neighbouring orders .* 10 Hz away/);
    expect(wide("19 Hz")).not.toMatch(/neighbouring/);
  });

  it("[PROF-046] few samples in a period warn and are not refused", () => {
    const coarse = parseProfile(
      "p",
      `monitor: my fan
sample rate: 1 kHz
channels: { x: {} }
shafts: { N1: { highest speed: 6000 r/min } }
filters: { fan: {} }
`,
    );
    expect(impliedBy(coarse).warnings.join()).toMatch(/only 10 samples in a period of order 1/);
  });

  it.each([
    ["481 r/min", 0],
    ["479 r/min", 1],
  ])("[PROF-048] health checks of a shaft of %s: %i warnings", (lowest, count) => {
    const slow = parseProfile(
      "p",
      `monitor: my fan
channels: { x: { measures: velocity, health: { physical limit: 20 in/s pk } } }
shafts: { N1: { positions: 60, lowest speed: ${lowest}, highest speed: 6000 r/min } }
filters: { fan: {} }
`,
    );
    const { warnings } = impliedBy(slow);
    expect(warnings.filter((one) => one.includes("health checks of x"))).toHaveLength(count);
  });
});
