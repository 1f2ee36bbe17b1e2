import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { BatchError, cutBatch } from "../../../harness/target/block-cutter.ts";
import type { BlockBatch } from "../../../harness/target/target.ts";
import { BLOCK_EDGES_MAX, BLOCK_SAMPLES_MAX, BLOCK_STEPS_MAX } from "../../../shared/capacity.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const TICKS_PER_SAMPLE = 100;

interface Cut {
  sampleFrom: number;
  sampleCount: number;
  edgeFrom: number[];
  edgeCount: number[];
  inputs: number;
}

function cutsOf(batch: BlockBatch, displaySamples: number, samplesMax?: number): Cut[] {
  const cuts: Cut[] = [];
  cutBatch(
    batch,
    TICKS_PER_SAMPLE,
    displaySamples,
    (cut) => cuts.push({ ...cut, edgeFrom: [...cut.edgeFrom], edgeCount: [...cut.edgeCount] }),
    samplesMax,
  );
  return cuts;
}

describe("block cutter", () => {
  it("[CORE-003] gives each sample and edge to one block, within every cap", () => {
    const batches = fc
      .record({
        firstSample: fc.integer({ min: 0, max: 2 ** 40 }),
        sampleCount: fc.integer({ min: 1, max: 2000 }),
        gaps: fc.array(fc.integer({ min: 2, max: 400 }), { maxLength: 600 }),
        inputAt: fc.array(fc.integer({ min: 1, max: 1999 }), { maxLength: 4 }),
        displaySamples: fc.integer({ min: 1, max: 500 }),
        samplesMax: fc.integer({ min: 1, max: 200 }),
      })
      .map((made) => {
        const edges: number[] = [];
        let tick = made.firstSample * TICKS_PER_SAMPLE;
        for (const gap of made.gaps) {
          tick += gap;
          if (tick < (made.firstSample + made.sampleCount) * TICKS_PER_SAMPLE) edges.push(tick);
        }
        const rows = [...new Set(made.inputAt)].sort((a, b) => a - b);
        const inputs = [0, ...rows].map((at, i) => ({
          fromSample: made.firstSample + at,
          bits: i,
        }));
        const batch: BlockBatch = {
          firstSample: made.firstSample,
          sampleCount: made.sampleCount,
          samples: [new Float32Array(made.sampleCount)],
          edges: [Float64Array.from(edges), new Float64Array(0)],
          inputs,
        };
        return { batch, displaySamples: made.displaySamples, samplesMax: made.samplesMax };
      });
    fc.assert(
      fc.property(batches, ({ batch, displaySamples, samplesMax }) => {
        let sample = 0;
        let edge = 0;
        for (const cut of cutsOf(batch, displaySamples, samplesMax)) {
          expect(cut.sampleFrom).toBe(sample);
          expect(cut.sampleCount).toBeGreaterThan(0);
          expect(cut.sampleCount).toBeLessThanOrEqual(Math.min(BLOCK_SAMPLES_MAX, samplesMax));
          expect(cut.sampleCount).toBeLessThanOrEqual(displaySamples * BLOCK_STEPS_MAX);
          expect(cut.edgeFrom[0]).toBe(edge);
          expect(cut.edgeCount[0]).toBeLessThanOrEqual(BLOCK_EDGES_MAX);
          const firstTick = (batch.firstSample + sample) * TICKS_PER_SAMPLE;
          const endTick = firstTick + cut.sampleCount * TICKS_PER_SAMPLE;
          for (let i = edge; i < edge + cut.edgeCount[0]!; i += 1) {
            expect(batch.edges[0]![i]).toBeGreaterThanOrEqual(firstTick);
            expect(batch.edges[0]![i]).toBeLessThan(endTick);
          }
          for (let s = sample; s < sample + cut.sampleCount; s += 1) {
            const at = batch.firstSample + s;
            const bits = batch.inputs.findLast((row) => row.fromSample <= at)!.bits;
            expect(cut.inputs).toBe(bits);
          }
          sample += cut.sampleCount;
          edge += cut.edgeCount[0]!;
        }
        expect(sample).toBe(batch.sampleCount);
        expect(edge).toBe(batch.edges[0]!.length);
      }),
      { seed: TEST_SEED },
    );
  });

  it("[CORE-004] refuses more edges than a block holds within one sample period", () => {
    const edges = Float64Array.from({ length: BLOCK_EDGES_MAX + 1 }, (_, i) => i);
    const batch: BlockBatch = {
      firstSample: 0,
      sampleCount: 10,
      samples: [new Float32Array(10)],
      edges: [edges],
      inputs: [{ fromSample: 0, bits: 0 }],
    };
    expect(() => cutsOf(batch, 100)).toThrow(BatchError);
  });
});
