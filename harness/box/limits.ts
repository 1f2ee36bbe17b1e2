// A value against what the truth leaves open on either side: what lies beyond, what may, and how surely.
import type { DecisionRule, DeviceSpecification } from "./device-file.ts";
import {
  COVERAGE_FACTOR,
  type Decision,
  type Guard,
  type UncertaintyTerm,
  decideSide,
  expandedUncertainty,
  rectangular,
  worstDecision,
} from "./decision.ts";
import type { Reach } from "./truth-window.ts";

/** What a value is held against. */
export interface Expectation {
  /** Of the truth, within the stated latency. */
  reach: Reach;
  /** The same where times are off by their expanded uncertainty, either way, and over all of it. */
  early: Reach;
  late: Reach;
  wide: Reach;
  /** Greatest error at an expected value. */
  accuracyAt: (expected: number) => number;
  /** Standard uncertainties beside the truth's own and that of time. */
  termsAt: (expected: number) => UncertaintyTerm[];
  /** Of what the truth's value cannot move: half a step that the value is rounded by. */
  rounding: number;
  /** The value stands still here; Infinity where it does not. */
  top: number;
}

/** One side of what is left open. */
export interface Side extends GuardTerms {
  /** The truth on this side. */
  expected: number;
  /** Beyond it; negative: short of it. */
  excess: number;
  accuracy: number;
  decision: Decision;
}

interface GuardTerms {
  terms: UncertaintyTerm[];
  expandedUncertainty: number;
  guardBand: number;
}

/** Both sides of a reading, decided. */
export interface Decided {
  decision: Decision;
  /** The side that is nearer to its limit. */
  side: Side;
}

/**
 * How far time alone moves a side: `within`, towards the value, so that less is allowed; `beyond`,
 * away from it. Slope times time, by the secant over the whole expanded uncertainty of time.
 */
function movedByTime({ reach, early, late, wide }: Expectation, isUpper: boolean): Guard {
  const moved = isUpper
    ? {
        within: reach.high - Math.min(early.high, late.high),
        beyond: wide.high - reach.high,
      }
    : {
        within: Math.max(early.low, late.low) - reach.low,
        beyond: reach.low - wide.low,
      };
  return { within: Math.max(0, moved.within), beyond: Math.max(0, moved.beyond) };
}

/** How near to the limit: 1 is the limit of acceptance. */
export function limitRatio({ excess, accuracy, guardBand }: Side, rule: DecisionRule): number {
  const beyond = excess + (rule === "simple acceptance" ? 0 : guardBand);
  // Where no error is allowed, none is one at its limit.
  return beyond <= 0 ? 0 : beyond / accuracy;
}

/**
 * Terms at a side. Where the truth nears the top, or zero, only what is left of its uncertainty
 * counts: beyond the top the number cannot move.
 */
function termsAt(
  one: Expectation,
  isUpper: boolean,
  isEnded: boolean,
  side: keyof Guard,
): UncertaintyTerm[] {
  const { reach, wide, rounding, top } = one;
  const raw = isUpper ? reach.high : reach.low;
  const terms = [
    ...one.termsAt(raw),
    { name: "truth", standard: rectangular(wide.tolerance) },
    { name: "time", standard: movedByTime(one, isUpper)[side] / COVERAGE_FACTOR },
  ];
  const whole = expandedUncertainty(terms);
  const isRaised = isUpper === (side === "beyond");
  const end = (value: number): number => Math.max(0, Math.min(value, top));
  const left = isEnded ? Math.abs(end(isRaised ? raw + whole : raw - whole) - end(raw)) : whole;
  const share = whole === 0 ? 1 : left / whole;
  const kept = terms.map(({ name, standard }) => ({ name, standard: share * standard }));
  return [...kept, { name: "step", standard: rectangular(rounding) }];
}

function sideOf(
  value: number,
  one: Expectation,
  isUpper: boolean,
  { rule, guardFactor }: DeviceSpecification["decision"],
): Side {
  // Above, the top ends what is shown and not what may be: a truth beyond it leaves it shown.
  const raw = isUpper ? one.reach.high : Math.min(one.reach.low, one.top);
  const accuracy = one.accuracyAt(raw);
  const excess = isUpper ? value - raw : raw - value;
  const [within, beyond] = (["within", "beyond"] as const).map((side) => {
    const terms = termsAt(one, isUpper, !isUpper, side);
    const expanded = expandedUncertainty(terms);
    return { terms, expandedUncertainty: expanded, guardBand: guardFactor * expanded };
  }) as [GuardTerms, GuardTerms];
  const guard = { within: within.guardBand, beyond: beyond.guardBand };
  return {
    expected: raw,
    excess,
    accuracy,
    // Of the part of the guard band in which the value lies, or next to which.
    ...(excess > accuracy ? beyond : within),
    decision: decideSide(excess, accuracy, guard, rule),
  };
}

/** Decides about a value; one at the top may stand for any that is greater. */
export function decideWithin(
  value: number,
  one: Expectation,
  decision: DeviceSpecification["decision"],
): Decided {
  const upper = sideOf(value, one, true, decision);
  const isAtTop = value >= one.top - one.rounding;
  if (isAtTop) return { decision: upper.decision, side: upper };
  const lower = sideOf(value, one, false, decision);
  const isUpper = !(limitRatio(lower, decision.rule) > limitRatio(upper, decision.rule));
  const worst = worstDecision([upper.decision, lower.decision]) as Decision;
  return { decision: worst, side: isUpper ? upper : lower };
}
