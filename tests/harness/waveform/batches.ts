// Draws a waveform to its end, for tests.
import type { Scene } from "../../../harness/scene/scene.ts";
import { makeWaveform } from "../../../harness/waveform/waveform.ts";

export interface DrawnWaveform {
  samples: number[][];
  edges: number[][];
  /** Bits of each sample. */
  inputs: number[];
}

/** The whole waveform; `sizes` are asked for in turn, over and over. */
export function drawn(scene: Scene, sizes: number[] = [65536]): DrawnWaveform {
  const source = makeWaveform(scene);
  const samples: number[][] = scene.channels.map(() => []);
  const edges: number[][] = scene.shafts.map(() => []);
  const inputs: number[] = [];
  for (let turn = 0; ; turn += 1) {
    const batch = source.next(sizes[turn % sizes.length]!);
    if (batch === undefined) break;
    for (const [i, one] of batch.samples.entries())
      for (const value of one) samples[i]!.push(value);
    for (const [i, one] of batch.edges.entries()) for (const tick of one) edges[i]!.push(tick);
    for (let i = 0; i < batch.sampleCount; i += 1) {
      const row = batch.inputs.findLast((one) => one.fromSample <= batch.firstSample + i);
      inputs.push(row!.bits);
    }
  }
  return { samples, edges, inputs };
}
