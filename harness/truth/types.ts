// What the truth says of each display step. Written by harness/truth, read by harness/judge.

import type { LEVEL_TERM_NAMES, RANDOM_NAMES, TERM_NAMES } from "./error-bounds.ts";
import type { RecordTruth } from "./record-truth.ts";

/** Every name that a term can have. */
export type TermName =
  | (typeof TERM_NAMES)[number]
  | (typeof RANDOM_NAMES)[number]
  | (typeof LEVEL_TERM_NAMES)[number];

/** One term of a tolerance: name as the report prints it, size in the value's own unit. */
export interface ToleranceTerm {
  name: TermName;
  value: number;
}

/** The expected state of one tracking filter at one display step. */
export interface StepTruth {
  /**
   * False: nothing may be judged here (start, drop-out, settling); validity says what is
   * allowed.
   */
  isJudged: boolean;
  /**
   * True where the level is not judged, yet surely lies within levelTol of level: what a fault of
   * the channel leaves open may be too wide for a level and still decide a caution.
   */
  isBounded?: boolean;
  /** Filtered vector, SI pk, of the newest revolution that counts at the step. */
  re: number;
  im: number;
  /** Level in the filter's unit and detector, and its tolerance. */
  level: number;
  levelTol: number;
  /** What levelTol is made of: the sizes add up to it. Absent where no level is computed. */
  terms?: readonly ToleranceTerm[];
  phaseLagDeg: number;
  phaseTolDeg: number;
  phaseIsJudged: boolean;
  speedRevPerS: number;
  speedTolRevPerS: number;
  /** Speed of the newest revolution: what the validity rules and the scale see. */
  speedNowRevPerS: number;
  /** Tolerance of the newest revolution's speed; absent: the filtered speed's serves. */
  speedNowTolRevPerS?: number;
  /** Validity and causes that are right here; several where a change may fall either side. */
  allowed: { validity: number; cause: number }[];
  /** The record's other fields; absent: a truth that says nothing of them. */
  record?: RecordTruth;
}

/** An event that must come, once, within the window (ticks of the edge clock). */
export interface EventTruth {
  code: number;
  source: number;
  fromTick: number;
  untilTick: number;
  /** Detail that it must carry, where known. */
  detail?: number;
  /** True: it may come, up to `countMax` times (default 1), and need not. Absent: it must, once. */
  isOptional?: boolean;
  countMax?: number;
  /** A second event of the same code and source inside the window is wrong, too. */
  why: string;
}

/** A counter's range at the end. */
export interface CounterTruth {
  name: keyof import("../../host/record-types.ts").Counters;
  index: number;
  min: number;
  max: number;
  why: string;
}

/**
 * The truth of one scene, made step by step in f64 from the scene alone.
 *
 * `step` is called with display steps 1, 2, 3 … in order, once each, for each filter; memory does
 * not grow with the flight. `acquired` hands over from the record where a filter first says that a
 * level is computed after each acquisition: the recursion starts there. The truth checks that it
 * lies between the earliest and the latest that the definition allows. It is called before `step`
 * of the same display step; until it is called (and after each loss of the reference) no level is
 * judged.
 */
export interface SceneTruth {
  readonly stepCount: number;
  /**
   * Says that a level is computed from this step on.
   *
   * Shape     closingTick = tick − ageTicks of the record, the end of the newest revolution
   *           counted; revolution = the record's own count of whole cycles closed since the
   *           reference was found: the first vector stands at 2. Where it is left out, 2 is taken.
   */
  acquired(
    filter: number,
    step: number,
    closingTick: number,
    revolution?: number,
  ): { isAllowed: boolean; why: string };
  /**
   * The truth at one display step. `closingTick` (tick − ageTicks of the record, where a level is
   * computed) decides between two revolutions only where the definition leaves both open, within a
   * tick and the edges' own uncertainty; without it the tolerance covers both.
   */
  step(filter: number, step: number, closingTick?: number): StepTruth;
  /** Events and counters of tachometer, transducers and inputs; cautions are the judge's own. */
  events(): EventTruth[];
  counters(): CounterTruth[];
}
