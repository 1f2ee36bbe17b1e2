import type { BlockBatch } from "../target/target.ts";

/**
 * A stream of batches made from a scene (or read from a recording): the same bytes whenever and
 * wherever it is made, and whatever the batch size.
 */
export interface WaveformSource {
  readonly sampleCount: number;
  /**
   * The next batch of at most `samplesMax` samples, or undefined at the end. Buffers are
   * reused.
   */
  next(samplesMax: number): BlockBatch | undefined;
}
