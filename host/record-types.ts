// Records as typed values. records.ts decodes the firmware's bytes into these and back.

export interface LevelRecord {
  kind: "level";
  /** Index of the tracking filter. */
  filter: number;
  sequence: number;
  /** The display step, in ticks of the edge clock (exact up to 2^53). */
  tick: number;
  ageTicks: number;
  revolution: number;
  speedRevPerS: number;
  speedNowRevPerS: number;
  /** The filtered once-per-revolution vector, SI pk; phase lag = −atan2(im, re). */
  re: number;
  im: number;
  /** In the filter's unit and detector. */
  level: number;
  /** Display steps. */
  shownCounts: number;
  validity: number;
  cause: number;
  cautionState: number;
  /** STATUS_… bits. */
  statusBits: number;
  /** FLAG_… bits. */
  flags: number;
  word: number;
  integrationDistance: number;
}

export interface EventRecord {
  kind: "event";
  /** EVENT_… code. */
  code: number;
  source: number;
  sequence: number;
  tick: number;
  revolution: number;
  speedRevPerS: number;
  re: number;
  im: number;
  level: number;
  shownCounts: number;
  detail: number;
}

export interface ExceedanceRecord {
  kind: "exceedance";
  filter: number;
  sequence: number;
  onsetTick: number;
  endTick: number;
  /** Display steps from onset to peak, and at or above the level in all. */
  peakSteps: number;
  aboveSteps: number;
  peakLevel: number;
  peakShownCounts: number;
  speedAtPeakRevPerS: number;
  revolutionAtPeak: number;
}

export type DecodedRecord = LevelRecord | EventRecord | ExceedanceRecord;

export interface Counters {
  blocks: number;
  samples: number;
  refusedBlocks: number;
  recordsLost: number;
  edges: number[];
  edgesEarly: number[];
  edgesMissed: number[];
  edgesIrregular: number[];
  referenceLost: number[];
  indexContradictions: number[];
  samplesNotFinite: number[];
  samplesClipped: number[];
  health: number[];
  revolutions: number[];
  samplesLate: number[];
}
