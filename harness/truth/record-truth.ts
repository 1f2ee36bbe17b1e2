// What the truth says of a record's other fields, beside level, phase, speed and validity.
import type { Certainty } from "./reference.ts";

export interface Range {
  least: number;
  most: number;
}

/** Expected fields of one level record; what is absent is left open. */
export interface RecordTruth {
  /** Whether a level is computed. */
  isComputed: Certainty;
  /** FLAG_SETTLED, FLAG_BRIDGED, FLAG_PHASE_RELATIVE. */
  isSettled: Certainty;
  isBridged: Certainty;
  isPhaseRelative: Certainty;
  /** Ticks from the newest revolution's end to the step. */
  ageTicks?: Range;
  /** Whole cycles since the reference was found. */
  revolution?: number;
  /** Distance of the integration from the true one, a share of the level. */
  integrationDistance?: Range;
}
