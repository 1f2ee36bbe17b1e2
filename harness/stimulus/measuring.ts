// A stimulus before it is written: all of it is made once, and measured as the file will hold it.
import { setImmediate } from "node:timers/promises";
import { type FrameLayout, fullScaleShare, roundingV, tooLong, writtenV } from "./frame-writer.ts";
import { Gauge } from "./gauge.ts";
import type { Scene } from "../scene/scene.ts";
import { PulsesTooClose, WIDTH_SAMPLES_MIN, pitchSamplesMin } from "./pulse-track.ts";
import type { StimulusJob } from "./stimulus-job.ts";
import { type Parts, type StimulusPlan, partsOf, refused, servedTimes } from "./stimulus-plan.ts";
import { type Frames, StimulusSource, Unplayable } from "./stimulus-source.ts";

const volts = (value: number): string => `${Number(value.toPrecision(4))} V`;

/** A stimulus that may be written, and what it measures. */
export interface Measured {
  layout: FrameLayout;
  parts: Parts;
  /** By column. */
  gauges: readonly Gauge[];
  edgeCounts: readonly number[];
  /** Greatest |sample| of each channel before the scenario, in its own quantity. */
  leadPeaks: number[];
  /** The same frames again, as the file holds them. */
  written(): Generator<Frames>;
}

/** Part of a pitch that jitter and a wheel's errors are left. */
const PITCH_LEFT = 0.99;

/** The least time between two edges of a shaft at the scene's greatest speeds, s. */
function closestEdgesS({ shafts }: Scene): number {
  const rates = shafts.map(({ speed, wheel }) => {
    const fastest = Math.max(...speed.map(({ revPerS }) => revPerS));
    // Of an extra edge half a pitch is the least.
    const perPitch = wheel.index === "extra-edge" ? 2 : 1;
    return (perPitch * fastest * wheel.positions) / wheel.revolutions;
  });
  return 1 / Math.max(...rates);
}

/** What makes room for the pulses, from what is asked of one and what edges leave, in samples. */
function roomFor(
  widthSamples: number,
  apartSamples: number,
  times: number,
  served: readonly number[],
): string {
  const isNarrowest = widthSamples <= WIDTH_SAMPLES_MIN * (1 + 1e-9);
  const fits = (width: number, factor: number): boolean =>
    pitchSamplesMin(width) <= PITCH_LEFT * factor * apartSamples;
  const ways: string[] = [];
  if (!isNarrowest && fits(WIDTH_SAMPLES_MIN, 1)) ways.push("a narrower --pulse-width");
  // A width that was stated stays so long in time.
  const more = served.find(
    (one) =>
      one > times &&
      fits(isNarrowest ? WIDTH_SAMPLES_MIN : (widthSamples * one) / times, one / times),
  );
  if (more !== undefined) ways.push(`--oversample ${more}`);
  if (ways.length === 0) {
    const both = served.find((one) => one > times && fits(WIDTH_SAMPLES_MIN, one / times));
    if (both !== undefined) ways.push(`a narrower --pulse-width with --oversample ${both}`);
  }
  return ways.length === 0 ? "; no setting makes room" : `; ${ways.join(" or ")} makes room`;
}

export class Measuring {
  readonly #job: StimulusJob;
  readonly #source: StimulusSource;
  readonly #parts: Parts;
  readonly #layout: FrameLayout;
  readonly #gauges: Gauge[];

  /** Errors: InputError where no file can hold it. */
  constructor(job: StimulusJob, plan: StimulusPlan) {
    this.#job = job;
    const { sampleRateHz, rampUpSamples, rampDownSamples } = plan;
    this.#source = new StimulusSource(plan.played, {
      rampUpSamples,
      rampDownSamples,
      times: job.times,
      voltsPerUnit: job.voltsPerUnit,
      pulseVolts: job.pulseV,
      pulseWidthSamples: job.pulseWidthS * sampleRateHz,
    });
    const { channels, shafts } = plan.played.profile;
    this.#parts = partsOf(plan, this.#source.sampleCount);
    this.#layout = {
      sampleRateHz,
      sampleCount: this.#source.sampleCount,
      fullScaleV: job.fullScaleV,
      names: [...channels, ...shafts].map(({ name }) => name),
      zeroSample: this.#parts.zeroSample,
    };
    this.#gauges = this.#layout.names.map(() => new Gauge());
    const long = tooLong(job.format, this.#layout);
    if (long !== undefined) throw refused(job.scene, long);
  }

  /** Errors: InputError where a limit is passed; AbortError. */
  async measure(): Promise<Measured> {
    try {
      for (const frames of this.#source.frames()) {
        // An interrupt is only heard when the process takes a breath.
        await setImmediate();
        this.#job.signal.throwIfAborted();
        this.#take(frames);
      }
    } catch (error) {
      throw this.#told(error);
    }
    this.#holdAgainstLimits();
    const { voltsPerUnit } = this.#job;
    return {
      layout: this.#layout,
      parts: this.#parts,
      gauges: this.#gauges,
      edgeCounts: this.#source.edgeCounts,
      leadPeaks: voltsPerUnit.map((factor, channel) => this.#gauges[channel]!.leadPeak / factor),
      written: () => this.#written(),
    };
  }

  *#written(): Generator<Frames> {
    const { format, fullScaleV } = this.#job;
    for (const { firstSample, sampleCount, volts: columns } of this.#source.frames()) {
      const kept = columns.map((column) =>
        column.subarray(0, sampleCount).map((value) => writtenV(format, fullScaleV, value)),
      );
      yield { firstSample, sampleCount, volts: kept };
    }
  }

  #take({ firstSample, sampleCount, volts: columns }: Frames): void {
    const { format, fullScaleV } = this.#job;
    for (const [column, gauge] of this.#gauges.entries()) {
      const values = columns[column]!;
      for (let i = 0; i < sampleCount; i += 1) {
        const asked = values[i]!;
        gauge.take(asked, writtenV(format, fullScaleV, asked), firstSample + i, this.#parts);
      }
    }
  }

  /** What is asked for is held against the limit; what is written is within half a step of it. */
  #holdAgainstLimits(): void {
    const { scene, fullScaleV, format, limits } = this.#job;
    for (const [column, gauge] of this.#gauges.entries()) {
      const isPulse = column >= scene.channels.length;
      const limit = isPulse ? limits.pulseV : limits.inputV;
      const rounding = roundingV(format, fullScaleV);
      const isOver = gauge.askedPeak > limit || gauge.peak > limit + rounding;
      if (!isOver && gauge.askedPeak <= fullScaleV * fullScaleShare(format)) continue;
      const name = `${isPulse ? "tachometer" : "channel"} ${this.#layout.names[column]!}`;
      const what = isOver ? "the input limit of" : "a full-scale sample of";
      const time = this.#timeOf(gauge.peakSample).toFixed(4);
      throw refused(
        scene,
        `${name} would reach ${volts(gauge.askedPeak)} at ${time} s, above ${what} ` +
          `${volts(isOver ? limit : fullScaleV)}; nothing was written`,
      );
    }
  }

  #timeOf(sample: number): number {
    return (sample - this.#layout.zeroSample) / this.#layout.sampleRateHz;
  }

  #told(error: unknown): unknown {
    const { scene, pulseWidthS, times } = this.#job;
    const { sampleRateHz } = this.#layout;
    if (error instanceof Unplayable) {
      const name = scene.profile.channels[error.channel]!.name;
      const where = `channel ${name} at ${this.#timeOf(error.sample).toFixed(4)} s`;
      return refused(scene, `${where} is no number, which no generator plays; nothing was written`);
    }
    if (error instanceof PulsesTooClose) {
      const apart = Math.min(error.apartSamples, closestEdgesS(scene) * sampleRateHz);
      const advice = roomFor(pulseWidthS * sampleRateHz, apart, times, servedTimes(scene));
      return refused(
        scene,
        `the tachometer's edges at ${this.#timeOf(error.atSample).toFixed(4)} s stand ` +
          `${error.apartSamples.toFixed(2)} samples apart, a pulse of ` +
          `${Number((1e6 * pulseWidthS).toPrecision(4))} us needs ` +
          `${error.neededSamples.toFixed(2)}${advice} ` +
          `(${sampleRateHz} Hz now); nothing was written`,
      );
    }
    return error;
  }
}
