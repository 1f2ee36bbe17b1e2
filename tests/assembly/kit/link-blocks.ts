// Blocks for the link's tests: one eventful stream as the bytes of its blocks, and its answer by
// direct calls.
import { BLOCK_SAMPLES_MAX } from "../../../shared/capacity.ts";
import { BLOCK_BYTES_MAX } from "../../../shared/layout.ts";
import type { Core } from "../../../host/core.ts";
import { configurationBytes } from "../../../host/profile/configuration.ts";
import type { MonitorProfile } from "../../../host/profile/types.ts";
import type { Counters } from "../../../host/record-types.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { writeBlock } from "../../../harness/target/block-bytes.ts";
import { type BlockCut, cutBatch } from "../../../harness/target/block-cutter.ts";
import type { BlockBatch } from "../../../harness/target/target.ts";
import { makeWaveform } from "../../../harness/waveform/waveform.ts";
import {
  channelProfile,
  channelSignal,
  filterProfile,
  monitorProfile,
  orderComponent,
  scene,
  shaftProfile,
} from "../../kit/scene-builder.ts";

/** Eight filters and the shortest display period: a block of 32 samples has 4 steps, 32 records. */
export const BUSY: Scene = scene({
  durationS: 0.7,
  profile: monitorProfile({
    displayPeriodS: 8 / 12_800,
    channels: [channelProfile()],
    shafts: [shaftProfile()],
    filters: eightFilters(),
  }),
  channels: [channelSignal([orderComponent(1, 10, 30)])],
});

function eightFilters() {
  return Array.from({ length: 8 }, (_, i) =>
    filterProfile({ name: `order ${i + 1}`, order: i + 1 }),
  );
}

/**
 * Four channels whose checks fail and recover at every step: of 4 steps come 32 level records, and
 * 16 events a check.
 */
export function flickering(checks: 2 | 3): MonitorProfile {
  const health = { clipSamples: 1, physicalPk: 100, steps: 1 };
  return monitorProfile({
    displayPeriodS: 8 / 12_800,
    channels: Array.from({ length: 4 }, () =>
      channelProfile({
        kind: "powered",
        range: 500,
        health: checks === 2 ? health : { ...health, bias: { low: -10, high: 10 } },
      }),
    ),
    filters: eightFilters(),
    // Four channels leave 1,148 samples for a time-out.
    shafts: [shaftProfile({ timeoutS: 0.08, speedMinRevPerS: 40, validSpeedRevPerS: 40 })],
  });
}

/** Samples of the channels of `flickering`: a display period of quiet, one of a great pulse. */
export function flicker(sampleCount: number): BlockBatch {
  const samples = Array.from({ length: 4 }, () =>
    Float32Array.from({ length: sampleCount }, (_, i) =>
      ((i - 1) >> 3) & 1 && i % 8 === 3 ? 1000 : 0,
    ),
  );
  const inputs = [{ fromSample: 0, bits: 0 }];
  return { firstSample: 0, sampleCount, samples, edges: [new Float64Array(0)], inputs };
}

export interface Blocks {
  configuration: Uint8Array;
  blocks: Uint8Array[];
}

/** The blocks of a batch. */
export function blocksOfBatch(
  profile: MonitorProfile,
  batch: BlockBatch,
  samplesMax = BLOCK_SAMPLES_MAX,
): Blocks {
  const ticksPerSample = profile.clockHz / profile.sampleRateHz;
  const displaySamples = Math.round(profile.displayPeriodS * profile.sampleRateHz);
  const memory = new ArrayBuffer(BLOCK_BYTES_MAX);
  const views = {
    words: new Uint32Array(memory),
    floats: new Float32Array(memory),
    halves: new Int16Array(memory),
  };
  const blocks: Uint8Array[] = [];
  const take = (cut: BlockCut): void => {
    const bytes = writeBlock(views, 0, batch, cut, ticksPerSample);
    blocks.push(new Uint8Array(memory.slice(0, bytes)));
  };
  cutBatch(batch, ticksPerSample, displaySamples, take, samplesMax);
  return { configuration: configurationBytes(profile), blocks };
}

/** The blocks of a scene's first 65,536 samples. */
export function blocksOf(made: Scene, samplesMax = BLOCK_SAMPLES_MAX): Blocks {
  const batch = makeWaveform(made).next(65_536);
  if (batch === undefined) throw new Error("the scene is empty");
  return blocksOfBatch(made.profile, batch, samplesMax);
}

/** What direct calls answer to the same bytes, block by block. */
export function directAnswer(
  core: Core,
  { configuration, blocks }: Blocks,
): { records: Uint8Array[]; counters: Counters } {
  core.configure(configuration);
  const records = blocks.map((block) => {
    core.bytes.set(block, core.blockAddress);
    core.process();
    return core.takeRecords().slice();
  });
  return { records, counters: core.counters() };
}
