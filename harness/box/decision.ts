// Whether a value lies inside its limits, by a stated rule.
//
// Source  JCGM 106:2012, Evaluation of measurement data – The role of measurement uncertainty in
//         conformity assessment: 8.2 simple acceptance, 8.3 guard bands, w = r·U, acceptance interval
//         inside the tolerance interval (from memory)
import type { BoxDecision } from "../judge/types.ts";
import type { DecisionRule } from "./device-file.ts";

export type Decision = Exclude<BoxDecision, "not judged">;

/** One part of a reading's uncertainty. */
export interface UncertaintyTerm {
  name: string;
  /** Standard uncertainty, the reading's own unit. */
  standard: number;
}

/** Coverage factor of the reading's expanded uncertainty: about 95 % of a normal distribution. */
export const COVERAGE_FACTOR = 2;

/** Standard uncertainty of a value that lies anywhere within ± half (JCGM 100:2008, 4.3.7). */
export function rectangular(half: number): number {
  return half / Math.sqrt(3);
}

/** U = k·u of independent terms (JCGM 100:2008, 5.1.2, 6.2.1). */
export function expandedUncertainty(terms: readonly UncertaintyTerm[]): number {
  return COVERAGE_FACTOR * Math.hypot(...terms.map(({ standard }) => standard));
}

/** r·U on either side of a limit: they differ where the truth is bent. */
export interface Guard {
  within: number;
  beyond: number;
}

/**
 * Decides about what lies beyond the expected value on one side, where `accuracy` may.
 *
 * Shape     guard is not used by simple acceptance; excess < 0: short of the expected value
 */
export function decideSide(
  excess: number,
  accuracy: number,
  { within, beyond }: Guard,
  rule: DecisionRule,
): Decision {
  // An error that is no number is none that could be inside.
  if (Number.isNaN(excess)) return "outside";
  if (rule === "simple acceptance") return excess <= accuracy ? "inside" : "outside";
  if (excess <= accuracy - within) return "inside";
  return excess > accuracy + beyond ? "outside" : "within the guard band";
}

/** From the best to the worst: what was not judged shows nothing, and is less than shown. */
const SEVERITY: readonly BoxDecision[] = [
  "inside",
  "not judged",
  "within the guard band",
  "outside",
];

export const severity = (one: BoxDecision): number => SEVERITY.indexOf(one);

/** The worst of several; of none, "not judged". */
export function worstDecision<T extends BoxDecision>(all: readonly T[]): T | "not judged" {
  return all.length === 0
    ? "not judged"
    : all.reduce((worst, one) => (severity(one) > severity(worst) ? one : worst));
}
