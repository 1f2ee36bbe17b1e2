// Whether a reading lies inside its limits, by a stated rule.
//
// Source  JCGM 106:2012, Evaluation of measurement data – The role of measurement uncertainty in
//         conformity assessment: 8.2 simple acceptance, 8.3 guard bands, w = r·U, acceptance interval
//         inside the tolerance interval (from memory)
import type { DecisionRule } from "./device-file.ts";

export type Decision = "inside" | "within the guard band" | "outside";

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
  return COVERAGE_FACTOR * Math.sqrt(terms.reduce((sum, { standard }) => sum + standard ** 2, 0));
}

/**
 * Decides about an error within ± accuracy.
 *
 * Shape     guardBand = r·U; not used by simple acceptance
 */
export function decide(
  error: number,
  accuracy: number,
  guardBand: number,
  rule: DecisionRule,
): Decision {
  const size = Math.abs(error);
  // An error that is no number is none that could be inside.
  if (Number.isNaN(size)) return "outside";
  if (rule === "simple acceptance") return size <= accuracy ? "inside" : "outside";
  if (size <= accuracy - guardBand) return "inside";
  return size > accuracy + guardBand ? "outside" : "within the guard band";
}
