// A component at an order of a shaft, in whatever quantity it is stated.
import type { Envelope } from "../scene/scene.ts";
import { differentiate, polynomial, scale } from "./complex-polynomial.ts";
import { EnvelopeCursor } from "./envelope.ts";
import type { FrontEnd } from "./front-end.ts";
import {
  addChirp,
  addSteady,
  addVarying,
  delayed,
  fillPhasor,
  steadyTurn,
  throughFrontEnd,
} from "./phasor-sum.ts";
import type { Chirp, SteadyTurn } from "./phasor-sum.ts";
import { RippleView } from "./ripple.ts";
import type { ShaftState } from "./shaft-angle.ts";
import type { ShaftSpan, ShaftTrack } from "./shaft-track.ts";
import { cosineOfRev, sineOfRev, TWO_PI } from "./sine.ts";
import type { SignalSource } from "./source.ts";
import { fractionOfProduct } from "./two-part.ts";

export class OrderSource implements SignalSource {
  readonly #order: number;
  readonly #envelope: EnvelopeCursor;
  readonly #derivatives: number;
  readonly #frontEnd: FrontEnd;
  readonly #track: ShaftTrack;
  readonly #rateHz: number;
  readonly #amplitude = polynomial();
  readonly #ripple: RippleView;
  /** At a steady speed: amplitude and turn, and the speed and row that they belong to. */
  #steady: { re: number; im: number; turn: SteadyTurn; revPerS: number; row: number } | undefined;

  constructor(
    component: { order: number; envelope: Envelope },
    derivatives: number,
    frontEnd: FrontEnd,
    track: ShaftTrack,
    sampleRateHz: number,
  ) {
    this.#order = component.order;
    this.#envelope = new EnvelopeCursor(component.envelope, sampleRateHz);
    this.#derivatives = derivatives;
    this.#frontEnd = frontEnd;
    this.#track = track;
    this.#rateHz = sampleRateHz;
    this.#ripple = new RippleView(track.ripple);
  }

  add(chunkFirst: number, count: number, out: Float64Array): void {
    this.#track.prepare(chunkFirst, count);
    for (const span of this.#track.spans) {
      let from = span.from;
      while (from < span.until) {
        const next = this.#envelope.moveTo(chunkFirst + from) - chunkFirst;
        const until = Math.min(span.until, next);
        this.#addRange(out, chunkFirst, from, until, span);
        from = until;
      }
    }
  }

  /** One stretch of samples within a row of the speed and a row of the envelope. */
  #addRange(
    out: Float64Array,
    chunkFirst: number,
    from: number,
    until: number,
    span: ShaftSpan,
  ): void {
    const isFirst = from === span.from;
    const state = isFirst ? span.state : this.#track.stateAt(span, chunkFirst + from);
    const phaseRev = fractionOfProduct(this.#order, state.rev);
    const isRippled = this.#track.ripple.length > 0;
    if (state.revPerS2 === 0 && !this.#envelope.isMoving && !isRippled) {
      const { turn, re, im } = this.#steadyAt(state);
      addSteady(from, until, phaseRev, turn, re, im);
      return;
    }
    const timeS = isFirst ? span.timeS : this.#track.timeOf(chunkFirst + from).hi;
    const amplitude = this.#amplitude;
    this.#envelope.write(amplitude, timeS, state);
    const chirp: Chirp = {
      phaseRev,
      ratePerS: this.#order * state.revPerS,
      slopePerS2: this.#order * state.revPerS2,
      stepS: 1 / this.#rateHz,
    };
    if (isRippled) this.#addRippled(out, from, until, state, chirp);
    else this.#addMoving(from, until, chirp);
  }

  /** Amplitude and turn at a speed that stays; an envelope that does not move needs no time. */
  #steadyAt(state: ShaftState): { re: number; im: number; turn: SteadyTurn } {
    const { row } = this.#envelope;
    const known = this.#steady;
    if (known?.revPerS === state.revPerS && known.row === row) return known;
    const amplitude = this.#amplitude;
    this.#envelope.write(amplitude, 0, state);
    const ratePerS = this.#order * state.revPerS;
    for (let i = 0; i < this.#derivatives; i += 1) differentiate(amplitude, TWO_PI * ratePerS, 0);
    if (!this.#frontEnd.isNone) {
      this.#frontEnd.evaluate(ratePerS);
      scale(amplitude, this.#frontEnd.re, this.#frontEnd.im);
    }
    this.#steady = {
      re: amplitude.re[0]!,
      im: amplitude.im[0]!,
      turn: steadyTurn(ratePerS, 1 / this.#rateHz),
      revPerS: state.revPerS,
      row,
    };
    return this.#steady;
  }

  /** Speed or amplitude move. */
  #addMoving(from: number, until: number, chirp: Chirp): void {
    const amplitude = this.#amplitude;
    for (let i = 0; i < this.#derivatives; i += 1) {
      differentiate(amplitude, TWO_PI * chirp.ratePerS, TWO_PI * chirp.slopePerS2);
    }
    const isSteadyThrough = this.#frontEnd.isNone || chirp.slopePerS2 === 0;
    if (isSteadyThrough && !this.#frontEnd.isNone) {
      this.#frontEnd.evaluate(chirp.ratePerS);
      scale(amplitude, this.#frontEnd.re, this.#frontEnd.im);
    }
    if (isSteadyThrough && amplitude.degree === 0) {
      addChirp(from, until, chirp, amplitude.re[0]!, amplitude.im[0]!);
      return;
    }
    const count = until - from;
    if (isSteadyThrough) {
      fillPhasor(count, chirp);
    } else {
      fillPhasor(count, delayed(chirp, this.#frontEnd.delayS));
      throughFrontEnd(count, this.#frontEnd, chirp);
    }
    addVarying(from, count, chirp.stepS, amplitude);
  }

  /** The same, sample by sample, where the true angle is not a quadratic of time. */
  #addRippled(
    out: Float64Array,
    from: number,
    until: number,
    state: ShaftState,
    chirp: Chirp,
  ): void {
    const count = until - from;
    const view = this.#ripple;
    const moving = polynomial();
    const order = this.#order;
    view.anchor(state.rev);
    for (let i = 0; i < count; i += 1) {
      const t = i * chirp.stepS;
      const beyondRev = t * (state.revPerS + 0.5 * state.revPerS2 * t);
      const speed = state.revPerS + state.revPerS2 * t;
      view.move(beyondRev);
      const phase = chirp.phaseRev + order * (beyondRev + view.addedRev);
      this.#shift(moving, t);
      const rate = order * speed * view.slope;
      const slope = order * (state.revPerS2 * view.slope + speed * speed * view.bend);
      for (let n = 0; n < this.#derivatives; n += 1) {
        differentiate(moving, TWO_PI * rate, TWO_PI * slope);
      }
      this.#frontEnd.evaluate(order * speed);
      scale(moving, this.#frontEnd.re, this.#frontEnd.im);
      const x = moving.re[0]! * cosineOfRev(phase) - moving.im[0]! * sineOfRev(phase);
      out[from + i] = out[from + i]! + x;
    }
  }

  /** The amplitude's polynomial (second degree) about a later time. */
  #shift(into: { re: Float64Array; im: Float64Array; degree: number }, t: number): void {
    const { re, im } = this.#amplitude;
    into.re[3] = 0;
    into.im[3] = 0;
    into.re[4] = 0;
    into.im[4] = 0;
    into.re[0] = re[0]! + t * (re[1]! + t * re[2]!);
    into.im[0] = im[0]! + t * (im[1]! + t * im[2]!);
    into.re[1] = re[1]! + 2 * t * re[2]!;
    into.im[1] = im[1]! + 2 * t * im[2]!;
    into.re[2] = re[2]!;
    into.im[2] = im[2]!;
    into.degree = 2;
  }
}
