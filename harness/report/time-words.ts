// The unit of time of a case: seconds, or samples where the profile does not know a sample rate.

export interface TimeWords {
  /** "s" or "samples", as a column's head says it. */
  unit: string;
  speedUnit: string;
  /** A speed in that unit. */
  speed(revPerS: number): number;
}

const SECONDS: TimeWords = { unit: "s", speedUnit: "r/min", speed: (revPerS) => revPerS * 60 };
const SAMPLES: TimeWords = { unit: "samples", speedUnit: "rev/sample", speed: (value) => value };

export function timeWords(timeUnit: "s" | "sample"): TimeWords {
  return timeUnit === "s" ? SECONDS : SAMPLES;
}
