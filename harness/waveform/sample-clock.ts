// Sample time, chunks and the first sample of a time.
import { ratio } from "./two-part.ts";
import type { TwoPart } from "./two-part.ts";

/**
 * Samples that are made together. The grid of chunks is fixed, so no byte depends on how many
 * samples a caller asks for; 128 keeps a rotated phasor within 2e-12 of the exact one.
 */
export const CHUNK_SAMPLES = 128;

/** Times within this share of a sample count as on it: 0.3 s × 12,800 Hz is sample 3,840. */
const SAMPLE_GUARD = 1e-6;

/** The first sample at or after a time. */
export function sampleFrom(timeS: number, sampleRateHz: number): number {
  return Math.max(0, Math.ceil(timeS * sampleRateHz - SAMPLE_GUARD));
}

export function sampleTime(sample: number, sampleRateHz: number): TwoPart {
  return ratio(sample, sampleRateHz);
}

/** A stretch of successive samples within a chunk. */
export interface SampleRange {
  /** Index of the first within the chunk, and the one after the last. */
  from: number;
  until: number;
}

/** Walks rows that each take effect from a sample on. */
export class RowCursor {
  #row = 0;
  readonly #starts: number[];

  constructor(timesS: number[], sampleRateHz: number) {
    this.#starts = timesS.map((timeS) => sampleFrom(timeS, sampleRateHz));
  }

  /** The row that stands at a sample; samples must not descend between calls. */
  rowAt(sample: number): number {
    while ((this.#starts[this.#row + 1] ?? Infinity) <= sample) this.#row += 1;
    return this.#row;
  }

  /** The first sample of the row after the one found last. */
  get nextStart(): number {
    return this.#starts[this.#row + 1] ?? Infinity;
  }

  /** The first sample of a row. */
  startOf(row: number): number {
    return this.#starts[row]!;
  }
}
