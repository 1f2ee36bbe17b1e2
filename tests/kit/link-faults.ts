// Whole runs over a line in memory that loses, doubles, damages, splits and delays frames.
import { BLOCK_HEADER_BYTES } from "../../shared/layout.ts";
import { PACKET_FEED } from "../../shared/link.ts";
import { LinkError } from "../../host/link/link-error.ts";
import type { FaultName, LineFault } from "../../host/link/memory-port.ts";
import type { MonitorProfile } from "../../host/profile/types.ts";
import type { BlockBatch } from "../../harness/target/target.ts";
import { makeWaveform } from "../../harness/waveform/waveform.ts";
import {
  type Blocks,
  blocksOfBatch,
  directAnswer,
  flicker,
  flickering,
} from "../assembly/kit/link-blocks.ts";
import { linkBench } from "./link-bench.ts";
import { type Packet, tapped } from "./link-tap.ts";
import { loadCore } from "./play-scene.ts";
import { monitorProfile, scene } from "./scene-builder.ts";

/** One in so many frames meets each fault, both ways. */
export const FRAMES_PER_FAULT = 200;
export const PASSING: readonly FaultName[] = ["loss", "duplicate", "flip", "split", "delay"];
/** Virtual time after which a run counts as hung; a quiet one takes a few seconds. */
const HUNG_MS = 120_000;

const core = loadCore();

interface Stream {
  profile: MonitorProfile;
  batch: BlockBatch;
  samplesMax: number;
  blocks: Blocks;
  records: Buffer;
}

function streamOf(profile: MonitorProfile, batch: BlockBatch, samplesMax: number): Stream {
  const blocks = blocksOfBatch(profile, batch, samplesMax);
  const records = Buffer.concat(directAnswer(core, blocks).records);
  return { profile, batch, samplesMax, blocks, records };
}

function waveformBatch(durationS: number, profile = monitorProfile()): BlockBatch {
  const batch = makeWaveform(scene({ durationS, profile })).next(65_536);
  if (batch === undefined) throw new Error("the scene is empty");
  return { ...batch, samples: batch.samples.map((one) => one.slice()) };
}

/** A full window between steps; records in every block; more records than one answer holds. */
const STREAMS: Stream[] = [
  streamOf(monitorProfile(), waveformBatch(1.2), 64),
  streamOf(monitorProfile({ displayPeriodS: 0.005 }), waveformBatch(0.8), 128),
  streamOf(flickering(2), flicker(4800), 32),
];

export interface FaultRun {
  isRight: boolean;
  isHung: boolean;
  /** A block or configuration that the device took otherwise than it was sent, or out of order. */
  isCorrupt: boolean;
  error?: LinkError;
  /** What the line did. */
  met: Record<FaultName, number>;
  framesSent: number;
  framesRepeated: number;
  timeMs: number;
  /** The sample that the device expected at the end, and the samples at which blocks begin. */
  deviceNextSample: number;
  firstSamples: readonly number[];
}

/** Every fault at its rate, both ways. */
export function everyFault(names: readonly FaultName[], rate = 1 / FRAMES_PER_FAULT): LineFault[] {
  return names.flatMap((name) =>
    (["to device", "to host"] as const).map((direction) => ({ name, direction, rate })),
  );
}

/** Changes one sample of a block, with the check made good: what no line does. */
function tamper({ head, body }: Packet, count: number): void {
  if (head.type === PACKET_FEED && count === 9) body[BLOCK_HEADER_BYTES]! ^= 1;
}

/** One run from hello to the counters; the seed draws the stream, too. */
export async function faultRun(
  seed: number,
  faults: readonly LineFault[],
  { isTampered = false }: { isTampered?: boolean } = {},
): Promise<FaultRun> {
  const { profile, batch, samplesMax, blocks, records } = STREAMS[seed % STREAMS.length]!;
  let taken = 0;
  let isCorrupt = false;
  const onAnswer = (): void => {
    const count = core.counters().blocks;
    if (count === taken + 1) {
      const sent = blocks.blocks[taken];
      const at = core.blockAddress;
      const found = core.bytes.subarray(at, at + (sent?.byteLength ?? 0));
      if (sent === undefined || Buffer.compare(found, sent) !== 0) isCorrupt = true;
    } else if (count !== taken && count !== 0) isCorrupt = true;
    taken = count;
  };
  core.configure(blocks.configuration);
  const bench = await linkBench({
    core,
    line: { seed, faults },
    device: { onAnswer },
    session: seed,
    firstSequence: (seed * 7919) & 0xffff,
    blockSamplesMax: samplesMax,
    timeMsMax: HUNG_MS,
    port: isTampered ? (port) => tapped(port, { onSent: tamper }) : undefined,
  });
  const { target } = bench;
  const work = async (): Promise<Buffer> => {
    await target.open(new AbortController().signal);
    await target.configure(blocks.configuration);
    const fed = await target.feed(batch);
    const last = await target.finish();
    return Buffer.concat([fed, last.records]);
  };
  const outcome: FaultRun = {
    isRight: false,
    isHung: false,
    isCorrupt: false,
    met: bench.line.met,
    framesSent: 0,
    framesRepeated: 0,
    timeMs: 0,
    deviceNextSample: 0,
    firstSamples: [],
  };
  try {
    outcome.isRight = (await bench.run(work())).equals(records);
  } catch (error) {
    if (error instanceof LinkError) outcome.error = error;
    else outcome.isHung = true;
  }
  const { sent, repeated } = target.client.counts;
  const starts = blocks.blocks.map((_, i) => i * Math.min(samplesMax, 4 * displaySamples(profile)));
  return {
    ...outcome,
    isCorrupt:
      isCorrupt ||
      (outcome.isRight && Buffer.compare(core.activeConfiguration(), blocks.configuration) !== 0),
    framesSent: sent,
    framesRepeated: repeated,
    timeMs: bench.clock.now(),
    deviceNextSample: core.counters().samples,
    firstSamples: starts,
  };
}

function displaySamples(profile: MonitorProfile): number {
  return Math.round(profile.displayPeriodS * profile.sampleRateHz);
}
