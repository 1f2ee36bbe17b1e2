// A scenario written as a stimulus: refused where a limit would be passed, and then nothing is left.
import { existsSync, renameSync, rmSync } from "node:fs";
import { basename, dirname } from "node:path";
import { setImmediate } from "node:timers/promises";
import { type Complaint, InputError } from "../../host/input-error.ts";
import { packageVersion } from "../../host/package-root.ts";
import { makeFolder, unwritable } from "../results/output-folder.ts";
import type { Scene } from "../scene/scene.ts";
import { expectedOf } from "./expected.ts";
import {
  type FrameFormat,
  type FrameLayout,
  FrameWriter,
  fullScaleShare,
  roundingV,
  tooLong,
} from "./frame-writer.ts";
import { PulsesTooClose } from "./pulse-track.ts";
import { type ChannelFacts, SideFile, type SideFacts, type TachometerFacts } from "./side-file.ts";
import { type Frames, StimulusSource, Unplayable } from "./stimulus-source.ts";

/** Samples for each of the scenario's, at most. */
export const TIMES_MAX = 64;

export interface StimulusJob {
  scene: Scene;
  /** The stimulus; its side file stands beside it. */
  path: string;
  format: FrameFormat;
  /** Samples for each of the scenario's. */
  times: number;
  rampS: number;
  fullScaleV: number;
  limits: { inputV: number; pulseV: number };
  voltsPerUnit: number[];
  /** What one volt stands for, as written. */
  oneVoltIs: string[];
  pulseV: number;
  pulseWidthS: number;
  corePath: string;
  signal: AbortSignal;
}

export interface StimulusDone {
  path: string;
  sidePath: string;
  facts: SideFacts;
  truthRows: number;
  eventCount: number;
  isCoreRight: boolean;
}

/** Peak and mean square of one column as it is written. */
class Gauge {
  peak = 0;
  peakSample = 0;
  #sum = 0;
  #count = 0;

  take(volts: Float64Array, frames: Frames, zeroSample: number): void {
    for (let i = 0; i < frames.sampleCount; i += 1) {
      const value = volts[i]!;
      const sample = frames.firstSample + i;
      if (Math.abs(value) > this.peak) {
        this.peak = Math.abs(value);
        this.peakSample = sample;
      }
      if (sample < zeroSample) continue;
      this.#sum += value * value;
      this.#count += 1;
    }
  }

  get rms(): number {
    return this.#count === 0 ? 0 : Math.sqrt(this.#sum / this.#count);
  }
}

/** Where the side file of a stimulus stands. */
export const sidePathOf = (path: string): string => `${path}.json`;

/** A complaint about the scene as a whole. */
function refused(scene: Scene, message: string): InputError {
  const complaint: Complaint = { file: `case "${scene.name}"`, line: 0, column: 0, message };
  return new InputError(complaint);
}

/** What is random sample by sample, or counts samples, means something else at another rate. */
function boundToRate(scene: Scene): string | undefined {
  for (const [i, { components, faults }] of scene.channels.entries()) {
    const { name } = scene.profile.channels[i]!;
    if (components.some((one) => one.kind === "noise") && faults.length > 0) {
      return `channel ${name} has noise and a fault`;
    }
    const fault = faults.find(({ kind }) => ["spike", "not-finite", "loose"].includes(kind));
    if (fault !== undefined) return `channel ${name} has the fault "${fault.kind}"`;
  }
  return undefined;
}

/** How many samples may stand for one: edges must fall on whole ticks of a sample. */
function servedTimes({ profile }: Scene): number[] {
  const { clockHz, sampleRateHz } = profile;
  const all = Array.from({ length: TIMES_MAX }, (_, i) => i + 1);
  return all.filter((times) => clockHz % (sampleRateHz * times) === 0);
}

function atRate(scene: Scene, times: number): Scene {
  if (times === 1) return scene;
  const bound = boundToRate(scene);
  if (bound !== undefined) {
    const why = `${bound}, which is stated at the scenario's own sample rate`;
    throw refused(scene, `cannot be written with more samples than it has: ${why}`);
  }
  const sampleRateHz = scene.profile.sampleRateHz * times;
  if (scene.profile.clockHz % sampleRateHz !== 0) {
    const clock = `the edge clock of ${scene.profile.clockHz} Hz is no multiple of it`;
    const served = servedTimes(scene).slice(0, 8).join(", ");
    throw refused(
      scene,
      `cannot be written at ${sampleRateHz} Hz: ${clock}; ${served} times serve`,
    );
  }
  return { ...scene, profile: { ...scene.profile, sampleRateHz } };
}

const volts = (value: number): string => `${Number(value.toPrecision(4))} V`;

class Writing {
  readonly #job: StimulusJob;
  readonly #played: Scene;
  readonly #source: StimulusSource;
  readonly #layout: FrameLayout;
  readonly #gauges: Gauge[];

  constructor(job: StimulusJob) {
    this.#job = job;
    const { scene, rampS } = job;
    this.#played = atRate(scene, job.times);
    const { sampleRateHz, displayPeriodS, channels, shafts } = this.#played.profile;
    // Whole display periods: the scenario's steps fall on the file's.
    const periods = Math.max(1, Math.ceil(rampS / displayPeriodS - 1e-9));
    const zeroSample = periods * Math.round(displayPeriodS * sampleRateHz);
    this.#source = new StimulusSource(this.#played, {
      leadSamples: zeroSample,
      voltsPerUnit: job.voltsPerUnit,
      ...(job.times === 1 ? {} : { held: { scene, times: job.times } }),
      pulseVolts: job.pulseV,
      pulseWidthSamples: job.pulseWidthS * sampleRateHz,
    });
    const names = [...channels, ...shafts].map(({ name }) => name);
    this.#layout = {
      sampleRateHz,
      sampleCount: this.#source.sampleCount,
      fullScaleV: job.fullScaleV,
      names,
      zeroSample,
    };
    this.#gauges = names.map(() => new Gauge());
    const long = tooLong(job.format, this.#layout);
    if (long !== undefined) throw refused(scene, long);
  }

  /** Writes the frames; gives what the side file says of them. Errors: InputError; AbortError. */
  async frames(path: string): Promise<SideFacts> {
    const writer = new FrameWriter(path, this.#job.format, this.#layout);
    try {
      for (const frames of this.#source.frames()) {
        // An interrupt is only heard when the process takes a breath.
        await setImmediate();
        this.#job.signal.throwIfAborted();
        this.#take(frames);
        writer.write(
          frames.firstSample,
          frames.sampleCount,
          frames.volts.map((column) => column.subarray(0, frames.sampleCount)),
        );
      }
    } catch (error) {
      writer.abandon();
      throw this.#told(error);
    }
    return this.#facts(writer.end());
  }

  #timeOf(sample: number): number {
    return (sample - this.#layout.zeroSample) / this.#layout.sampleRateHz;
  }

  #take(frames: Frames): void {
    const { scene, fullScaleV, format, limits } = this.#job;
    const channelCount = scene.channels.length;
    for (const [column, gauge] of this.#gauges.entries()) {
      gauge.take(frames.volts[column]!, frames, this.#layout.zeroSample);
      const isPulse = column >= channelCount;
      const limit = isPulse ? limits.pulseV : limits.inputV;
      const most = Math.min(limit, fullScaleV * fullScaleShare(format));
      if (gauge.peak <= most) continue;
      const name = `${isPulse ? "tachometer" : "channel"} ${this.#layout.names[column]!}`;
      const what = gauge.peak > limit ? "the input limit of" : "a full-scale sample of";
      const time = this.#timeOf(gauge.peakSample).toFixed(4);
      throw refused(
        scene,
        `${name} would reach ${volts(gauge.peak)} at ${time} s, above ${what} ` +
          `${volts(gauge.peak > limit ? limit : fullScaleV)}; nothing was written`,
      );
    }
  }

  #told(error: unknown): unknown {
    const { scene, pulseWidthS } = this.#job;
    const { sampleRateHz } = this.#layout;
    if (error instanceof Unplayable) {
      const name = scene.profile.channels[error.channel]!.name;
      const where = `channel ${name} at ${error.timeS.toFixed(4)} s`;
      return refused(scene, `${where} is no number, which no generator plays; nothing was written`);
    }
    if (error instanceof PulsesTooClose) {
      const least = this.#job.times * Math.ceil(error.neededSamples / error.apartSamples);
      const times = servedTimes(scene).find((one) => one >= least);
      const more = times === undefined ? "" : ` or --oversample ${times}`;
      return refused(
        scene,
        `the tachometer's edges at ${this.#timeOf(error.atSample).toFixed(4)} s stand ` +
          `${error.apartSamples.toFixed(2)} samples apart, a pulse of ` +
          `${Number((1e6 * pulseWidthS).toPrecision(4))} us needs ` +
          `${error.neededSamples.toFixed(2)}; a narrower --pulse-width${more} makes room ` +
          `(${sampleRateHz} Hz now); nothing was written`,
      );
    }
    return error;
  }

  #facts(sha256: string): SideFacts {
    const job = this.#job;
    const layout = this.#layout;
    const { scene, fullScaleV, format, limits } = job;
    const { profile } = scene;
    const rounding = roundingV(format, fullScaleV);
    const channels = profile.channels.map((channel, column): ChannelFacts => {
      const gauge = this.#gauges[column]!;
      return {
        column: column + 1,
        name: channel.name,
        transducer: channel.kind,
        quantity: channel.quantity,
        voltsPerSiUnit: job.voltsPerUnit[column]!,
        oneVoltIs: job.oneVoltIs[column]!,
        peakV: gauge.peak,
        peakAtS: this.#timeOf(gauge.peakSample),
        rmsV: gauge.rms,
      };
    });
    const slopeVPerS = (job.pulseV / 2) * layout.sampleRateHz;
    const tachometers = profile.shafts.map((shaft, i): TachometerFacts => {
      const column = profile.channels.length + i;
      return {
        column: column + 1,
        name: shaft.name,
        pulseV: job.pulseV,
        pulseWidthS: job.pulseWidthS,
        edgeAtV: job.pulseV / 2,
        slope: "rising",
        edgeCount: this.#source.tracks[i]!.count,
        rmsV: this.#gauges[column]!.rms,
        edgeUncertaintyS: 1 / profile.clockHz + rounding / slopeVPerS,
      };
    });
    return {
      amberline: packageVersion(),
      scenario: { name: scene.name, question: scene.question, seed: scene.seed },
      file: {
        name: basename(job.path),
        format,
        sha256,
        sampleRateHz: layout.sampleRateHz,
        samplesForOne: job.times,
        sampleCount: layout.sampleCount,
        fullScaleV,
        roundingV: rounding,
        zeroSample: layout.zeroSample,
        rampS: layout.zeroSample / layout.sampleRateHz,
      },
      limits,
      channels,
      tachometers,
    };
  }
}

/**
 * Writes the stimulus and its side file.
 *
 * Effect    nothing of it is left where it is refused or interrupted
 * Errors    InputError, ResultsError, TargetFailure, AbortError
 */
export async function writeStimulus(job: StimulusJob): Promise<StimulusDone> {
  const { path } = job;
  const sidePath = sidePathOf(path);
  const parts = [path, sidePath].map((one) => `${one}.part`) as [string, string];
  const writing = new Writing(job);
  try {
    makeFolder(dirname(path));
    const facts = await writing.frames(parts[0]);
    const side = new SideFile(parts[1], facts);
    let truthRows = 0;
    const expected = await expectedOf(job.scene, job.corePath, job.signal, (row) => {
      truthRows += 1;
      side.row(row);
    }).catch((error: unknown) => {
      side.abandon();
      throw error;
    });
    side.end(expected);
    renameSync(parts[1], sidePath);
    renameSync(parts[0], path);
    const { core, events } = expected;
    const eventCount = events.filter(({ isOptional }) => !isOptional).length;
    return { path, sidePath, facts, truthRows, eventCount, isCoreRight: core.isRight };
  } catch (error) {
    // The file system tells its reason by a word, an interrupt by a number.
    const { code } = error as NodeJS.ErrnoException;
    throw typeof code === "string" ? unwritable(dirname(path), error) : error;
  } finally {
    for (const part of parts) if (existsSync(part)) rmSync(part);
  }
}
