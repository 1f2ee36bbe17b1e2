// What the second opinions say, as plain data: part of a case's results.

export type MethodName =
  | "order tracking"
  | "Vold-Kalman"
  | "synchronous average"
  | "windowed spectrum";

/** Display steps on which a method cannot be held against the firmware, and why. */
export interface NotCompared {
  why: string;
  stepCount: number;
  fromS: number;
  untilS: number;
}

/** Values at some display steps, thinned; −1 in `bound` where the step was not compared. */
export interface OpinionCurve {
  timeS: number[];
  /** Of the method itself, without lag. */
  level: number[];
  phaseLagDeg: number[];
  /** After the firmware's lag: what is held against its level. */
  laggedLevel: number[];
  /** Length of the vector between firmware and method, and its bound, both in the level's unit. */
  difference: number[];
  bound: number[];
}

export interface Opinion {
  method: MethodName;
  /** How it was set, in words. */
  settings: string;
  /** "does not apply": no step could be compared. */
  verdict: "agrees" | "differs" | "does not apply";
  /** Settled display steps, and how many of them were compared. */
  stepCount: number;
  comparedCount: number;
  differingCount: number;
  /** The step that came nearest to its bound, or went furthest over it; absent where none was. */
  worst?: {
    timeS: number;
    ratio: number;
    difference: number;
    bound: number;
    levelDifference: number;
    phaseDifferenceDeg: number;
    /** What the bound is made of. */
    terms: { name: string; value: number }[];
  };
  notCompared: NotCompared[];
  curve: OpinionCurve;
}

export interface FilterOpinions {
  filter: number;
  name: string;
  unit: string;
  order: number;
  isPhaseRelative: boolean;
  /** The firmware's level and phase lag at the curves' times. */
  firmware: { timeS: number[]; level: number[]; phaseLagDeg: number[] };
  opinions: Opinion[];
}

/** The spectrum over the speed, or over time where the speed stays. */
export interface SpeedMap {
  channel: string;
  shaft: string;
  unit: string;
  axis: "speed" | "time";
  /** Of the columns: r/min (rev/sample), or s (samples). */
  low: number;
  high: number;
  columns: number;
  /** Of the rows: from 0 Hz (cycles/sample). */
  frequencyHigh: number;
  rows: number;
  /** Peak amplitude that the top of the scale stands for, and the decibels down to its foot. */
  greatestPk: number;
  rangeDb: number;
  /**
   * A byte for each cell, in base64, column by column, rows upwards: 0 no data, 1 at or below the
   * foot of the scale, 255 its top, even in decibels.
   */
  cells: string;
  /** Orders whose lines are of interest: those tracked, and whole ones beside them. */
  orders: number[];
  /** Speed at each column's middle, in Hz (cycles/sample); 0 where there was none. */
  speedHz: number[];
}

export interface MethodResults {
  /** Plain sentences: what was mended, why nothing was done. */
  notes: string[];
  filters: FilterOpinions[];
  maps: SpeedMap[];
}
