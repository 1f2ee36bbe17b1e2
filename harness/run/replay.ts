// A recording through the signal path: samples and edges in, levels and events out. Nothing is
// judged, since a recording has no known answer.
import { configurationBytes, ticksPerSample } from "../../host/profile/configuration.ts";
import type { MonitorProfile } from "../../host/profile/types.ts";
import type {
  Counters,
  EventRecord,
  ExceedanceRecord,
  LevelRecord,
} from "../../host/record-types.ts";
import { decodeRecords } from "../../host/records.ts";
import type { EdgeSource } from "../recording/edge-sources.ts";
import { type Recording, type SampleRun, stretchRuns } from "../recording/recording.ts";
import type { BlockBatch, Target } from "../target/target.ts";

export interface ReplayInput {
  recording: Recording;
  profile: MonitorProfile;
  /** Column of the recording for each channel of the profile. */
  columns: number[];
  /** SI (or the unstated unit) that a value of 1 in the file stands for. */
  scale: number;
  /** The stretch that is replayed, in samples. */
  fromSample: number;
  untilSample: number;
  /** Of the profile's first shaft, in samples of the stretch. */
  edges: EdgeSource;
}

export interface ReplayTake {
  /** What is fed, before it is, and what comes back as it came; where somebody looks on. */
  watch?: { batch(batch: BlockBatch): void; records(bytes: Uint8Array): void };
  level(record: LevelRecord): void;
  event(record: EventRecord): void;
  exceedance(record: ExceedanceRecord): void;
  /** What goes in, a channel each, before anything of it comes back. */
  samples?(channels: BlockBatch["samples"], firstSample: number): void;
}

/** Each run, once the edges of the run after it were seen: a crossing may lie between the two. */
async function* seenAhead(input: ReplayInput): AsyncIterable<SampleRun> {
  let before: SampleRun | undefined;
  for await (const run of stretchRuns(input.recording, input)) {
    input.edges.see?.(run);
    if (before !== undefined) yield before;
    before = run;
  }
  if (before !== undefined) yield before;
}

function batchOf(input: ReplayInput, run: SampleRun, firstSample: number): BlockBatch {
  const sampleCount = run[0]!.length;
  const ticks = ticksPerSample(input.profile);
  const edges = ascending(input.edges.take(firstSample + sampleCount), ticks);
  return {
    firstSample,
    sampleCount,
    samples: input.columns.map((column) =>
      input.scale === 1 ? run[column]! : run[column]!.map((value) => value * input.scale),
    ),
    edges: input.profile.shafts.map((_, shaft) => (shaft === 0 ? edges : new Float64Array(0))),
    inputs: [{ fromSample: firstSample, bits: 0 }],
  };
}

/** Captures of a timer: whole ticks gone by; two edges within one tick are one. */
function ascending(times: number[], ticks: number): Float64Array {
  const captures = times.map((time) => Math.floor(time * ticks));
  return Float64Array.from(captures.filter((tick, i) => i === 0 || tick > captures[i - 1]!));
}

/**
 * Plays a recording to a target and hands over what comes back, in order.
 *
 * Shape     where the signal comes, or the file has a fault, what came before it is handed over
 */
export async function replayThrough(
  input: ReplayInput,
  target: Target,
  take: ReplayTake,
  signal: AbortSignal,
): Promise<{ counters: Counters; sampleCount: number }> {
  await target.open(new AbortController().signal);
  await target.configure(configurationBytes(input.profile));
  const handOver = (bytes: Uint8Array): void => {
    take.watch?.records(bytes);
    for (const record of decodeRecords(bytes)) {
      if (record.kind === "level") take.level(record);
      else if (record.kind === "event") take.event(record);
      else take.exceedance(record);
    }
  };
  let sampleCount = 0;
  for await (const run of seenAhead(input)) {
    if (signal.aborted) break;
    const batch = batchOf(input, run, sampleCount);
    take.samples?.(batch.samples, sampleCount);
    take.watch?.batch(batch);
    handOver(await target.feed(batch));
    sampleCount += run[0]!.length;
  }
  const last = await target.finish();
  handOver(last.records);
  await target.close();
  return { counters: last.counters, sampleCount };
}
