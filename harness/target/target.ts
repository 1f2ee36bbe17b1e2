import type { Counters } from "../../host/record-types.ts";

/** What a target says of itself when it is opened. */
export interface Capabilities {
  /** "core", or what its owner calls a device at the end of a line. */
  kind: string;
  /** First 16 hex digits of SHA-256 over the core's bytes, or what a device says of itself. */
  identity: string;
  layoutVersion: number;
  numericsVersion: number;
  sampleFormats: ("f32" | "i16")[];
}

/**
 * Samples and edges of successive sample times, ready to be cut into blocks by the target.
 *
 * Shape     samples[channel] f32[sampleCount] (or i16 counts); edges[shaft] ascending ticks,
 *           exact whole numbers in f64, all and only those in this batch's ticks
 * Range     sampleCount ≤ 65,536
 */
export interface BlockBatch {
  firstSample: number;
  sampleCount: number;
  samples: (Float32Array | Int16Array)[];
  edges: Float64Array[];
  /** INPUT_… bits from each sample on; ascending, the first row at firstSample. */
  inputs: { fromSample: number; bits: number }[];
}

export interface ConfigEcho {
  bytes: Uint8Array;
}

/**
 * Whatever carries the signal path: the built-in core, a device at the end of a line, the
 * user's adapter.
 */
export interface Target {
  open(signal: AbortSignal): Promise<Capabilities>;
  configure(bytes: Uint8Array): Promise<ConfigEcho>;
  /** Resolves when the batch is accepted; records may come with a later batch. */
  feed(batch: BlockBatch): Promise<Uint8Array>;
  finish(): Promise<{ records: Uint8Array; counters: Counters }>;
  reset(): Promise<void>;
  close(): Promise<void>;
}
