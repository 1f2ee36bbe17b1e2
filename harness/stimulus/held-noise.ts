// Noise of a scenario that is written with more samples than it has: each of its own values is held, so
// that at the scenario's own moments the very same value stands. Its density then falls with frequency
// as that of any held signal does.
import type { Component, Scene } from "../scene/scene.ts";
import { makeWaveform } from "../waveform/waveform.ts";

const BATCH_SAMPLES = 4096;

/** Nothing, in the place of a component: the others keep their own random numbers. */
const SILENT: Component = {
  kind: "tone",
  frequencyHz: 1,
  quantity: "unstated",
  amplitudePk: 0,
  phaseLagRad: 0,
};

const isNoise = ({ kind }: Component): boolean => kind === "noise";

/** Whether any channel has noise. */
export const hasNoise = ({ channels }: Scene): boolean =>
  channels.some(({ components }) => components.some(isNoise));

/** The scene with only its noise, or with all but its noise; samples as they are computed. */
function partOf(scene: Scene, isWanted: (component: Component) => boolean): Scene {
  return {
    ...scene,
    channels: scene.channels.map((signal, i) => ({
      ...signal,
      components: signal.components.map((one) =>
        isWanted(one) ? one : { ...SILENT, quantity: scene.profile.channels[i]!.quantity },
      ),
      converter: { format: "f32", step: 0 },
    })),
  };
}

/** All of a scene but its noise. */
export const withoutNoise = (scene: Scene): Scene => partOf(scene, (one) => !isNoise(one));

/** The noise of a scene at its own rate; samples are asked for in ascending order. */
export class HeldNoise {
  readonly #source: ReturnType<typeof makeWaveform>;
  #first = 0;
  #count = 0;
  #values: Float64Array[] = [];

  constructor(scene: Scene) {
    const noise = partOf(scene, isNoise);
    const channels = noise.channels.map((signal) => ({ ...signal, mean: 0, faults: [] }));
    this.#source = makeWaveform({ ...noise, channels });
  }

  /** A channel's noise at one of the scenario's own samples; 0 behind the last. */
  at(channel: number, sample: number): number {
    while (sample >= this.#first + this.#count) {
      const batch = this.#source.next(BATCH_SAMPLES);
      if (batch === undefined) return 0;
      this.#first = batch.firstSample;
      this.#count = batch.sampleCount;
      this.#values = batch.samples.map((one) => Float64Array.from(one));
    }
    return this.#values[channel]![sample - this.#first]!;
  }
}
