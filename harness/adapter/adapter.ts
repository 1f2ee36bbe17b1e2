// What a module of the user's own must give so that a box can be driven through it. ADAPTERS.md says how
// to write one.
import type { MonitorProfile } from "../../host/profile/types.ts";
import type { Target } from "../target/target.ts";

/** A piece of what is played, in order. */
export interface StimulusPiece {
  /** Index of the first sample; sample i stands at i / sampleRateHz. */
  firstSample: number;
  /** samples[channel], in the channel's own quantity, SI. Valid until the next piece is asked for. */
  samples: Float64Array[];
  /** edges[shaft]: times of the tachometer's edges in this piece, s, ascending. */
  edges: Float64Array[];
}

/** All that is played, once, from its beginning. */
export interface Stimulus {
  /** Name of the case. */
  name: string;
  sampleRateHz: number;
  sampleCount: number;
  durationS: number;
  profile: MonitorProfile;
  /** The next piece of at most so many samples; undefined at the end. */
  next(samplesMax: number): StimulusPiece | undefined;
}

/** One reading of a box. */
export interface Reading {
  /** On the box's own clock or the host's, s; see LevelBoxFacts.clock. */
  timeS: number;
  /** Name of the number, as the profile's filters are called. */
  filter: string;
  /** The number as it is shown, display units. */
  shown: number;
  /** False: the box says that the number is not valid. */
  isValid?: boolean;
  speedRevPerS?: number;
  isCaution?: boolean;
}

export interface LevelBoxFacts {
  name: string;
  /** Serial number, version: what a report must hold. */
  identity: string;
  /** "host": readings are stamped by the clock that plays; "own": by the box's, which may drift. */
  clock: "host" | "own";
}

/** A box that shows levels: it is played a waveform and read back. No bits are promised. */
export interface LevelBox {
  facts(): Promise<LevelBoxFacts>;
  /** Plays all of it; resolves to the readings, ascending in time, time 0 near the first sample. */
  play(stimulus: Stimulus, signal: AbortSignal): Promise<Reading[]>;
  close(): Promise<void>;
}

/** One of both; `makeTarget` promises the records of the contract, bit for bit. */
export interface AdapterModule {
  makeTarget?: () => Target | Promise<Target>;
  makeLevelBox?: () => LevelBox | Promise<LevelBox>;
}
