// How often noisy runs lie outside of what the tolerance computes, and how wide it is.
import { shareInterval } from "../tolerance/binomial.ts";
import {
  CONFIDENCE,
  COUNTED_SIGMA,
  judgedRuns,
  lengthBound,
  RATIO_MAX,
} from "../tolerance/judged-runs.ts";
import { noisyRuns } from "../tolerance/noisy-runs.ts";
import { PLACED_TERMS, placedRuns } from "../tolerance/placed-runs.ts";
import { MANY_STEPS, RANDOM_TERMS } from "../tolerance/random-terms.ts";
import type { Figure, Measured } from "./figure.ts";

const RUNS = 10_000;
const FIRST_SEED = 1;
const RUN_SHARE = 0.1;

const percent = (share: number): string => `${(100 * share).toFixed(2)} %`;

const termFigure = (term: (typeof RANDOM_TERMS)[number]): Figure => ({
  id: `TOLERANCE-${term.id}`,
  what: `${RUNS} runs with ${term.what}: share outside ${COUNTED_SIGMA} σ, width of the bound`,
  required:
    `the stated share${term.variance === "most" ? " or less" : ""} within the binomial interval, ` +
    `at most ${RATIO_MAX} times as wide as need be`,
  async measure(): Promise<Measured> {
    const judged = judgedRuns(term, await noisyRuns(term, FIRST_SEED, RUNS));
    const { share, stated, interval, ratio, isCompatible } = judged;
    return {
      text:
        `${percent(share)} (${percent(interval.low)} to ${percent(interval.high)}), ` +
        `stated ${percent(stated)}; ${ratio.toFixed(2)} times as wide`,
      isOk: isCompatible && ratio <= RATIO_MAX,
    };
  },
});

const wholeRun: Figure = {
  id: `TOLERANCE-${MANY_STEPS.id}`,
  what: `${RUNS} runs with ${MANY_STEPS.what}: share of runs outside at any step`,
  required: `${percent(RUN_SHARE)} or less, at most ${RATIO_MAX} times as wide as need be`,
  async measure(): Promise<Measured> {
    const { largest, steps } = await noisyRuns(MANY_STEPS, FIRST_SEED, RUNS);
    const bound = lengthBound(RUN_SHARE / steps);
    const outside = largest.filter((one) => one > bound).length;
    const { low, high } = shareInterval(outside, RUNS, CONFIDENCE);
    const ratio = bound / largest.toSorted()[Math.ceil((1 - RUN_SHARE) * RUNS) - 1]!;
    return {
      text:
        `${percent(outside / RUNS)} (${percent(low)} to ${percent(high)}) over ${steps} steps; ` +
        `${ratio.toFixed(2)} times as wide`,
      isOk: low <= RUN_SHARE && ratio <= RATIO_MAX,
    };
  },
};

const placedFigure = (term: (typeof PLACED_TERMS)[number]): Figure => ({
  id: `TOLERANCE-${term.id}`,
  what: `${RUNS} placements of ${term.what}: share outside the bound, width of the bound`,
  required: `none outside, at most ${RATIO_MAX} times as wide as the worst placement needs`,
  async measure(): Promise<Measured> {
    const { outside, interval, worst, otherShare } = await placedRuns(term, FIRST_SEED, RUNS);
    const ratio = 1 / worst / (1 - otherShare);
    return {
      text:
        `${outside} outside (0 to ${percent(interval.high)} of all placements); ` +
        `${ratio.toFixed(2)} times as wide`,
      isOk: outside === 0 && ratio <= RATIO_MAX,
    };
  },
});

export const TOLERANCE_FIGURES: Figure[] = [
  ...RANDOM_TERMS.map(termFigure),
  ...PLACED_TERMS.map(placedFigure),
  wholeRun,
];
