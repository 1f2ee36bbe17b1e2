// What the truth says of each display step. Written by harness/truth, read by harness/judge.

/** One term of a tolerance: name as the report prints it, size in the value's own unit. */
export interface ToleranceTerm {
  name: string;
  value: number;
}

/** The expected state of one tracking filter at one display step. */
export interface StepTruth {
  /**
   * False: nothing may be judged here (start, drop-out, settling); validity says what is
   * allowed.
   */
  isJudged: boolean;
  /** Filtered vector, SI pk, of the newest revolution that counts at the step. */
  re: number;
  im: number;
  /** Level in the filter's unit and detector, and its tolerance. */
  level: number;
  levelTol: number;
  phaseLagDeg: number;
  phaseTolDeg: number;
  phaseIsJudged: boolean;
  speedRevPerS: number;
  speedTolRevPerS: number;
  /** Speed of the newest revolution: what the validity rules and the scale see. */
  speedNowRevPerS: number;
  /** Validity and causes that are right here; several where a change may fall either side. */
  allowed: { validity: number; cause: number }[];
}

/** An event that must come, once, within the window (ticks of the edge clock). */
export interface EventTruth {
  code: number;
  source: number;
  fromTick: number;
  untilTick: number;
  /** Detail that it must carry, where known. */
  detail?: number;
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
 * `step` is called with display steps 1, 2, 3 … in order, once each, for each filter; memory
 * does not
 * grow with the flight. `acquired` hands over from the record where a filter first says that a
 * level
 * is computed after each acquisition: the recursion starts there. The truth checks that it lies
 * between the earliest and the latest that the definition allows.
 */
export interface SceneTruth {
  readonly stepCount: number;
  /**
   * Revolution end (ticks, exact time) that a filter's recursion starts from; false: not
   * allowed there.
   */
  acquired(filter: number, step: number, closingTick: number): { isAllowed: boolean; why: string };
  step(filter: number, step: number): StepTruth;
  /** Events and counters of tachometer, transducers and inputs; cautions are the judge's own. */
  events(): EventTruth[];
  counters(): CounterTruth[];
  /** Terms of the level's tolerance at the widest judged step so far, for the report. */
  terms(filter: number): ToleranceTerm[];
}
