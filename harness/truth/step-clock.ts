// The one grid of display steps, in samples, ticks and seconds.
import type { MonitorProfile, Scene } from "../scene/scene.ts";

export class StepGrid {
  readonly displaySamples: number;
  readonly ticksPerSample: number;
  readonly stepCount: number;
  readonly sampleCount: number;
  readonly #profile: MonitorProfile;

  constructor(scene: Scene) {
    this.#profile = scene.profile;
    const { sampleRateHz, clockHz, displayPeriodS } = scene.profile;
    this.displaySamples = Math.max(1, Math.round(displayPeriodS * sampleRateHz));
    this.ticksPerSample = Math.round(clockHz / sampleRateHz);
    this.sampleCount = Math.max(0, Math.ceil(scene.durationS * sampleRateHz - 1e-6));
    this.stepCount = Math.max(0, Math.floor((this.sampleCount - 1) / this.displaySamples));
  }

  sampleOf(step: number): number {
    return step * this.displaySamples;
  }

  tickOf(step: number): number {
    return this.sampleOf(step) * this.ticksPerSample;
  }

  timeOf(step: number): number {
    return this.sampleOf(step) / this.#profile.sampleRateHz;
  }

  /**
   * A revolution counts at a step when its end stands before this time: its edge's sample and the
   * two after it have come, floor(t·fs) + 2 ≤ the step's sample.
   */
  countLimitS(step: number): number {
    return (this.sampleOf(step) - 1) / this.#profile.sampleRateHz;
  }

  get periodS(): number {
    return this.displaySamples / this.#profile.sampleRateHz;
  }

  tickAt(timeS: number): number {
    return Math.min(Number.MAX_SAFE_INTEGER, Math.max(0, timeS * this.#profile.clockHz));
  }

  /** The first sample at which an input of a time stands. */
  inputSample(timeS: number): number {
    return Math.max(0, Math.ceil(timeS * this.#profile.sampleRateHz - 1e-6));
  }
}
