// A held scene as voltages: it ramps up from silence and down to it; a pulse train for each tachometer.
// Streamed: memory does not grow with the flight.
import type { Scene } from "../scene/scene.ts";
import type { BlockBatch } from "../target/target.ts";
import type { WaveformSource } from "../waveform/types.ts";
import { makeWaveform } from "../waveform/waveform.ts";
import { BandNoise } from "./band-noise.ts";
import { PulseTrack, pulseEnd } from "./pulse-track.ts";

const BATCH_SAMPLES = 8192;
/** A pulse begins so long before its edge. */
const AHEAD_SAMPLES = 2;

/** A sample that no generator can play. */
export class Unplayable extends Error {
  readonly channel: number;
  readonly sample: number;
  constructor(channel: number, sample: number) {
    super("a sample is no number");
    this.channel = channel;
    this.sample = sample;
  }
}

export interface StimulusWish {
  rampUpSamples: number;
  rampDownSamples: number;
  /** Samples for each of the scenario's. */
  times: number;
  /** Volts for 1 in the channel's own quantity, SI. */
  voltsPerUnit: number[];
  pulseVolts: number;
  pulseWidthSamples: number;
}

/** Successive frames: volts[column][sample], the channels first, then the shafts. */
export interface Frames {
  firstSample: number;
  sampleCount: number;
  volts: Float64Array[];
}

/** Rises from 0 to 1 with no corner: half a cosine. */
export function rampGain(sample: number, rampSamples: number): number {
  return sample >= rampSamples ? 1 : 0.5 - 0.5 * Math.cos((Math.PI * sample) / rampSamples);
}

export class StimulusSource {
  readonly sampleCount: number;
  readonly #scene: Scene;
  readonly #wish: StimulusWish;
  readonly #ticksPerSample: number;
  #tracks: PulseTrack[] = [];

  /** Takes a scene at the rate that is written. */
  constructor(scene: Scene, wish: StimulusWish) {
    this.#scene = scene;
    this.#wish = wish;
    const { clockHz, sampleRateHz } = scene.profile;
    this.#ticksPerSample = clockHz / sampleRateHz;
    this.sampleCount = this.#waveform().sampleCount;
  }

  /** Edges of each shaft that were written in the last round. */
  get edgeCounts(): number[] {
    return this.#tracks.map(({ count }) => count);
  }

  #waveform(): WaveformSource {
    const { times } = this.#wish;
    return times === 1
      ? makeWaveform(this.#scene)
      : makeWaveform(this.#scene, () => new BandNoise(times));
  }

  /**
   * All frames, each time from the start; buffers are reused.
   *
   * Errors    Unplayable, PulsesTooClose
   */
  *frames(): Generator<Frames> {
    const { shafts, channels } = this.#scene;
    this.#tracks = shafts.map(() => new PulseTrack(this.#wish.pulseWidthSamples));
    const held = BATCH_SAMPLES + AHEAD_SAMPLES;
    const columns = channels.length + shafts.length;
    const volts = Array.from({ length: columns }, () => new Float64Array(held));
    const source = this.#waveform();
    let first = 0;
    let count = 0;
    for (;;) {
      const batch = source.next(BATCH_SAMPLES);
      if (batch === undefined) break;
      this.#channelVolts(batch, volts, count);
      this.#takeEdges(batch);
      count += batch.sampleCount;
      // The last samples wait for an edge that may come just behind them.
      const ready = Math.max(0, count - AHEAD_SAMPLES);
      yield this.#withPulses(volts, first, ready);
      for (const column of volts) column.copyWithin(0, ready, count);
      first += ready;
      count -= ready;
    }
    if (count > 0) yield this.#withPulses(volts, first, count);
  }

  #channelVolts(
    { firstSample, sampleCount, samples }: BlockBatch,
    volts: Float64Array[],
    at: number,
  ) {
    const { profile } = this.#scene;
    const { rampUpSamples, rampDownSamples, voltsPerUnit } = this.#wish;
    for (const [channel, values] of samples.entries()) {
      const step = values instanceof Int16Array ? profile.channels[channel]!.countStep : 1;
      const factor = step * voltsPerUnit[channel]!;
      const out = volts[channel]!;
      for (let i = 0; i < sampleCount; i += 1) {
        const value = values[i]!;
        const sample = firstSample + i;
        if (!Number.isFinite(value)) throw new Unplayable(channel, sample);
        const up = rampGain(sample, rampUpSamples);
        const down = rampGain(this.sampleCount - 1 - sample, rampDownSamples);
        out[at + i] = value * factor * up * down;
      }
    }
  }

  #takeEdges(batch: BlockBatch): void {
    for (const [shaft, track] of this.#tracks.entries()) {
      for (const tick of batch.edges[shaft]!) {
        const position = tick / this.#ticksPerSample;
        // A pulse that the end would cut is left out.
        if (pulseEnd(position, this.#wish.pulseWidthSamples) > this.sampleCount - 1) continue;
        track.add(position);
      }
    }
  }

  #withPulses(volts: Float64Array[], firstSample: number, sampleCount: number): Frames {
    const channels = this.#scene.channels.length;
    for (const [shaft, track] of this.#tracks.entries()) {
      const out = volts[channels + shaft]!;
      for (let i = 0; i < sampleCount; i += 1) {
        out[i] = this.#wish.pulseVolts * track.at(firstSample + i);
      }
    }
    return { firstSample, sampleCount, volts };
  }
}
