// Each component of a channel as x = Re(c(t)·e^(j2πψ(t))): ψ the phase in revolutions of its own, c
// a complex amplitude in the channel's quantity that changes slowly, the true front end in it.
import type { ChannelSignal, Component, Envelope, Quantity, Response } from "../scene/scene.ts";
import { responseAt, responseKinksHz } from "./channel-response.ts";
import { polar } from "./complex.ts";
import type { Complex } from "./complex.ts";
import { RotorTruth } from "./rotor-amplitude.ts";
import type { MotionTruth } from "./shaft-motion.ts";

const TWO_PI = 2 * Math.PI;

export interface Carrier {
  /** The shaft and order that the phase is tied to; absent: a fixed frequency. */
  readonly tied?: { shaft: number; order: number };
  amplitudeAt(timeS: number, out: Complex): void;
  phaseRevAt(timeS: number): number;
  frequencyHzAt(timeS: number): number;
  /** The next time after this one at which the amplitude jumps or has a kink. */
  breakAfter(timeS: number): number;
  /** Until when the amplitude is what it is now; the time itself where it moves. */
  steadyUntil(timeS: number): number;
  /** The signal itself, where an amplitude does not say all of it within a cycle. */
  rawAt?(timeS: number): number;
  needsRaw?(fromS: number, untilS: number): boolean;
  /** Jumps of the amplitude: time, and how far, in the channel's quantity. */
  readonly jumpTimesS: readonly number[];
  /** The shaft that its phase is tied to turns unevenly within a revolution. */
  readonly hasRipple?: boolean;
}

const RANK: Record<Quantity, number> = {
  displacement: 0,
  velocity: 1,
  acceleration: 2,
  unstated: NaN,
};

/** How often `from` is differentiated to become `to`; negative: integrated. */
export function derivativesBetween(from: Quantity, to: Quantity): number {
  if (from === to) return 0;
  const count = RANK[to] - RANK[from];
  if (Number.isNaN(count)) throw new Error("a quantity that is not stated cannot be converted");
  return count;
}

/**
 * Where a step that is stated for a time takes place among the samples: half a sample before the
 * first sample that has it, which is what a sum over samples sees.
 */
export function jumpTimeS(timeS: number, sampleRateHz: number): number {
  if (timeS <= 0) return timeS;
  return (Math.ceil(timeS * sampleRateHz - 1e-6) - 0.5) / sampleRateHz;
}

class OrderCarrier implements Carrier {
  readonly tied: { shaft: number; order: number };
  readonly jumpTimesS: number[];
  readonly hasRipple: boolean;
  readonly #order: number;
  readonly #motion: MotionTruth;
  readonly #envelope: Envelope;
  readonly #derivatives: number;
  readonly #frontEnd: Response;
  readonly #rows: { timeS: number; value: Complex }[];
  readonly #kinks: number[];

  constructor(
    component: Extract<Component, { kind: "order" }>,
    motion: MotionTruth,
    derivatives: number,
    frontEnd: Response,
    sampleRateHz: number,
  ) {
    this.tied = { shaft: component.shaft, order: component.order };
    this.#order = component.order;
    this.#motion = motion;
    this.hasRipple = motion.hasRipple;
    const { envelope } = component;
    this.#envelope = envelope;
    this.#derivatives = derivatives;
    this.#frontEnd = frontEnd;
    const isSteps = envelope.kind === "steps";
    const rows =
      envelope.kind === "steps" || envelope.kind === "lines"
        ? envelope.rows
        : [{ ...envelope, timeS: 0 }];
    this.#rows = rows.map((row) => ({
      timeS: isSteps ? jumpTimeS(row.timeS, sampleRateHz) : row.timeS,
      value: polar(row.amplitudePk, -row.phaseLagRad),
    }));
    this.jumpTimesS = isSteps ? this.#rows.slice(1).map((row) => row.timeS) : [];
    this.#kinks = responseKinksHz(frontEnd).flatMap((hz) =>
      motion
        .crossings(hz / component.order)
        .slice(1)
        .map(({ timeS }) => timeS),
    );
  }

  /** The stated amplitude and its first two derivatives in time. */
  #envelopeAt(timeS: number): [Complex, Complex, Complex] {
    let i = this.#rows.length - 1;
    while (i > 0 && timeS < this.#rows[i]!.timeS) i -= 1;
    const row = this.#rows[i]!;
    const zero = { re: 0, im: 0 };
    const { value } = row;
    if (this.#envelope.kind === "speed-power") {
      const { power, referenceRevPerS } = this.#envelope;
      const n = this.#motion.meanSpeedAt(timeS) / referenceRevPerS;
      const slope = this.#motion.slopeAt(timeS) / referenceRevPerS;
      const size = power === 0 ? 1 : power === 1 ? n : n * n;
      const first = power === 0 ? 0 : power === 1 ? slope : 2 * n * slope;
      const second = power === 2 ? 2 * slope * slope : 0;
      return [
        { re: value.re * size, im: value.im * size },
        { re: value.re * first, im: value.im * first },
        { re: value.re * second, im: value.im * second },
      ];
    }
    const next = this.#rows[i + 1];
    if (this.#envelope.kind !== "lines" || next === undefined) return [value, zero, zero];
    const spanS = next.timeS - row.timeS;
    const slope = {
      re: (next.value.re - value.re) / spanS,
      im: (next.value.im - value.im) / spanS,
    };
    const t = timeS - row.timeS;
    return [{ re: value.re + t * slope.re, im: value.im + t * slope.im }, slope, zero];
  }

  amplitudeAt(timeS: number, out: Complex): void {
    const [a, a1, a2] = this.#envelopeAt(timeS);
    let { re, im } = a;
    if (this.#derivatives > 0) {
      const rates = this.#motion.ratesAt(timeS);
      const w = TWO_PI * this.#order * rates.speed;
      const dw = TWO_PI * this.#order * rates.slope;
      if (this.#derivatives === 1) {
        // d/dt (a·e^jφ) = (a' + jw·a)·e^jφ
        re = a1.re - w * a.im;
        im = a1.im + w * a.re;
      } else {
        // (a'' + 2jw·a' + (jw' − w²)·a)·e^jφ
        re = a2.re - 2 * w * a1.im - dw * a.im - w * w * a.re;
        im = a2.im + 2 * w * a1.re + dw * a.re - w * w * a.im;
      }
    }
    if (this.#frontEnd.kind !== "none") {
      const h = responseAt(this.#frontEnd, this.frequencyHzAt(timeS));
      const was = re;
      re = was * h.re - im * h.im;
      im = was * h.im + im * h.re;
    }
    out.re = re;
    out.im = im;
  }

  phaseRevAt(timeS: number): number {
    return this.#order * this.#motion.angleAt(timeS);
  }

  frequencyHzAt(timeS: number): number {
    return this.#order * this.#motion.meanSpeedAt(timeS);
  }

  breakAfter(timeS: number): number {
    let next = this.#motion.cornerAfter(timeS);
    for (const row of this.#rows) if (row.timeS > timeS) next = Math.min(next, row.timeS);
    for (const kink of this.#kinks) if (kink > timeS) next = Math.min(next, kink);
    return next;
  }

  steadyUntil(timeS: number): number {
    const isSpeedInIt =
      this.#derivatives > 0 ||
      this.#frontEnd.kind !== "none" ||
      (this.#envelope.kind === "speed-power" && this.#envelope.power !== 0);
    const isMoving =
      this.#motion.slopeAt(timeS) !== 0 || (this.#motion.hasRipple && this.#derivatives > 0);
    if (isSpeedInIt && isMoving) return timeS;
    let next = isSpeedInIt ? this.#motion.cornerAfter(timeS) : Infinity;
    if (this.#envelope.kind === "lines" && timeS < (this.#rows.at(-1)?.timeS ?? 0)) {
      const [, slope] = this.#envelopeAt(timeS);
      if (slope.re !== 0 || slope.im !== 0) return timeS;
    }
    for (const row of this.#rows) if (row.timeS > timeS) next = Math.min(next, row.timeS);
    return next;
  }
}

class ToneCarrier implements Carrier {
  readonly jumpTimesS: number[] = [];
  readonly #frequencyHz: number;
  readonly #amplitude: Complex;

  constructor(tone: Extract<Component, { kind: "tone" }>, derivatives: number, frontEnd: Response) {
    this.#frequencyHz = tone.frequencyHz;
    const h = responseAt(frontEnd, tone.frequencyHz);
    const size = tone.amplitudePk * (TWO_PI * tone.frequencyHz) ** derivatives;
    const value = polar(size, -tone.phaseLagRad + (derivatives * Math.PI) / 2);
    this.#amplitude = {
      re: value.re * h.re - value.im * h.im,
      im: value.re * h.im + value.im * h.re,
    };
  }

  amplitudeAt(_timeS: number, out: Complex): void {
    out.re = this.#amplitude.re;
    out.im = this.#amplitude.im;
  }

  phaseRevAt(timeS: number): number {
    return this.#frequencyHz * timeS;
  }

  frequencyHzAt(): number {
    return this.#frequencyHz;
  }

  breakAfter(): number {
    return Infinity;
  }

  steadyUntil(): number {
    return Infinity;
  }
}

class RotorCarrier implements Carrier {
  readonly tied: { shaft: number; order: number };
  readonly jumpTimesS: readonly number[];
  readonly hasRipple: boolean;
  readonly #rotor: RotorTruth;
  readonly #motion: MotionTruth;
  readonly #derivatives: number;
  readonly #frontEnd: Response;

  constructor(
    component: Extract<Component, { kind: "rotor" }>,
    motion: MotionTruth,
    derivatives: number,
    frontEnd: Response,
    sampleRateHz: number,
  ) {
    this.tied = { shaft: component.shaft, order: 1 };
    this.#rotor = new RotorTruth(component, motion, (timeS) => jumpTimeS(timeS, sampleRateHz));
    this.jumpTimesS = derivatives === 2 ? this.#rotor.jumpTimesS : [];
    this.hasRipple = motion.hasRipple;
    this.#motion = motion;
    this.#derivatives = derivatives;
    this.#frontEnd = frontEnd;
  }

  amplitudeAt(timeS: number, out: Complex): void {
    this.#rotor.amplitudeAt(timeS, this.#derivatives, out);
    if (this.#frontEnd.kind === "none") return;
    const h = responseAt(this.#frontEnd, this.frequencyHzAt(timeS));
    const was = out.re;
    out.re = was * h.re - out.im * h.im;
    out.im = was * h.im + out.im * h.re;
  }

  phaseRevAt(timeS: number): number {
    return this.#motion.angleAt(timeS);
  }

  frequencyHzAt(timeS: number): number {
    return this.#motion.meanSpeedAt(timeS);
  }

  breakAfter(timeS: number): number {
    return this.#rotor.breakAfter(timeS);
  }

  steadyUntil(timeS: number): number {
    return this.#rotor.steadyUntil(timeS);
  }
}

/** The carriers of a channel; noise is none and enters the tolerance only. */
export function carriersOf(
  signal: ChannelSignal,
  quantity: Quantity,
  motions: readonly MotionTruth[],
  sampleRateHz: number,
): Carrier[] {
  const carriers: Carrier[] = [];
  for (const component of signal.components) {
    if (component.kind === "noise") continue;
    const stated = component.kind === "rotor" ? "displacement" : component.quantity;
    const derivatives = derivativesBetween(stated, quantity);
    if (derivatives < 0) {
      throw new Error(`a component in ${stated} cannot be made for a channel in ${quantity}`);
    }
    const { frontEnd } = signal;
    if (component.kind === "tone") {
      carriers.push(new ToneCarrier(component, derivatives, frontEnd));
    } else {
      const motion = motions[component.shaft]!;
      carriers.push(
        component.kind === "order"
          ? new OrderCarrier(component, motion, derivatives, frontEnd, sampleRateHz)
          : new RotorCarrier(component, motion, derivatives, frontEnd, sampleRateHz),
      );
    }
  }
  return carriers;
}

/** Root mean square of all white noise of a channel, its own quantity. */
export function noiseRmsOf(signal: ChannelSignal): number {
  let square = 0;
  for (const one of signal.components) if (one.kind === "noise") square += one.rms * one.rms;
  return Math.sqrt(square);
}
