// Cuts a batch into blocks: at most BLOCK_SAMPLES_MAX samples, BLOCK_EDGES_MAX edges a shaft,
// BLOCK_STEPS_MAX display steps, and inputs that stand for the whole block.
import { BLOCK_EDGES_MAX, BLOCK_SAMPLES_MAX, BLOCK_STEPS_MAX } from "../../shared/capacity.ts";
import type { BlockBatch } from "./target.ts";

/** One block as ranges into its batch. Reused between calls: copy what must stay. */
export interface BlockCut {
  /** Offset of the first sample in the batch, and count. */
  sampleFrom: number;
  sampleCount: number;
  edgeFrom: number[];
  edgeCount: number[];
  inputs: number;
}

/** A batch that no cutting makes into lawful blocks. */
export class BatchError extends Error {}

/**
 * The first edge from `from` on that is not before a tick; a block holds no more than its cap.
 */
function firstAtOrAfter(edges: Float64Array, from: number, tick: number): number {
  let low = from;
  let high = Math.min(edges.length, from + BLOCK_EDGES_MAX);
  while (low < high) {
    const middle = (low + high) >> 1;
    if (edges[middle]! < tick) low = middle + 1;
    else high = middle;
  }
  return low;
}

/**
 * Calls `take` once for each block of the batch, in order.
 *
 * Errors    BatchError where more than BLOCK_EDGES_MAX edges lie within one sample period
 */
export function cutBatch(
  batch: BlockBatch,
  ticksPerSample: number,
  displaySamples: number,
  take: (cut: BlockCut) => void,
  samplesMax: number = BLOCK_SAMPLES_MAX,
): void {
  const cut: BlockCut = {
    sampleFrom: 0,
    sampleCount: 0,
    edgeFrom: batch.edges.map(() => 0),
    edgeCount: batch.edges.map(() => 0),
    inputs: 0,
  };
  let inputRow = 0;
  const stepsSamplesMax = displaySamples * BLOCK_STEPS_MAX;
  const cap = Math.min(samplesMax, BLOCK_SAMPLES_MAX, stepsSamplesMax);
  while (cut.sampleFrom < batch.sampleCount) {
    const first = batch.firstSample + cut.sampleFrom;
    while ((batch.inputs[inputRow + 1]?.fromSample ?? Infinity) <= first) inputRow += 1;
    cut.inputs = batch.inputs[inputRow]?.bits ?? 0;
    const untilInput = (batch.inputs[inputRow + 1]?.fromSample ?? Infinity) - first;
    let count = Math.min(cap, batch.sampleCount - cut.sampleFrom, untilInput);
    for (let shaft = 0; shaft < batch.edges.length; shaft += 1) {
      const over = batch.edges[shaft]![cut.edgeFrom[shaft]! + BLOCK_EDGES_MAX];
      if (over !== undefined) count = Math.min(count, Math.floor(over / ticksPerSample) - first);
    }
    if (count < 1) {
      throw new BatchError(`more than ${BLOCK_EDGES_MAX} edges within sample ${first}`);
    }
    const endTick = (first + count) * ticksPerSample;
    for (let shaft = 0; shaft < batch.edges.length; shaft += 1) {
      const from = cut.edgeFrom[shaft]!;
      cut.edgeCount[shaft] = firstAtOrAfter(batch.edges[shaft]!, from, endTick) - from;
    }
    cut.sampleCount = count;
    take(cut);
    cut.sampleFrom += count;
    for (let shaft = 0; shaft < batch.edges.length; shaft += 1) {
      cut.edgeFrom[shaft]! += cut.edgeCount[shaft]!;
    }
  }
}
