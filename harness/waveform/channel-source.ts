// One channel's samples: components, noise, mean, faults.
import { addGaussian } from "../random/gaussian.ts";
import { randomStream } from "../random/stream.ts";
import type { StatefulStream } from "../random/stream.ts";
import type { ChannelSignal, Component, Quantity } from "../scene/scene.ts";
import { ChannelFaults } from "./channel-faults.ts";
import { FrontEnd } from "./front-end.ts";
import { OrderSource } from "./order-source.ts";
import { derivativeCount } from "./quantity.ts";
import { RotorSource } from "./rotor-source.ts";
import { CHUNK_SAMPLES } from "./sample-clock.ts";
import { sampleKernel } from "./sample-kernel.ts";
import type { ShaftTrack } from "./shaft-track.ts";
import type { SignalSource } from "./source.ts";
import { ToneSource } from "./tone.ts";
import type { NoiseDraw, NoiseSpread } from "./types.ts";

/** What a channel needs to know of the rest of the scene. */
export interface ChannelSetting {
  quantity: Quantity;
  tracks: readonly ShaftTrack[];
  sampleRateHz: number;
  seed: number;
  /** First of the channel's random streams. */
  streamBase: number;
  /** Where noise is drawn at another rate than the samples'; absent: a value for each sample. */
  spread?: NoiseSpread;
}

function sourceOf(
  component: Exclude<Component, { kind: "noise" }>,
  frontEnd: FrontEnd,
  setting: ChannelSetting,
): SignalSource {
  if (component.kind === "tone") {
    const derivatives = derivativeCount(component.quantity, setting.quantity);
    return new ToneSource(component, derivatives, frontEnd, setting.sampleRateHz);
  }
  const track = setting.tracks[component.shaft];
  if (track === undefined) throw new Error(`a component follows shaft ${component.shaft}: none`);
  if (component.kind === "rotor") {
    const derivatives = derivativeCount("displacement", setting.quantity);
    return new RotorSource(component, derivatives, frontEnd, track, setting.sampleRateHz);
  }
  const derivatives = derivativeCount(component.quantity, setting.quantity);
  return new OrderSource(component, derivatives, frontEnd, track, setting.sampleRateHz);
}

export class ChannelSource {
  readonly #sources: SignalSource[];
  readonly #noiseRms: number;
  #noise: StatefulStream;
  readonly #spread: NoiseSpread | undefined;
  readonly #drawNoise: NoiseDraw;
  readonly #mean: number;
  readonly #faults: ChannelFaults;

  constructor(signal: ChannelSignal, setting: ChannelSetting) {
    this.#sources = [];
    let power = 0;
    for (const component of signal.components) {
      if (component.kind === "noise") {
        power += component.rms * component.rms;
      } else {
        this.#sources.push(sourceOf(component, new FrontEnd(signal.frontEnd), setting));
      }
    }
    this.#noiseRms = Math.sqrt(power);
    this.#noise = randomStream(setting.seed, setting.streamBase);
    this.#spread = setting.spread;
    this.#drawNoise = (values) => {
      values.fill(0);
      addGaussian(values, values.length, this.#noiseRms, this.#noise);
    };
    this.#mean = signal.mean;
    const { sampleRateHz, seed } = setting;
    const streamBase = setting.streamBase + 1;
    const { mean } = signal;
    this.#faults = new ChannelFaults(signal.faults, { mean, sampleRateHz, seed, streamBase });
    const isCounts = signal.converter.format === "i16";
    if (isCounts && signal.faults.some((fault) => fault.kind === "not-finite")) {
      throw new Error("a converter to counts gives no sample that is not finite");
    }
  }

  /**
   * Makes a chunk's samples in this thread's kernel, where they stand until the next chunk is made;
   * gives them. Chunks come in order, none left out.
   */
  make(chunkFirst: number): Float64Array {
    const { out, loops } = sampleKernel();
    const count = CHUNK_SAMPLES;
    loops.clear();
    for (const source of this.#sources) source.add(chunkFirst, count, out);
    if (this.#noiseRms > 0) this.#addNoise(out);
    this.#faults.applyBeforeMean(chunkFirst, count, out);
    if (this.#mean !== 0) for (let i = 0; i < count; i += 1) out[i] = out[i]! + this.#mean;
    this.#faults.applyAfterMean(chunkFirst, count, out);
    return out;
  }

  #addNoise(out: Float64Array): void {
    if (this.#spread === undefined) {
      this.#noise = sampleKernel().addNoise(this.#noiseRms, this.#noise);
    } else this.#spread.add(CHUNK_SAMPLES, out, this.#drawNoise);
  }
}
