// Samples as a recording, handed over in runs.
import type { Recording } from "../../harness/recording/recording.ts";

/** Shape: channels of equal lengths, `runSamples` at a time; all at once where it is not stated. */
export function recordingOf(
  channels: readonly Float32Array[],
  runSamples = channels[0]!.length,
): Recording {
  const sampleCount = channels[0]!.length;
  return {
    path: "made.wav",
    channelNames: channels.map((_, i) => `channel ${i}`),
    sampleRateHz: undefined,
    sampleCount,
    fullScale: undefined,
    notes: [],
    notFiniteCount: channels.map(() => 0),
    fault: undefined,
    async *runs() {
      for (let from = 0; from < sampleCount; from += runSamples) {
        yield channels.map((samples) => samples.subarray(from, from + runSamples));
      }
    },
  };
}
