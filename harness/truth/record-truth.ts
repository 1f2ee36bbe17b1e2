// What the truth says of a record's other fields, beside level, phase, speed and validity.
import type { Certainty } from "./reference.ts";

export interface Range {
  least: number;
  most: number;
}

/** Expected fields of one level record. */
export interface RecordTruth {
  /** Whether a level is computed. */
  isComputed: Certainty;
}

declare module "./types.ts" {
  interface StepTruth {
    /** Absent: a truth that says nothing of these fields. */
    record?: RecordTruth;
  }
}
