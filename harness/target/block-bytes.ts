// One block as the firmware takes it, written where it is wanted: into a core's memory, or into a
// packet.
import * as L from "../../shared/layout.ts";
import { FORMAT_F32, FORMAT_I16 } from "../../shared/units.ts";
import type { BlockCut } from "./block-cutter.ts";
import type { BlockBatch } from "./target.ts";

const TWO_32 = 4294967296;
const HEADER_WORDS = L.BLOCK_HEADER_BYTES >> 2;

/** The same bytes as words, floats and half words. */
export interface BlockMemory {
  readonly words: Uint32Array;
  readonly floats: Float32Array;
  readonly halves: Int16Array;
}

/**
 * Writes a block of a batch at byte `base`, a multiple of four.
 *
 * Effect    gives the byte after its last
 */
export function writeBlock(
  { words, floats, halves }: BlockMemory,
  base: number,
  batch: BlockBatch,
  cut: BlockCut,
  ticksPerSample: number,
): number {
  const first = batch.firstSample + cut.sampleFrom;
  const isI16 = batch.samples[0] instanceof Int16Array;
  const firstTick = first * ticksPerSample;
  const firstLow = firstTick % TWO_32;
  let word = base >> 2;
  // Loops in place of fill, set and subarray: a block is so short that calls and views cost more.
  for (let i = 0; i < HEADER_WORDS; i += 1) words[word + i] = 0;
  words[(base + L.BLOCK_LAYOUT) >> 2] = L.LAYOUT_VERSION;
  words[(base + L.BLOCK_FORMAT) >> 2] = isI16 ? FORMAT_I16 : FORMAT_F32;
  words[(base + L.BLOCK_FIRST_LOW) >> 2] = first % TWO_32;
  words[(base + L.BLOCK_FIRST_HIGH) >> 2] = Math.floor(first / TWO_32);
  words[(base + L.BLOCK_SAMPLE_COUNT) >> 2] = cut.sampleCount;
  words[(base + L.BLOCK_INPUTS) >> 2] = cut.inputs;
  word += HEADER_WORDS;
  for (const samples of batch.samples) {
    const { sampleFrom, sampleCount } = cut;
    if (samples instanceof Int16Array) {
      const half = word << 1;
      for (let i = 0; i < sampleCount; i += 1) halves[half + i] = samples[sampleFrom + i]!;
      if ((sampleCount & 1) === 1) halves[half + sampleCount] = 0;
      word += (sampleCount + 1) >> 1;
    } else {
      for (let i = 0; i < sampleCount; i += 1) floats[word + i] = samples[sampleFrom + i]!;
      word += sampleCount;
    }
  }
  for (let shaft = 0; shaft < batch.edges.length; shaft += 1) {
    const count = cut.edgeCount[shaft]!;
    const from = cut.edgeFrom[shaft]!;
    words[((base + L.BLOCK_EDGE_COUNTS) >> 2) + shaft] = count;
    // Offsets from the block's first tick are small; the low 32 bits of a sum are the sum of them.
    const edges = batch.edges[shaft]!;
    for (let i = 0; i < count; i += 1) words[word + i] = edges[from + i]! - firstTick + firstLow;
    word += count;
  }
  return word << 2;
}
