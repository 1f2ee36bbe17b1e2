import type { CheckName } from "../scene/scene.ts";
import type { ToleranceTerm } from "../truth/types.ts";

/** One check of a case, over all its steps. */
export interface CheckResult {
  check: CheckName;
  /** Filter, shaft or channel; −1 = the whole device. */
  source: number;
  isRight: boolean;
  /** Of a box held against its own specification: what this check decides. */
  decision?: BoxDecision;
  /** How many steps or items were judged; 0 with isRight true only where `why` says so. */
  judgedCount: number;
  /** How many of them were wrong, with those that should not exist at all. */
  wrongCount: number;
  /**
   * Largest |error| over its tolerance, and where; 1 is the limit. Null: no multiple tells it, as
   * something is wrong that is right or wrong as a whole (a state, an event, a missing record), or
   * has no tolerance, or was no number.
   */
  worstRatio: number | null;
  /** Null: wrong as a whole, or no number. */
  worstError: number | null;
  /** 0 where the item has none. */
  worstTolerance: number;
  worstTimeS: number;
  unit: string;
  /**
   * The smallest error that this check would have caught, same unit. For level, phase, speed and
   * shown: an offset larger than this, of either sign, on every judged step, could not have passed.
   * For the others: the smallest change of one item (a display period, one step, one event).
   */
  smallestCaught: number;
  /** One plain sentence; for a wrong check what was found and what was expected. */
  why: string;
}

/**
 * Points of a trace, thinned to at most 2,000: of each slice the steps of the smallest and greatest
 * level, the first change (of caution, of what was allowed of it, of validity), and the first
 * change to on, else the last. Seven significant digits.
 */
export interface Trace {
  timeS: number[];
  level: number[];
  truth: number[];
  /** −1 where the step was not judged. */
  tolerance: number[];
  /** Display units; −1 where the number is blank. */
  shown: number[];
  speedRevPerS: number[];
  phaseLagDeg: number[];
  /** CAUTION_… found, and what was allowed: 0 off, 1 on, 2 either. */
  cautionState: number[];
  cautionAllowed: number[];
  validity: number[];
}

/** The judged step at which a level came nearest to its limit, in the filter's unit. */
export interface NearestStep {
  /** Number of the display step, from 1. */
  step: number;
  timeS: number;
  /** Null where the level was no number. */
  error: number | null;
  tolerance: number;
  /** What the tolerance is made of at this step: the sizes add up to it. */
  terms: ToleranceTerm[];
}

export interface FilterResult {
  filter: number;
  name: string;
  unit: string;
  trace: Trace;
  /** Absent where no level was judged. */
  nearest?: NearestStep;
  /** Least and greatest number that was shown as valid; absent where none ever was. */
  shownRange?: { least: number; most: number };
  /** Caution level and the end of hysteresis in display units; absent without a caution. */
  cautionLevel?: number;
  cautionEnd?: number;
  /** Windows that the scenario itself states: on, or off, at some time within. */
  statedCaution?: { isOn: boolean; fromS: number; untilS: number }[];
  displayStep: number;
  /** Share of steps at which the truth leaves open whether the caution is on. */
  eitherShare: number;
  /** Widest tolerance of a judged step over the greatest level: over 0.01 asks for a reason. */
  toleranceShare: number;
}

export interface EventResult {
  name: string;
  source: number;
  /** What the source is: "fan" for a number, else "shaft N1", "channel frame", "device". */
  of: string;
  timeS: number;
  speedRevPerS: number;
  level: number;
  detail: number;
  /** What the detail says, e.g. "time-out"; empty where it says nothing. */
  detailText: string;
  isExpected: boolean;
}

export interface ExceedanceResult {
  filter: number;
  onsetS: number;
  endS: number;
  peakS: number;
  peakLevel: number;
  peakShown: number;
  speedAtPeakRevPerS: number;
  timeAboveS: number;
}

/**
 * The verdict of one case: right only when every check is (a canary: only when its check is
 * not).
 */
export interface Verdict {
  isRight: boolean;
  checks: CheckResult[];
  filters: FilterResult[];
  events: EventResult[];
  exceedances: ExceedanceResult[];
  isCanary: boolean;
  /** Where a box was held against its own specification. */
  box?: BoxVerdict;
}

/** What can be said of a box; "not judged": nothing could be, or nothing that decides. */
export type BoxDecision = "inside" | "within the guard band" | "outside" | "not judged";

/** The reading of a box that came nearest to its limit, display units. */
export interface BoxReading {
  name: string;
  timeS: number;
  shown: number;
  /** What the truth leaves open within the stated latency, ended by the display's top. */
  low: number;
  high: number;
  /** Beyond what is left open; 0 within it. Null: the reading was no number. */
  error: number | null;
  /** 1 is the limit of acceptance, with the guard band weighed. Null: no number. */
  ratio: number | null;
  /** On the side that is nearer to its limit: accuracy, U = k·u, r·U and what U is made of. */
  accuracy: number;
  expandedUncertainty: number;
  guardBand: number;
  terms: { name: string; standard: number }[];
  decision: Exclude<BoxDecision, "not judged">;
}

/** When a box's caution had to come or go, and when it did, s. */
export interface BoxCaution {
  name: string;
  isOn: boolean;
  /** Allowed by accuracy, latency, update rate and the delay, as if the truth were sure. */
  fromS: number;
  untilS: number;
  /** Inside, whatever the truth is within U; the last may lie before the first. */
  surelyFromS: number;
  surelyUntilS: number;
  /** Outside, whatever the truth is within U, before the first and after the last. */
  earliestS: number;
  latestS: number;
  /** The first reading that showed it; null: none did. */
  foundS: number | null;
  decision: Exclude<BoxDecision, "not judged">;
}

/** How the times of one number's readings were put on the generator's clock. */
export interface BoxClock {
  name: string;
  /** The number whose bursts tell it; another's where its own do not. */
  from: string;
  /** Against the generator's, parts per million, with its expanded uncertainty. */
  driftPpm: number;
  driftUncertaintyPpm: number;
  /** Greatest expanded uncertainty of a time in the scenario: a term of every reading's U. */
  timeUncertaintyS: number;
}

/** How a box was decided about. */
export interface BoxVerdict {
  device: string;
  /** "guarded acceptance" or "simple acceptance". */
  rule: string;
  /** The worst of all checks. */
  decision: BoxDecision;
  /** Readings of numbers. */
  inside: number;
  guardBand: number;
  outside: number;
  notJudged: number;
  worst: BoxReading[];
  cautions: BoxCaution[];
  /** One for each number that the box shows. */
  clocks: BoxClock[];
  notes: string[];
}
