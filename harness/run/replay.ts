// A recording through the signal path: samples and edges in, levels and events out. Nothing is
// judged, since a recording has no known answer.
import {
  displaySamples,
  configurationBytes,
  ticksPerSample,
} from "../../host/profile/configuration.ts";
import type { MonitorProfile } from "../../host/profile/types.ts";
import type {
  Counters,
  EventRecord,
  ExceedanceRecord,
  LevelRecord,
} from "../../host/record-types.ts";
import { decodeRecords } from "../../host/records.ts";
import type { EdgeDetector } from "../recording/edge-detector.ts";
import type { EdgeChannel, EdgeSource } from "../recording/edge-sources.ts";
import type { Recording, SampleRun } from "../recording/recording.ts";
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
  edges: EdgeSource;
  /** Where the edges come from a channel: its column and detector. */
  tachometer?: { column: number; detector: EdgeDetector; edges: EdgeChannel };
}

export interface ReplayTake {
  level(record: LevelRecord): void;
  event(record: EventRecord): void;
  exceedance(record: ExceedanceRecord): void;
}

const BATCH_SAMPLES = 65_536;

/** The stretch's runs, cut to it; sample 0 is the first of the stretch. */
async function* stretch(input: ReplayInput): AsyncIterable<SampleRun> {
  let at = 0;
  for await (const run of input.recording.runs()) {
    const length = run[0]!.length;
    const from = Math.max(0, input.fromSample - at);
    const until = Math.min(length, input.untilSample - at);
    at += length;
    if (until > from) yield run.map((samples) => samples.subarray(from, until));
    if (at >= input.untilSample) return;
  }
}

/** Samples that wait: an edge may lie after the last one, before the next comes. */
class Feeder {
  readonly #input: ReplayInput;
  readonly #ticks: number;
  readonly #waiting: number[][];
  #first = 0;

  constructor(input: ReplayInput) {
    this.#input = input;
    this.#ticks = ticksPerSample(input.profile);
    this.#waiting = input.columns.map(() => []);
  }

  take(run: SampleRun): void {
    const { columns, scale, tachometer } = this.#input;
    for (const [channel, column] of columns.entries()) {
      const waiting = this.#waiting[channel]!;
      for (const value of run[column]!) waiting.push(value * scale);
    }
    if (tachometer !== undefined) {
      tachometer.edges.push(tachometer.detector.process(run[tachometer.column]!));
    }
  }

  /** All that waits but `keep` samples, as batches. */
  *batches(keep: number): Iterable<BlockBatch> {
    const until = this.#first + this.#waiting[0]!.length - keep;
    while (this.#first < until) {
      const sampleCount = Math.min(BATCH_SAMPLES, until - this.#first);
      const samples = this.#waiting.map((waiting) =>
        Float32Array.from(waiting.splice(0, sampleCount)),
      );
      const edges = ascending(this.#input.edges.take(this.#first + sampleCount), this.#ticks);
      yield {
        firstSample: this.#first,
        sampleCount,
        samples,
        edges: this.#input.profile.shafts.map((_, shaft) =>
          shaft === 0 ? edges : new Float64Array(0),
        ),
        inputs: [{ fromSample: this.#first, bits: 0 }],
      };
      this.#first += sampleCount;
    }
  }
}

/** Captures of a timer: whole ticks gone by; two edges within one tick are one. */
function ascending(times: number[], ticks: number): Float64Array {
  const captures = times.map((time) => Math.floor(time * ticks));
  return Float64Array.from(captures.filter((tick, i) => i === 0 || tick > captures[i - 1]!));
}

/**
 * Plays a recording to a target and hands over what comes back, in order.
 *
 * Errors    InputError of the reader, with its place; what came before it was handed over
 */
export async function replayThrough(
  input: ReplayInput,
  target: Target,
  take: ReplayTake,
  signal: AbortSignal,
): Promise<{ counters: Counters; sampleCount: number }> {
  await target.open(signal);
  await target.configure(configurationBytes(input.profile));
  const handOver = (bytes: Uint8Array): void => {
    for (const record of decodeRecords(bytes)) {
      if (record.kind === "level") take.level(record);
      else if (record.kind === "event") take.event(record);
      else take.exceedance(record);
    }
  };
  const feeder = new Feeder(input);
  let sampleCount = 0;
  for await (const run of stretch(input)) {
    signal.throwIfAborted();
    feeder.take(run);
    sampleCount += run[0]!.length;
    for (const batch of feeder.batches(1)) handOver(await target.feed(batch));
  }
  for (const batch of feeder.batches(0)) handOver(await target.feed(batch));
  const last = await target.finish();
  handOver(last.records);
  await target.close();
  return { counters: last.counters, sampleCount };
}

/** Display steps that a stretch of samples holds. */
export function stepsIn(profile: MonitorProfile, sampleCount: number): number {
  return Math.floor((sampleCount - 1) / displaySamples(profile));
}
