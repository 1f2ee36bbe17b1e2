// One channel: its carriers with the faults that are known exactly (a changed sensitivity, clipping
// of a lone steady component) in them, and the windows of those that are not.
import type { ChannelFault, ChannelSignal, Scene } from "../scene/scene.ts";
import { carriersOf, jumpTimeS, noiseRmsOf } from "./carriers.ts";
import type { Carrier } from "./carriers.ts";
import type { Complex } from "./complex.ts";
import { ConstantCarrier, SampleFaults, rowAt } from "./sample-faults.ts";
import type { Row } from "./sample-faults.ts";
import type { MotionTruth } from "./shaft-motion.ts";

/** A window in which the channel's samples are not the stated signal. */
export interface SpoiltWindow {
  fromS: number;
  untilS: number;
  /**
   * Largest error of Z while a triangle lies in the window, the channel's quantity. `isEdgeOnly`:
   * it applies only to triangles that hold one of the window's ends.
   */
  bound: number;
  isEdgeOnly: boolean;
  kind: ChannelFault["kind"] | "test";
}

/**
 * Amplitude of the first order of a sine that is clipped at c.
 *
 * Range     c ≥ 0; c ≥ A leaves A
 * Source    first Fourier coefficient of the clipped sine; own derivation
 */
export function clippedAmplitude(amplitudePk: number, clipLevel: number): number {
  if (clipLevel >= amplitudePk) return amplitudePk;
  const ratio = clipLevel / amplitudePk;
  const root = Math.sqrt(1 - ratio * ratio);
  return (2 / Math.PI) * (amplitudePk * Math.asin(ratio) + clipLevel * root);
}

/** A carrier whose amplitude is multiplied by a factor that jumps, or is clipped within windows. */
class AlteredCarrier implements Carrier {
  readonly jumpTimesS: readonly number[];
  readonly tied?: { shaft: number; order: number };
  readonly hasRipple: boolean;
  readonly #inner: Carrier;
  readonly #gains: readonly Row[];
  readonly #clips: { fromS: number; untilS: number; level: number }[];
  readonly #breaks: number[];

  constructor(
    inner: Carrier,
    gains: readonly Row[],
    clips: { fromS: number; untilS: number; level: number }[],
  ) {
    this.#inner = inner;
    this.#gains = gains;
    this.#clips = clips;
    this.#breaks = [
      ...gains.map((row) => row.timeS),
      ...clips.flatMap((clip) => [clip.fromS, clip.untilS]),
    ];
    this.jumpTimesS = [...inner.jumpTimesS, ...this.#breaks];
    if (inner.tied !== undefined) this.tied = inner.tied;
    this.hasRipple = inner.hasRipple === true;
  }

  amplitudeAt(timeS: number, out: Complex): void {
    this.#inner.amplitudeAt(timeS, out);
    const gain = rowAt(this.#gains, timeS, 1);
    out.re *= gain;
    out.im *= gain;
    for (const clip of this.#clips) {
      if (timeS < clip.fromS || timeS >= clip.untilS) continue;
      const size = Math.hypot(out.re, out.im);
      const share = size > 0 ? clippedAmplitude(size, clip.level) / size : 1;
      out.re *= share;
      out.im *= share;
    }
  }

  /**
   * Within a triangle that is not the same throughout, a clipped cycle is more than an amplitude:
   * its other orders do not cancel. It is integrated as it is.
   */
  needsRaw(fromS: number, untilS: number): boolean {
    const at: Complex = { re: 0, im: 0 };
    return this.#clips.some((clip) => {
      if (clip.fromS >= untilS || clip.untilS <= fromS) return false;
      return [0.001, 0.5, 0.999].some((share) => {
        const timeS = fromS + share * (untilS - fromS);
        this.#inner.amplitudeAt(timeS, at);
        return Math.hypot(at.re, at.im) * Math.abs(rowAt(this.#gains, timeS, 1)) > clip.level;
      });
    });
  }

  rawAt(timeS: number): number {
    const at: Complex = { re: 0, im: 0 };
    this.#inner.amplitudeAt(timeS, at);
    const turn = this.#inner.phaseRevAt(timeS);
    const angle = 2 * Math.PI * (turn - Math.round(turn));
    let x = rowAt(this.#gains, timeS, 1) * (at.re * Math.cos(angle) - at.im * Math.sin(angle));
    for (const clip of this.#clips) {
      if (timeS < clip.fromS || timeS >= clip.untilS) continue;
      x = Math.min(clip.level, Math.max(-clip.level, x));
    }
    return x;
  }

  phaseRevAt(timeS: number): number {
    return this.#inner.phaseRevAt(timeS);
  }

  frequencyHzAt(timeS: number): number {
    return this.#inner.frequencyHzAt(timeS);
  }

  breakAfter(timeS: number): number {
    let next = this.#inner.breakAfter(timeS);
    for (const at of this.#breaks) if (at > timeS) next = Math.min(next, at);
    return next;
  }

  steadyUntil(timeS: number): number {
    let next = this.#inner.steadyUntil(timeS);
    for (const at of this.#breaks) if (at > timeS) next = Math.min(next, at);
    return next;
  }
}

export class ChannelTruth {
  readonly signal: ChannelSignal;
  readonly carriers: Carrier[];
  readonly noiseRms: number;
  readonly spoilt: SpoiltWindow[] = [];
  /** The constant part, where faults move it. */
  readonly constant: ConstantCarrier | undefined;
  readonly #gains: readonly Row[];

  constructor(scene: Scene, channel: number, motions: readonly MotionTruth[]) {
    this.signal = scene.channels[channel]!;
    const profile = scene.profile.channels[channel]!;
    const { sampleRateHz } = scene.profile;
    const { faults, converter } = this.signal;
    const plain = carriersOf(this.signal, profile.quantity, motions, sampleRateHz);
    this.noiseRms = noiseRmsOf(this.signal);
    const samples = new SampleFaults(this.signal, scene, (timeS) => plainSignal(plain, timeS));
    this.#gains = samples.gains;
    this.constant =
      samples.constants.length > 0
        ? new ConstantCarrier(samples.constants, this.signal.mean)
        : undefined;
    const clips = faults.flatMap((fault) => {
      if (fault.kind !== "clip") return [];
      const fromS = jumpTimeS(fault.fromS, sampleRateHz);
      return [{ fromS, untilS: jumpTimeS(fault.untilS, sampleRateHz), level: fault.level }];
    });
    if (converter.format === "i16") {
      clips.push({ fromS: -1, untilS: Infinity, level: 32767.5 * converter.step });
    }
    const only = plain.length === 1 ? plain[0] : undefined;
    const isCentred = samples.constants.every((row) => row.value === 0) && this.signal.mean === 0;
    const isExact = only?.tied !== undefined && this.noiseRms === 0 && isCentred;
    const isAltered = this.#gains.length > 0 || (clips.length > 0 && isExact);
    this.carriers = isAltered
      ? plain.map((one) => new AlteredCarrier(one, this.#gains, isExact ? clips : []))
      : plain;
    if (!isExact) this.#spoilByClips(plain, clips, scene.durationS);
    else for (const clip of clips) this.#boundKinks(clip, plain[0]!, scene);
    for (const fault of faults) this.#spoil(fault, scene);
    this.#spoilByTests(scene, profile.test.amplitudePk);
  }

  /**
   * Four kinks a period lie between samples: the trapezoid's error there, own derivation. The
   * amplitude is taken between one break of the signal and the next.
   */
  #boundKinks(
    clip: { fromS: number; untilS: number; level: number },
    only: Carrier,
    scene: Scene,
  ): void {
    const endS = Math.min(clip.untilS, scene.durationS);
    let fromS = Math.max(clip.fromS, 0);
    while (fromS < endS) {
      const untilS = Math.min(endS, only.breakAfter(fromS));
      const amplitude = Math.max(
        amplitudeSum([only], fromS + 1e-9),
        amplitudeSum([only], untilS - 1e-9),
      );
      const hz = Math.max(only.frequencyHzAt(fromS), only.frequencyHzAt(untilS));
      const radPerSample = (2 * Math.PI * hz) / scene.profile.sampleRateHz;
      if (clip.level < amplitude) {
        const bound = (amplitude * radPerSample * radPerSample) / 3;
        this.spoilt.push({ fromS, untilS, bound, isEdgeOnly: false, kind: "clip" });
      }
      fromS = untilS;
    }
  }

  /** Share of the stated signal and noise that is left at a time. */
  gainAt(timeS: number): number {
    return rowAt(this.#gains, timeS, 1);
  }

  /** Σ of the amplitudes as they stand at a time, the channel's quantity. */
  amplitudeSumAt(timeS: number): number {
    return amplitudeSum(this.carriers, timeS);
  }

  /** The largest Σ of amplitudes, looked for at every break and a grid of a thousand times. */
  static largestSum(carriers: readonly Carrier[], durationS: number): number {
    let largest = 0;
    for (let i = 0; i <= 1000; i += 1) {
      largest = Math.max(largest, amplitudeSum(carriers, (durationS * i) / 1000));
    }
    return largest;
  }

  #spoilByClips(
    plain: readonly Carrier[],
    clips: { fromS: number; untilS: number; level: number }[],
    durationS: number,
  ): void {
    const sum = ChannelTruth.largestSum(plain, durationS) * this.#largestGain();
    // Seven σ of noise: beyond it one sample in 10^11.
    const most = sum + Math.abs(this.signal.mean) + 7 * this.noiseRms;
    for (const clip of clips) {
      if (clip.level >= most) continue;
      const bound = (4 / Math.PI) * (most - clip.level);
      this.spoilt.push({ ...clip, bound, isEdgeOnly: false, kind: "clip" });
    }
  }

  /** The functional test's tone, of a phase of its own, stands in place of the signal. */
  #spoilByTests(scene: Scene, amplitudePk: number): void {
    const bound = (4 / Math.PI) * amplitudePk;
    for (const [i, row] of scene.inputs.entries()) {
      if (!row.test) continue;
      const untilS = scene.inputs[i + 1]?.timeS ?? Infinity;
      this.spoilt.push({ fromS: row.timeS, untilS, bound, isEdgeOnly: false, kind: "test" });
    }
  }

  #largestGain(): number {
    return this.#gains.reduce((most, row) => Math.max(most, Math.abs(row.value)), 1);
  }

  #spoil(fault: ChannelFault, scene: Scene): void {
    const { kind } = fault;
    if (kind === "loose") {
      const most = Math.max(1, 4 * fault.burstsPerS * fault.lengthS);
      const bound = (4 / Math.PI) * fault.burstPk * most;
      const untilS = fault.untilS + fault.lengthS;
      this.spoilt.push({ fromS: fault.fromS, untilS, bound, isEdgeOnly: false, kind });
    }
    if (kind !== "not-finite" || this.noiseRms === 0) return;
    // The sample that is repeated has a noise of its own.
    const lengthS = fault.samples / scene.profile.sampleRateHz;
    const speeds = scene.shafts.flatMap((shaft) => shaft.speed.map((row) => row.revPerS));
    const share = Math.min(1, lengthS * Math.max(...speeds));
    const bound = 2 * 7 * this.noiseRms * this.#largestGain() * share;
    const { atS } = fault;
    this.spoilt.push({ fromS: atS, untilS: atS + lengthS, bound, isEdgeOnly: false, kind });
  }

  /** All that turns, and what stands: what a vector is made of. */
  get everything(): readonly Carrier[] {
    return this.constant === undefined ? this.carriers : [...this.carriers, this.constant];
  }
}

function plainSignal(carriers: readonly Carrier[], timeS: number): number {
  const at: Complex = { re: 0, im: 0 };
  let x = 0;
  for (const carrier of carriers) {
    carrier.amplitudeAt(timeS, at);
    const turn = carrier.phaseRevAt(timeS);
    const angle = 2 * Math.PI * (turn - Math.round(turn));
    x += at.re * Math.cos(angle) - at.im * Math.sin(angle);
  }
  return x;
}

function amplitudeSum(carriers: readonly Carrier[], timeS: number): number {
  const at: Complex = { re: 0, im: 0 };
  let sum = 0;
  for (const carrier of carriers) {
    carrier.amplitudeAt(timeS, at);
    sum += Math.hypot(at.re, at.im);
  }
  return sum;
}
