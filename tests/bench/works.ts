// What the core is timed on: blocks that are made beforehand and lie in memory.
import { displaySamples, ticksPerSample } from "../../host/profile/configuration.ts";
import type { MonitorProfile } from "../../host/profile/types.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import { writeBlock } from "../../harness/target/block-bytes.ts";
import { cutBatch } from "../../harness/target/block-cutter.ts";
import { makeWaveform } from "../../harness/waveform/waveform.ts";
import { BLOCK_BYTES_MAX } from "../../shared/layout.ts";
import {
  channelProfile,
  channelSignal,
  filterProfile,
  monitorProfile,
  orderComponent,
  scene,
  shaftProfile,
} from "../kit/scene-builder.ts";

export interface Work {
  name: string;
  channels: number;
  /** Orders tracked on each channel, from 1 up. */
  orders: number;
  positions: number;
  sampleRateHz: number;
  revPerS: number;
  /** Checks of the transducer run beside the filters. */
  hasHealth: boolean;
}

/** Blocks of a work, and how many samples of each channel they hold. */
export interface Blocks {
  work: Work;
  profile: MonitorProfile;
  blocks: Uint8Array[];
  samples: number;
  /** Samples times filters. */
  filterSamples: number;
}

const HEALTH = {
  steps: 10,
  clipSamples: 3,
  flatPkPk: 0.01,
  physicalPk: 1e4,
  noiseFloorRms: 1e-6,
  burstRms: 1e4,
  broadbandRatio: 2,
};
/** Enough to fill the caches as a flight would, little enough to repeat often. */
const SAMPLES = 65_536;
/** Samples of a channel that may wait: all channels share the room. */
const POOL_SAMPLES = 4400;

function sceneOf(work: Work): Scene {
  const { channels, orders, positions, sampleRateHz, revPerS, hasHealth } = work;
  const each = Array.from({ length: channels }, (_, i) => i);
  const timeoutS = Math.min(0.35, POOL_SAMPLES / channels / sampleRateHz);
  const slowest = Math.max(8, 3 / timeoutS / Math.min(positions, 12));
  const profile = monitorProfile({
    clockHz: sampleRateHz * 3125,
    sampleRateHz,
    channels: each.map(() => channelProfile({ health: hasHealth ? HEALTH : { steps: 10 } })),
    shafts: [
      shaftProfile({
        positions,
        timeoutS,
        speedMinRevPerS: slowest,
        validSpeedRevPerS: slowest,
      }),
    ],
    filters: each.flatMap((channel) =>
      Array.from({ length: orders }, (_, i) => filterProfile({ channel, order: i + 1 })),
    ),
  });
  const made = scene({
    name: work.name,
    durationS: SAMPLES / sampleRateHz,
    profile,
    channels: each.map(() =>
      channelSignal([orderComponent(1, 10, 30), orderComponent(2, 100, 77)]),
    ),
  });
  made.shafts[0]!.speed = [{ timeS: 0, revPerS }];
  return made;
}

/** The blocks of a scene as the firmware takes them. */
export function blocksOfScene(made: Scene): Pick<Blocks, "profile" | "blocks" | "samples"> {
  const memory = new ArrayBuffer(BLOCK_BYTES_MAX);
  const views = {
    words: new Uint32Array(memory),
    floats: new Float32Array(memory),
    halves: new Int16Array(memory),
  };
  const ticks = ticksPerSample(made.profile);
  const blocks: Uint8Array[] = [];
  const waveform = makeWaveform(made);
  for (let batch = waveform.next(4096); batch !== undefined; batch = waveform.next(4096)) {
    cutBatch(batch, ticks, displaySamples(made.profile), (cut) => {
      const bytes = writeBlock(views, 0, batch, cut, ticks);
      blocks.push(new Uint8Array(memory.slice(0, bytes)));
    });
  }
  return { profile: made.profile, blocks, samples: waveform.sampleCount };
}

export function blocksOf(work: Work): Blocks {
  const made = blocksOfScene(sceneOf(work));
  return { ...made, work, filterSamples: made.samples * work.channels * work.orders };
}

const BASE: Work = {
  name: "",
  channels: 1,
  orders: 1,
  positions: 1,
  sampleRateHz: 12_800,
  revPerS: 50,
  hasHealth: true,
};

function named(over: Partial<Work>): Work {
  const work = { ...BASE, ...over };
  const { channels, orders, positions, sampleRateHz, hasHealth } = work;
  const kHz = sampleRateHz / 1000;
  const knots = positions === 1 ? 1 : 12;
  const between = sampleRateHz / work.revPerS / knots;
  const segment = Math.ceil(between / Math.ceil(between / 64));
  const checks = hasHealth ? "" : ", no checks";
  const name = `${channels} × ${orders}, P ${positions}, ${kHz} kHz, segments ${segment}${checks}`;
  return { ...work, name };
}

/** The work that a figure is of: four channels, two orders of each, segments of 64, filters alone. */
export const FOUR_BY_TWO = named({ channels: 4, orders: 2, hasHealth: false });
/** One filter, one edge a revolution, at each rate: the whole path. */
export const WHOLE_PATH = [12_800, 25_600, 51_200].map((sampleRateHz) => named({ sampleRateHz }));

export const WORKS: Work[] = [
  named({ sampleRateHz: 6400 }),
  ...WHOLE_PATH,
  named({ hasHealth: false }),
  named({ orders: 2 }),
  named({ channels: 2, orders: 2 }),
  FOUR_BY_TWO,
  named({ channels: 4, orders: 2 }),
  named({ positions: 60 }),
  named({ positions: 60, sampleRateHz: 51_200 }),
  // Twelve knots a revolution: segments of what lies between two of them.
  ...[32, 21, 16, 8].map((samples) => named({ positions: 12, revPerS: 12_800 / 12 / samples })),
];
