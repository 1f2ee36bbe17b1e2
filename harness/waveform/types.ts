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

/** Draws a channel's next noise samples, as many as there is room for, at the scenario's own rate. */
export type NoiseDraw = (values: Float64Array) => void;

/** Spreads noise that is drawn at one rate over samples at a multiple of it. */
export interface NoiseSpread {
  /** Adds noise to the next samples, out[0 … count); `draw` is always the same channel's. */
  add(count: number, out: Float64Array, draw: NoiseDraw): void;
}
