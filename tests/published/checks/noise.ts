// White noise through the firmware's tracking filter with no tone in it: a Rayleigh length.
import { beforeAll, expect } from "vitest";
import { FLAG_SETTLED } from "../../../shared/layout.ts";
import { continuousFilter, noiseBandwidthHz } from "../../../harness/measure/closed-forms.ts";
import { timeConstantS } from "../../../harness/truth/filter-response.ts";
import { levelsOf, playScene } from "../../kit/play-scene.ts";
import {
  channelProfile,
  channelSignal,
  filterProfile,
  monitorProfile,
  scene,
  shaftProfile,
} from "../../kit/scene-builder.ts";
import { TEST_SEED } from "../../kit/seed.ts";
import { check, near, nearBy } from "../check.ts";

const RATE_HZ = 2000;
const REV_PER_S = 80;
const DURATION_S = 1500;
const ORDERS = [1, 2, 3, 4, 5, 6, 7, 8];
/** Noise bandwidth on one side of one pole of 0.5 Hz: π/2 of it (row F-06). */
const ENBW_HZ = 0.5 * 1.570796327;
/** Two equal poles with that noise bandwidth: their full width is 1/1.220331226 of both sides. */
const WIDTH_HZ = (2 * ENBW_HZ) / 1.220331226;
const TAU_S = timeConstantS(WIDTH_HZ);
/** By how much the triangle and the held vector make the discrete filter narrower in power. */
const POWER_SHARE = Math.abs(noiseBandwidthHz(1 / REV_PER_S, TAU_S) / (2 * ENBW_HZ) - 1);

// Vectors a time t apart correlate by ρ = (1 + t/τ)·e^(−t/τ), and what depends on their lengths alone
// by ρ² at most; ∫ρ² dt over both sides is 2.5·τ. Eight orders of white noise know nothing of each
// other. So many independent looks a mean is worth at least:
const LOOKS = (ORDERS.length * DURATION_S) / (2.5 * TAU_S);
/** Six standard deviations of a mean of values with that deviation, relative to theirs. */
const bySixSigma = (deviation: number): number => (6 * deviation) / Math.sqrt(LOOKS);

const lengths: number[] = [];
let square = 0;
beforeAll(async () => {
  const profile = monitorProfile({
    sampleRateHz: RATE_HZ,
    channels: [channelProfile({ quantity: "velocity" })],
    shafts: [shaftProfile({ speedMaxRevPerS: 100 })],
    filters: ORDERS.map((order) =>
      filterProfile({
        name: `order ${order}`,
        order,
        unit: "m/s",
        levelFactor: 1,
        bandwidth: { kind: "fixed", fullWidthHz: WIDTH_HZ },
      }),
    ),
  });
  const channels = [channelSignal([{ kind: "noise", rms: 1 }])];
  const play = scene({ profile, durationS: DURATION_S, seed: TEST_SEED, channels });
  const played = await playScene(play);
  for (const filter of ORDERS.keys()) {
    for (const one of levelsOf(played, filter)) {
      if ((one.flags & FLAG_SETTLED) === 0) continue;
      lengths.push(one.level);
      square += one.re * one.re + one.im * one.im;
    }
  }
  square /= lengths.length;
});

/** σ of either part of the vector, as the row has it: √(4·ENBW/fs). */
const SIGMA = 0.0396333;

check("F-22", "white noise of rms 1 at 2000 Hz: 0.0396333 in either part, 0.0496729 long", () => {
  near(continuousFilter(TAU_S).noiseBandwidthHz / 2, ENBW_HZ, 1e-9);
  expect(POWER_SHARE).toBeLessThan(5e-3);
  expect(lengths.length).toBeGreaterThan(100_000);
  // The square of a Rayleigh length deviates by its own mean, the length by 0.5227 of its.
  const share = POWER_SHARE / 2;
  expect(bySixSigma(0.5227) + share).toBeLessThan(0.02);
  near(Math.sqrt(square / 2), SIGMA, bySixSigma(1) / 2 + share);
  const mean = lengths.reduce((sum, one) => sum + one, 0) / lengths.length;
  near(mean, 0.0496729, bySixSigma(0.5227) + share);
});

check(
  "A-25",
  "the level of noise alone is Rayleigh: its tail at 1 to 4 σ, mean, median, spread",
  () => {
    const over = (u: number): number =>
      lengths.filter((one) => one > u * SIGMA).length / lengths.length;
    // A share p moves by u²·p for each share by which σ² is off; few events: 18 looks more.
    const reach = (u: number, p: number): number =>
      6 * Math.sqrt((p * (1 - p)) / LOOKS) + 18 / LOOKS + (u * u * p * POWER_SHARE) / 2;
    for (const [u, share] of [
      [1, 0.60653066],
      [2, 0.135335283],
      [3, 0.011108997],
      [4, 0.000335463],
      // The median.
      [1.177410023, 0.5],
    ] as const) {
      nearBy(over(u), share, reach(u, share));
    }
    const mean = lengths.reduce((sum, one) => sum + one, 0) / lengths.length;
    near(mean / SIGMA, 1.253314137, bySixSigma(0.5227) + POWER_SHARE / 2);
    const variance = lengths.reduce((sum, one) => sum + (one - mean) ** 2, 0) / lengths.length;
    // (R − mean)² of a Rayleigh length deviates by √(κ − 1) of its mean, κ = 3.2451 its kurtosis.
    near(variance / SIGMA ** 2, 0.429203673, bySixSigma(Math.sqrt(2.2451)) + POWER_SHARE);
  },
);
