// One channel: its carriers with the faults that are known exactly (a changed sensitivity, clipping
// of a lone steady component) in them, and the windows of those that are not.
import type { ChannelFault, ChannelSignal, Scene } from "../scene/scene.ts";
import { carriersOf, jumpTimeS, noiseRmsOf } from "./carriers.ts";
import type { Carrier } from "./carriers.ts";
import type { Complex } from "./complex.ts";
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

/** A factor on the signal from a time on. */
interface GainRow {
  timeS: number;
  factor: number;
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
  readonly #inner: Carrier;
  readonly #gains: GainRow[];
  readonly #clips: { fromS: number; untilS: number; level: number }[];
  readonly #breaks: number[];

  constructor(
    inner: Carrier,
    gains: GainRow[],
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
  }

  amplitudeAt(timeS: number, out: Complex): void {
    this.#inner.amplitudeAt(timeS, out);
    const gain = gainAt(this.#gains, timeS);
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

function gainAt(rows: GainRow[], timeS: number): number {
  let factor = 1;
  for (const row of rows) if (row.timeS <= timeS) factor = row.factor;
  return factor;
}

/** The product of all gains and open leads, as rows. */
function gainRows(faults: ChannelFault[], sampleRateHz: number): GainRow[] {
  const parts = faults.flatMap((fault) => {
    if (fault.kind !== "gain" && fault.kind !== "open") return [];
    return [
      {
        fromS: jumpTimeS(fault.fromS, sampleRateHz),
        untilS: jumpTimeS(fault.untilS, sampleRateHz),
        factor: fault.kind === "gain" ? fault.factor : fault.share,
      },
    ];
  });
  const times = [...new Set(parts.flatMap((part) => [part.fromS, part.untilS]))];
  return times
    .toSorted((a, b) => a - b)
    .map((timeS) => ({
      timeS,
      factor: parts.reduce(
        (product, part) =>
          timeS >= part.fromS && timeS < part.untilS ? product * part.factor : product,
        1,
      ),
    }));
}

export class ChannelTruth {
  readonly signal: ChannelSignal;
  readonly carriers: Carrier[];
  readonly noiseRms: number;
  readonly spoilt: SpoiltWindow[] = [];
  readonly #gains: GainRow[];

  constructor(scene: Scene, channel: number, motions: readonly MotionTruth[]) {
    this.signal = scene.channels[channel]!;
    const profile = scene.profile.channels[channel]!;
    const { sampleRateHz } = scene.profile;
    const { faults, converter } = this.signal;
    const plain = carriersOf(this.signal, profile.quantity, motions, sampleRateHz);
    this.noiseRms = noiseRmsOf(this.signal);
    this.#gains = gainRows(faults, sampleRateHz);
    const clips = faults.flatMap((fault) => {
      if (fault.kind !== "clip") return [];
      const fromS = jumpTimeS(fault.fromS, sampleRateHz);
      return [{ fromS, untilS: jumpTimeS(fault.untilS, sampleRateHz), level: fault.level }];
    });
    if (converter.format === "i16") {
      clips.push({ fromS: -1, untilS: Infinity, level: 32767.5 * converter.step });
    }
    const only = plain.length === 1 ? plain[0] : undefined;
    const isExact = only?.tied !== undefined && this.noiseRms === 0 && this.signal.mean === 0;
    const isAltered = this.#gains.length > 0 || (clips.length > 0 && isExact);
    this.carriers = isAltered
      ? plain.map((one) => new AlteredCarrier(one, this.#gains, isExact ? clips : []))
      : plain;
    if (!isExact) this.#spoilByClips(plain, clips, scene.durationS);
    else for (const clip of clips) this.#boundKinks(clip, plain[0]!, sampleRateHz);
    for (const fault of faults) this.#spoil(fault, sampleRateHz, plain, scene);
    this.#spoilByTests(scene, profile.test.amplitudePk);
  }

  /** Four kinks a period lie between samples: the trapezoid's error there, own derivation. */
  #boundKinks(
    clip: { fromS: number; untilS: number; level: number },
    only: Carrier,
    sampleRateHz: number,
  ): void {
    const timeS = Math.max(clip.fromS, 0);
    const amplitude = amplitudeSum([only], timeS);
    if (clip.level >= amplitude) return;
    const radPerSample = (2 * Math.PI * only.frequencyHzAt(timeS)) / sampleRateHz;
    const bound = (amplitude * radPerSample * radPerSample) / 3;
    this.spoilt.push({ ...clip, bound, isEdgeOnly: false, kind: "clip" });
    // A cycle that is clipped in part only holds up to all of what is cut off.
    const part = (4 / Math.PI) * (amplitude - clip.level);
    this.spoilt.push({ ...clip, bound: part, isEdgeOnly: true, kind: "clip" });
  }

  /** Share of the stated signal and noise that is left at a time. */
  gainAt(timeS: number): number {
    return gainAt(this.#gains, timeS);
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

  /** The functional test's tone is on the channel while the input stands. */
  #spoilByTests(scene: Scene, amplitudePk: number): void {
    const bound = (4 / Math.PI) * amplitudePk;
    for (const [i, row] of scene.inputs.entries()) {
      if (!row.test) continue;
      const untilS = scene.inputs[i + 1]?.timeS ?? Infinity;
      this.spoilt.push({ fromS: row.timeS, untilS, bound, isEdgeOnly: false, kind: "test" });
    }
  }

  #largestGain(): number {
    return this.#gains.reduce((most, row) => Math.max(most, row.factor), 1);
  }

  #spoil(fault: ChannelFault, sampleRateHz: number, plain: readonly Carrier[], scene: Scene): void {
    const fourOverPi = 4 / Math.PI;
    const sum = ChannelTruth.largestSum(plain, scene.durationS) * this.#largestGain();
    const { kind } = fault;
    if (kind === "flat" || kind === "loose" || kind === "bias") {
      const { fromS, untilS } = fault;
      const { mean } = this.signal;
      if (kind === "bias") {
        const bound = fourOverPi * Math.abs(fault.value - mean);
        this.spoilt.push({ fromS, untilS, bound, isEdgeOnly: true, kind });
      } else if (kind === "flat") {
        const bound = fourOverPi * (sum + this.noiseRms * 7 + Math.abs(fault.value - mean));
        this.spoilt.push({ fromS, untilS, bound, isEdgeOnly: false, kind });
      } else {
        const most = Math.max(1, 4 * fault.burstsPerS * fault.lengthS);
        const bound = fourOverPi * fault.burstPk * most;
        const end = untilS + fault.lengthS;
        this.spoilt.push({ fromS, untilS: end, bound, isEdgeOnly: false, kind });
      }
    }
    if (kind === "spike" || kind === "not-finite") {
      const lengthS = fault.samples / sampleRateHz;
      const { atS } = fault;
      // A spike adds its value; a lost sample is off by what the signal moved since the last good
      // one.
      const size = kind === "spike" ? Math.abs(fault.value) : 2 * sum + 7 * this.noiseRms;
      const speeds = scene.shafts.flatMap((shaft) => shaft.speed.map((row) => row.revPerS));
      const bound = 2 * size * Math.min(1, lengthS * Math.max(...speeds));
      this.spoilt.push({ fromS: atS, untilS: atS + lengthS, bound, isEdgeOnly: false, kind });
    }
  }
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
