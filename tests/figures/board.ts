// The firmware as C on an emulated Cortex-M4F: how much room it takes, and how many instructions.
//
// Counted are the exports called directly on blocks that lie in the board's memory (count-main.c),
// each call by itself: `process` is all that a block of samples costs, and the link's cost by the
// byte is not mixed in. The records that come out are compared with the built-in core's, so what was
// counted did the work. Instructions, not cycles.
import { buildBoard, type BoardBuild } from "../../host/board/build.ts";
import { countInstructions } from "../../host/board/measure.ts";
import { sizeComplaints, sizeText } from "../../host/board/size-report.ts";
import {
  configurationBytes,
  displaySamples,
  ticksPerSample,
} from "../../host/profile/configuration.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import { writeBlock } from "../../harness/target/block-bytes.ts";
import { cutBatch } from "../../harness/target/block-cutter.ts";
import { makeWaveform } from "../../harness/waveform/waveform.ts";
import { BLOCK_BYTES_MAX } from "../../shared/layout.ts";
import { playScene } from "../kit/play-scene.ts";
import {
  channelProfile,
  channelSignal,
  filterProfile,
  monitorProfile,
  orderComponent,
  scene,
  shaftProfile,
} from "../kit/scene-builder.ts";
import type { Figure, Measured } from "./figure.ts";

const INSTRUCTIONS_P1_MAX = 70;
const INSTRUCTIONS_P1_BOUNDS_MAX = 100;
const INSTRUCTIONS_P60_MAX = 130;

const CAUTION = {
  levelCounts: 50,
  hysteresisCounts: 4,
  onDelaySteps: 30,
  offDelaySteps: 50,
  delayRunsUnderInhibit: false,
  whenInvalid: "end",
} as const;

interface Work {
  positions: number;
  sampleRateHz: number;
  revPerS: number;
  /** One where absent. */
  channels?: number;
  /** Orders tracked on each channel, from 1 up; one where absent. */
  orders?: number;
}

/** Channels with every check of their kind, filters with a caution each, i16 counts. */
function sceneOf(work: Work): Scene {
  const { positions, sampleRateHz, revPerS, channels = 1, orders = 1 } = work;
  const isFast = sampleRateHz > 20_000;
  // Samples wait in a room that all channels share.
  const timeoutS = channels === 1 ? (isFast ? 0.19 : 0.38) : 0.34 / channels;
  const slowest = 3 / timeoutS;
  const each = Array.from({ length: channels }, (_, i) => i);
  const health = { steps: 10, clipSamples: 3, flatPkPk: 0.01, physicalPk: 1e4 };
  const profile = monitorProfile({
    clockHz: sampleRateHz * 3125,
    sampleRateHz,
    channels: each.map(() =>
      channelProfile({
        health: { ...health, noiseFloorRms: 1e-6, burstRms: 1e4, broadbandRatio: 2 },
      }),
    ),
    shafts: [
      shaftProfile({
        positions,
        timeoutS,
        speedMinRevPerS: slowest,
        validSpeedRevPerS: Math.max(16, slowest),
      }),
    ],
    filters: each.flatMap((channel) =>
      Array.from({ length: orders }, (_, i) =>
        filterProfile({
          channel,
          order: i + 1,
          display: { ...filterProfile().display, caution: CAUTION },
        }),
      ),
    ),
  });
  const made = scene({
    name: `P = ${positions}, ${sampleRateHz} Hz, ${revPerS} rev/s, ${channels} × ${orders}`,
    durationS: 4,
    profile,
    channels: each.map(() =>
      channelSignal([orderComponent(1, 10, 30), orderComponent(2, 20, 77)], {
        converter: { format: "i16", step: 0.05 },
      }),
    ),
  });
  made.shafts[0]!.speed = [{ timeS: 0, revPerS }];
  return made;
}

/** The blocks of a scene as the firmware takes them, 128 samples each where a step allows. */
function blocksOf(made: Scene): Uint8Array[] {
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
  return blocks;
}

const builds = new Map<boolean, BoardBuild>();

function countBuild(hasBounds: boolean): BoardBuild {
  const known = builds.get(hasBounds);
  if (known !== undefined) return known;
  const built = buildBoard({ board: "mps2-an386", main: "count", hasBounds });
  builds.set(hasBounds, built);
  return built;
}

/** Instructions a sample over the second half, where all is settled; every block has 128. */
async function perSample(work: Work, hasBounds = false): Promise<number> {
  const made = sceneOf(work);
  const blocks = blocksOf(made);
  const { programPath } = countBuild(hasBounds);
  const counted = await countInstructions(programPath, configurationBytes(made.profile), blocks);
  const core = await playScene(made);
  if (!Buffer.from(counted.records).equals(Buffer.from(core.records))) {
    throw new Error(`${made.name}: the board's records differ from the core's`);
  }
  const from = blocks.length >> 1;
  const instructions = counted.blocks.slice(from).reduce((sum, one) => sum + one, 0);
  const samples =
    (made.durationS * made.profile.sampleRateHz * (blocks.length - from)) / blocks.length;
  return instructions / samples;
}

async function within(work: Work, limit: number, hasBounds = false): Promise<Measured> {
  const instructions = await perSample(work, hasBounds);
  return {
    text: `${instructions.toFixed(1)} instructions a sample (${work.revPerS} rev/s)`,
    isOk: instructions <= limit,
  };
}

/** Twelve knots a revolution cut it into intervals of so many samples: a segment each, up to 64. */
async function segmentTable(): Promise<Measured> {
  const rows: string[] = [];
  for (const samples of [64, 32, 21, 16, 8]) {
    const work = { positions: 12, sampleRateHz: 12_800, revPerS: 12_800 / (12 * samples) };
    rows.push(`${samples}: ${(await perSample(work)).toFixed(0)}`);
  }
  return { text: `${rows.join(", ")} instructions a sample`, isOk: true };
}

/** Channels and orders of each, at segments of 64 samples. */
const MANY: [number, number][] = [
  [1, 1],
  [1, 2],
  [1, 4],
  [2, 1],
  [2, 2],
  [4, 1],
  [4, 2],
];
/** 12.8 kHz / 256: four segments of 64 a revolution. */
const EVEN: Work = { positions: 1, sampleRateHz: 12_800, revPerS: 50 };

async function filterTable(): Promise<Measured> {
  const rows: string[] = [];
  for (const [channels, orders] of MANY) {
    const count = await perSample({ ...EVEN, channels, orders });
    rows.push(`${channels} × ${orders}: ${count.toFixed(0)}`);
  }
  return { text: `${rows.join(", ")} instructions a sample (all channels)`, isOk: true };
}

/** Clocks of a small, a middling and a large part, MHz; common practice, no source. */
const CLOCKS_MHZ = [48, 168, 480];

/**
 * Channels for which a part's clock has instructions enough, each on one count of instructions:
 * what the first costs, and what each more adds, measured between one and four.
 */
async function channelTable(): Promise<Measured> {
  const rows: string[] = [];
  for (const orders of [1, 2]) {
    const one = await perSample({ ...EVEN, channels: 1, orders });
    const four = await perSample({ ...EVEN, channels: 4, orders });
    const more = (four - one) / 3;
    const counts = CLOCKS_MHZ.map((clock) => {
      const most = 1 + (clock * 1e6) / EVEN.sampleRateHz / more - one / more;
      return `${Math.floor(most)} at ${clock} MHz`;
    });
    rows.push(`${orders} order${orders === 1 ? "" : "s"}: ${counts.join(", ")}`);
  }
  return { text: `${rows.join("; ")}; an instance takes 4`, isOk: true };
}

const P1: Work = { positions: 1, sampleRateHz: 12_800, revPerS: 80 };
const P60: Work = { positions: 60, sampleRateHz: 25_600, revPerS: 80 };

export const BOARD_FIGURES: Figure[] = [
  {
    id: "BOARD-SIZE",
    what: "firmware as C with its link on a Cortex-M4F, by the linker's map",
    required: "flash at most 32 KiB; data at most 40,960 bytes, beside it at most 12 KiB",
    measure: async () => {
      const size = buildBoard({ board: "mps2-an386" }).size!;
      return { text: sizeText(size), isOk: sizeComplaints(size).length === 0 };
    },
  },
  {
    id: "BOARD-COUNT",
    what: "emulated Cortex-M4F, P = 1, 12.8 kHz, one channel, one filter, every stage",
    required: `at most ${INSTRUCTIONS_P1_MAX} instructions a sample, not cycles`,
    measure: () => within(P1, INSTRUCTIONS_P1_MAX),
  },
  {
    id: "BOARD-COUNT-BOUNDS",
    what: "the same with every access of memory checked",
    required: `at most ${INSTRUCTIONS_P1_BOUNDS_MAX} instructions a sample`,
    measure: () => within(P1, INSTRUCTIONS_P1_BOUNDS_MAX, true),
  },
  {
    id: "BOARD-COUNT-P60",
    what: "P = 60, 25.6 kHz, without checks",
    required: `at most ${INSTRUCTIONS_P60_MAX} instructions a sample`,
    measure: () => within(P60, INSTRUCTIONS_P60_MAX),
  },
  {
    id: "BOARD-COUNT-SEGMENTS",
    what: "P = 12, 12.8 kHz, by samples in a segment, edges and all",
    required: "told, no limit",
    measure: segmentTable,
  },
  {
    id: "BOARD-COUNT-FILTERS",
    what: "P = 1, 12.8 kHz, segments of 64, by channels × orders of each",
    required: "told, no limit",
    measure: filterTable,
  },
  {
    id: "BOARD-CHANNELS",
    what: "channels at 12.8 kHz for all of a part's time, at an instruction a cycle",
    required: "told, no limit: instructions, not cycles",
    measure: channelTable,
  },
];
