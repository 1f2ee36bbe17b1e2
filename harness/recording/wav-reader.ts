// WAV recordings, read in runs.
import { closeSync, openSync, readSync } from "node:fs";
import { setImmediate } from "node:timers/promises";
import { type Recording, RUN_SAMPLES, type SampleRun } from "./recording.ts";
import { openableFileBytes } from "./openable-file.ts";
import { readWavHeader, type WavHeader } from "./wav-header.ts";

const FULL_SCALE: Record<WavHeader["encoding"], number> = {
  i16: 2 ** 15,
  i24: 2 ** 23,
  i32: 2 ** 31,
  f32: 1,
  f64: 1,
};

function sampleAt(bytes: Buffer, at: number, encoding: WavHeader["encoding"]): number {
  switch (encoding) {
    case "i16":
      return bytes.readInt16LE(at) / FULL_SCALE.i16;
    case "i24":
      return bytes.readIntLE(at, 3) / FULL_SCALE.i24;
    case "i32":
      return bytes.readInt32LE(at) / FULL_SCALE.i32;
    case "f32":
      return bytes.readFloatLE(at);
    case "f64":
      return bytes.readDoubleLE(at);
  }
}

/**
 * Opens a WAV recording: 16, 24, 32-bit whole numbers (as −1 … 1 of full scale), 32 and 64-bit
 * float (as they stand), plain or WAVE_FORMAT_EXTENSIBLE.
 *
 * Errors    InputError with the byte offset where the file is no such recording; a file that ends
 *           before its samples do is read as far as it goes, then has a `fault`
 */
export function openWav(path: string): Recording {
  const fileBytes = openableFileBytes(path);
  const file = openSync(path, "r");
  let header: WavHeader;
  try {
    header = readWavHeader(path, file, fileBytes);
  } finally {
    closeSync(file);
  }
  const fullScale = FULL_SCALE[header.encoding];
  const isWhole = header.encoding.startsWith("i");
  const notFiniteCount = Array.from({ length: header.channelCount }, () => 0);
  const recording: Recording = {
    path,
    channelNames: Array.from({ length: header.channelCount }, (_, i) => `channel ${i + 1}`),
    sampleRateHz: header.sampleRateHz,
    sampleCount: header.frameCount,
    fullScale: isWhole ? 1 : undefined,
    valueRange: isWhole ? { low: -1, high: (fullScale - 1) / fullScale } : undefined,
    notes: header.notes,
    notFiniteCount,
    fault: undefined,
    async *runs() {
      yield* wavRuns(path, header, notFiniteCount);
      recording.fault = header.cut;
    },
  };
  return recording;
}

async function* wavRuns(
  path: string,
  header: WavHeader,
  notFiniteCount: number[],
): AsyncIterable<SampleRun> {
  notFiniteCount.fill(0);
  const bytesPerSample = header.bytesPerFrame / header.channelCount;
  const file = openSync(path, "r");
  try {
    const bytes = Buffer.alloc(RUN_SAMPLES * header.bytesPerFrame);
    for (let frame = 0; frame < header.frameCount; frame += RUN_SAMPLES) {
      const count = Math.min(RUN_SAMPLES, header.frameCount - frame);
      const wanted = count * header.bytesPerFrame;
      readSync(file, bytes, 0, wanted, header.dataFrom + frame * header.bytesPerFrame);
      const run = Array.from({ length: header.channelCount }, () => new Float32Array(count));
      for (let channel = 0; channel < header.channelCount; channel += 1) {
        const samples = run[channel]!;
        let at = channel * bytesPerSample;
        for (let i = 0; i < count; i += 1, at += header.bytesPerFrame) {
          samples[i] = sampleAt(bytes, at, header.encoding);
          if (!Number.isFinite(samples[i]!)) notFiniteCount[channel]! += 1;
        }
      }
      yield run;
      // Nothing here waits by itself: let an interrupt be heard.
      await setImmediate();
    }
  } finally {
    closeSync(file);
  }
}
