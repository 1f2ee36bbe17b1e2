// The tolerance itself: how often noisy runs lie outside of what is computed, and how wide it is.
import { beforeAll, describe, expect, it } from "vitest";
import { randomFactor, SUITE_CASES } from "../../harness/truth/random-factor.ts";
import { TEST_SEED } from "../kit/seed.ts";
import { shareInterval } from "./binomial.ts";
import { CONFIDENCE, judgedRuns, lengthBeyond, lengthBound, RATIO_MAX } from "./judged-runs.ts";
import { type NoisyRuns, noisyRuns } from "./noisy-runs.ts";
import { PLACED_TERMS, placedRuns } from "./placed-runs.ts";
import { MANY_STEPS, RANDOM_TERMS } from "./random-terms.ts";

/** The first thousand of the seed; the figures TOLERANCE-… play ten thousand. */
const RUNS = 1000;
const FIRST_SEED = TEST_SEED % 2 ** 31;
/** The same placements each time: how near the worst of a thousand comes is no matter of chance. */
const FIRST_PLACEMENT = 1;
/** What is not random must not hide what is. */
const OTHER_SHARE_MAX = 0.02;
const RUN_SHARE = 0.1;
/**
 * The mean of the squares of `runs` normal errors scatters by √(2/runs) of itself where the error
 * has one direction, by less where it has two; 4.4 of that is passed once in 10⁵ times.
 */
const SQUARE_SCATTER = 4.4 * Math.sqrt(2 / RUNS);

describe.each(RANDOM_TERMS)("$id: $what", (term) => {
  let played: NoisyRuns;
  beforeAll(async () => {
    played = await noisyRuns(term, FIRST_SEED, RUNS);
  }, 600_000);

  it("[TOL-001] the share of runs outside 2 sigma is the stated one", () => {
    const judged = judgedRuns(term, played);
    expect(played.otherShare).toBeLessThan(term.otherShareMax ?? OTHER_SHARE_MAX);
    expect(judged.isCompatible, JSON.stringify({ FIRST_SEED, ...judged })).toBe(true);
  });

  it("[TOL-002] the bound is at most three times as wide as it need be", () => {
    // That it is not too narrow is what the share says.
    const { ratio } = judgedRuns(term, played);
    expect(ratio).toBeLessThanOrEqual(RATIO_MAX);
  });

  if (term.isWhole === true) {
    it("[TOL-007] the mean square of the error is the computed variance", () => {
      const { rms } = judgedRuns(term, played);
      const isOff = (factor: number): boolean =>
        Math.abs((factor * rms) ** 2 - 1) >= SQUARE_SCATTER;
      // A sigma a quarter off would be noticed.
      expect([1, 1.25, 0.75].map(isOff)).toEqual([false, true, true]);
    });
  }

  if (term.variance === "most") return;
  it("[TOL-003] a sigma a quarter off would be noticed", () => {
    const wide = { ...played, errors: played.errors.map((one) => one * 1.25) };
    const narrow = { ...played, errors: played.errors.map((one) => one * 0.75) };
    for (const off of [wide, narrow]) expect(judgedRuns(term, off).isCompatible).toBe(false);
  });
});

describe.each(PLACED_TERMS)("$id: $what", (term) => {
  it("[TOL-008] no placement lies outside, and the worst comes near", async () => {
    const { outside, worst, otherShare } = await placedRuns(term, FIRST_PLACEMENT, RUNS);
    expect(outside).toBe(0);
    expect(otherShare).toBeLessThan(OTHER_SHARE_MAX);
    expect(1 / worst / (1 - otherShare)).toBeLessThanOrEqual(RATIO_MAX);
  }, 600_000);
});

describe("runs that are judged", () => {
  const term = RANDOM_TERMS.find((one) => one.held !== "speed" && one.variance !== "most")!;
  /** Lengths of vectors of two normal parts, at even probabilities. */
  const lengths = Float64Array.from({ length: RUNS }, (_, i) => lengthBound((i + 0.5) / RUNS));
  const judged = (errors: Float64Array) =>
    judgedRuns(term, {
      runs: RUNS,
      errors,
      levelErrors: errors,
      largest: errors,
      steps: 1,
      otherShare: 0,
    });

  it("[TOL-009] are incompatible where the tail is heavy, though 2 sigma is passed as stated", () => {
    expect(judged(lengths).isCompatible).toBe(true);
    const heavy = judged(lengths.map((one) => (one > 2.2 ? 3 * one : one)));
    expect(heavy.count).toBe(judged(lengths).count);
    expect(heavy.isCompatible).toBe(false);
  });
});

describe("the factor on sigma", () => {
  it(
    "[TOL-004] holds for a whole run: every display step is a look",
    { timeout: 600_000 },
    async () => {
      const { largest, steps } = await noisyRuns(MANY_STEPS, FIRST_SEED, RUNS);
      const bound = lengthBound(RUN_SHARE / steps);
      const outside = largest.filter((one) => one > bound).length;
      expect(shareInterval(outside, RUNS, CONFIDENCE).low).toBeLessThanOrEqual(RUN_SHARE);
      // Not by being far too wide: the bound that is passed so often is no third of it.
      const needed = largest.toSorted()[Math.ceil((1 - RUN_SHARE) * RUNS) - 1]!;
      expect(bound / needed).toBeLessThan(RATIO_MAX);
    },
  );

  it("[TOL-005] is that of one suite in 10⁵, by the same formula as the counted bound", () => {
    const made = MANY_STEPS.scene(1);
    const { displayPeriodS, filters } = made.profile;
    const factor = randomFactor(made.durationS, displayPeriodS, filters.length);
    const looks = (made.durationS / displayPeriodS) * filters.length * SUITE_CASES;
    expect(looks * lengthBeyond(factor)).toBeCloseTo(1e-5, 10);
    expect(lengthBound(lengthBeyond(2))).toBeCloseTo(2, 12);
  });
});

describe("the interval of a share", () => {
  it("[TOL-006] Clopper and Pearson: none and all of n have the closed form", () => {
    for (const n of [10, 1000, 10_000]) {
      const edge = 1 - 0.025 ** (1 / n);
      expect(shareInterval(0, n, 0.95).low).toBe(0);
      expect(shareInterval(0, n, 0.95).high).toBeCloseTo(edge, 10);
      expect(shareInterval(n, n, 0.95).low).toBeCloseTo(1 - edge, 10);
    }
    // Five of ten, 95 %: 0.187 … 0.813, as in tables of exact limits (from memory).
    const half = shareInterval(5, 10, 0.95);
    expect(half.low).toBeCloseTo(0.187, 3);
    expect(half.high).toBeCloseTo(0.813, 3);
  });
});
