// A scenario as voltages: a lead-in that ramps up from silence, then the scenario's own samples; a pulse
// train for each tachometer. Streamed: memory does not grow with the flight.
import type { Scene } from "../scene/scene.ts";
import type { BlockBatch } from "../target/target.ts";
import { makeWaveform } from "../waveform/waveform.ts";
import { HeldNoise, hasNoise, withoutNoise } from "./held-noise.ts";
import { leadInScene } from "./lead-in.ts";
import { PulseTrack } from "./pulse-track.ts";

const BATCH_SAMPLES = 8192;
/** A pulse begins so long before its edge. */
const AHEAD_SAMPLES = 2;

/** A sample that no generator can play. */
export class Unplayable extends Error {
  readonly channel: number;
  readonly timeS: number;
  constructor(channel: number, timeS: number) {
    super("a sample is no number");
    this.channel = channel;
    this.timeS = timeS;
  }
}

export interface StimulusWish {
  /** Samples of the ramp; a whole number of display periods. */
  leadSamples: number;
  /** Volts for 1 in the channel's own quantity, SI. */
  voltsPerUnit: number[];
  /** The scenario at its own rate and how many samples stand for one, where those are several. */
  held?: { scene: Scene; times: number };
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
export function rampGain(sample: number, leadSamples: number): number {
  return sample >= leadSamples ? 1 : 0.5 - 0.5 * Math.cos((Math.PI * sample) / leadSamples);
}

export class StimulusSource {
  readonly sampleCount: number;
  readonly tracks: readonly PulseTrack[];
  readonly #scene: Scene;
  readonly #wish: StimulusWish;
  readonly #ticksPerSample: number;
  readonly #noise: HeldNoise | undefined;

  constructor(scene: Scene, wish: StimulusWish) {
    const { held } = wish;
    this.#noise =
      held !== undefined && hasNoise(held.scene) ? new HeldNoise(held.scene) : undefined;
    this.#scene = this.#noise === undefined ? scene : withoutNoise(scene);
    this.#wish = wish;
    const { clockHz, sampleRateHz } = scene.profile;
    this.#ticksPerSample = clockHz / sampleRateHz;
    this.sampleCount = wish.leadSamples + makeWaveform(scene).sampleCount;
    this.tracks = scene.shafts.map(() => new PulseTrack(wish.pulseWidthSamples));
  }

  /**
   * All frames, once; buffers are reused.
   *
   * Errors    Unplayable, PulsesTooClose
   */
  *frames(): Generator<Frames> {
    const columns = this.#scene.channels.length + this.tracks.length;
    const held = BATCH_SAMPLES + AHEAD_SAMPLES;
    const volts = Array.from({ length: columns }, () => new Float64Array(held));
    let first = 0;
    let count = 0;
    for (const { batch, offset } of this.#batches()) {
      this.#channelVolts(batch, offset, volts, count);
      this.#takeEdges(batch, offset);
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

  *#batches(): Generator<{ batch: BlockBatch; offset: number }> {
    const { leadSamples } = this.#wish;
    const { sampleRateHz } = this.#scene.profile;
    const parts = [
      { scene: leadInScene(this.#scene, leadSamples / sampleRateHz), offset: 0 },
      { scene: this.#scene, offset: leadSamples },
    ];
    for (const { scene, offset } of parts) {
      const source = makeWaveform(scene);
      for (;;) {
        const batch = source.next(BATCH_SAMPLES);
        if (batch === undefined) break;
        yield { batch, offset };
      }
    }
  }

  #channelVolts(batch: BlockBatch, offset: number, volts: Float64Array[], at: number): void {
    const { profile } = this.#scene;
    const { leadSamples, voltsPerUnit, held } = this.#wish;
    const times = held?.times ?? 1;
    const first = offset + batch.firstSample;
    for (const [channel, samples] of batch.samples.entries()) {
      const step = samples instanceof Int16Array ? profile.channels[channel]!.countStep : 1;
      const factor = step * voltsPerUnit[channel]!;
      const out = volts[channel]!;
      for (let i = 0; i < batch.sampleCount; i += 1) {
        const own = first + i - leadSamples;
        const noise = own < 0 ? 0 : (this.#noise?.at(channel, Math.floor(own / times)) ?? 0);
        const value = this.#converted(channel, samples[i]! + noise);
        if (!Number.isFinite(value)) {
          throw new Unplayable(channel, (batch.firstSample + i) / profile.sampleRateHz);
        }
        out[at + i] = value * factor * rampGain(first + i, leadSamples);
      }
    }
  }

  /** What the scenario's converter makes of noise and signal together, where they were made apart. */
  #converted(channel: number, value: number): number {
    const converter = this.#wish.held?.scene.channels[channel]!.converter;
    if (this.#noise === undefined || converter?.format !== "i16") return value;
    return converter.step * Math.round(value / converter.step);
  }

  #takeEdges(batch: BlockBatch, offset: number): void {
    for (const [shaft, track] of this.tracks.entries()) {
      for (const tick of batch.edges[shaft]!) track.add(offset + tick / this.#ticksPerSample);
    }
  }

  #withPulses(volts: Float64Array[], firstSample: number, sampleCount: number): Frames {
    const channels = this.#scene.channels.length;
    for (const [shaft, track] of this.tracks.entries()) {
      const out = volts[channels + shaft]!;
      for (let i = 0; i < sampleCount; i += 1) {
        out[i] = this.#wish.pulseVolts * track.at(firstSample + i);
      }
    }
    return { firstSample, sampleCount, volts };
  }
}
