// A reader of WAV for tests, after the chunks of Multimedia Programming Interface and Data
// Specifications 1.0 (1991): it shares no code with the writer, and no library.
import { readFileSync } from "node:fs";

export interface WavColumns {
  sampleRateHz: number;
  /** Volts, by column. */
  columns: Float64Array[];
}

const EXTENSIBLE = 0xfffe;

/** Samples as volts, where ±1 stands for `fullScaleV`. Errors: where a chunk does not fit. */
export function readWav(path: string, fullScaleV: number): WavColumns {
  const bytes = readFileSync(path);
  const word = (at: number): string => bytes.toString("latin1", at, at + 4);
  if (word(0) !== "RIFF" || word(8) !== "WAVE") throw new Error("no RIFF/WAVE");
  if (bytes.readUInt32LE(4) !== bytes.length - 8) throw new Error("the size of RIFF is wrong");
  const chunks = new Map<string, Buffer>();
  let at = 12;
  while (at + 8 <= bytes.length) {
    const size = bytes.readUInt32LE(at + 4);
    if (at + 8 + size > bytes.length) throw new Error(`chunk ${word(at)} goes beyond the end`);
    chunks.set(word(at), bytes.subarray(at + 8, at + 8 + size));
    at += 8 + size + (size % 2);
  }
  if (at !== bytes.length) throw new Error("bytes behind the last chunk");
  const format = chunks.get("fmt ")!;
  const data = chunks.get("data")!;
  const tag = format.readUInt16LE(0) === EXTENSIBLE ? format.readUInt16LE(24) : -1;
  const count = format.readUInt16LE(2);
  const width = format.readUInt16LE(14) / 8;
  const frames = data.length / (count * width);
  if (!Number.isInteger(frames)) throw new Error("a frame is cut");
  const value = (offset: number): number =>
    tag === 3 ? data.readFloatLE(offset) : data.readIntLE(offset, width) / 2 ** (8 * width - 1);
  const columns = Array.from({ length: count }, (_, column) =>
    Float64Array.from({ length: frames }, (__, i) => {
      return value((i * count + column) * width) * fullScaleV;
    }),
  );
  return { sampleRateHz: format.readUInt32LE(4), columns };
}

/** Times at which a column rises through a level, in samples: a straight line between two. */
export function crossings(column: Float64Array, level: number): number[] {
  const found: number[] = [];
  for (let i = 1; i < column.length; i += 1) {
    const [before, after] = [column[i - 1]!, column[i]!];
    if (before < level && after >= level) found.push(i - 1 + (level - before) / (after - before));
  }
  return found;
}
