// What every reader of recordings offers: channels side by side, in order, without holding them all.

import type { InputError } from "../../host/input-error.ts";

/** A run of successive samples: one array per channel, equal lengths. Buffers are not reused. */
export type SampleRun = Float32Array[];

export interface Recording {
  readonly path: string;
  /** Names as the file has them; `channel 1` … where it has none. */
  readonly channelNames: string[];
  /** From the file, or undefined where the file does not say. */
  readonly sampleRateHz: number | undefined;
  /** Half the width within which a file's times leave its rate; undefined where it states one. */
  readonly sampleRateUncertaintyHz?: number;
  /** Known before reading for WAV only. */
  readonly sampleCount: number | undefined;
  /** Largest value that the format can hold (1 for whole-number WAV), undefined where there is none. */
  readonly fullScale: number | undefined;
  /** Least and greatest value of a format of whole numbers: what lies beyond is clipped to them. */
  readonly valueRange?: { low: number; high: number };
  /** What the reader saw and mended, as plain sentences; complete when `runs` has ended. */
  readonly notes: string[];
  /** Samples that were no finite number and were passed on as NaN, per channel. */
  readonly notFiniteCount: number[];
  /**
   * What is wrong with the file at the place where the last pass over it ended early; what stands
   * before that place was handed over.
   */
  fault: InputError | undefined;
  /** All samples once, in order, up to the first fault. Each call starts at the beginning. */
  runs(): AsyncIterable<SampleRun>;
}

/** Samples in a run that readers aim at. */
export const RUN_SAMPLES = 65_536;

export interface Stretch {
  fromSample: number;
  untilSample: number;
}

/** The runs of a stretch, cut to it; its sample 0 is the first of the stretch. */
export async function* stretchRuns(
  recording: Recording,
  stretch: Stretch,
): AsyncIterable<SampleRun> {
  let at = 0;
  for await (const run of recording.runs()) {
    const length = run[0]!.length;
    const from = Math.max(0, stretch.fromSample - at);
    const until = Math.min(length, stretch.untilSample - at);
    at += length;
    if (until > from) yield run.map((samples) => samples.subarray(from, until));
    if (at >= stretch.untilSample) {
      // What is wrong further on does not matter here.
      recording.fault = undefined;
      return;
    }
  }
}
