// A rotor with one unbalance vector on one mode, as the channel measures it.
import { GAUSS_POINTS, Mode, STEP_RAD_MAX } from "../rotor/mode.ts";
import type { Transition } from "../rotor/mode.ts";
import type { Component } from "../scene/scene.ts";
import { phasorOf } from "./envelope.ts";
import type { FrontEnd } from "./front-end.ts";
import { RippleView } from "./ripple.ts";
import { RotatingForce } from "./rotating-force.ts";
import { CHUNK_SAMPLES, RowCursor, sampleFrom } from "./sample-clock.ts";
import { stateInPiece } from "./shaft-angle.ts";
import type { ShaftState } from "./shaft-angle.ts";
import type { ShaftTrack } from "./shaft-track.ts";
import { cosineOfRev, sineOfRev, TWO_PI } from "./sine.ts";
import type { SignalSource } from "./source.ts";
import { fractionPart, twoPart } from "./two-part.ts";

type Rotor = Extract<Component, { kind: "rotor" }>;

/** A break of the force this share of a sample from one counts as on it. */
const BREAK_GUARD = 2e-6;

export class RotorSource implements SignalSource {
  readonly #rotor: Rotor;
  readonly #vectors: { re: number; im: number }[];
  readonly #rows: RowCursor;
  readonly #mode: Mode;
  readonly #frontEnd: FrontEnd;
  readonly #track: ShaftTrack;
  readonly #rateHz: number;
  readonly #steps: number;
  readonly #transition: Transition;
  readonly #force: RotatingForce;
  readonly #nodes: { re: Float64Array; im: Float64Array };
  readonly #now = { re: new Float64Array(CHUNK_SAMPLES), im: new Float64Array(CHUNK_SAMPLES) };
  /** Times between two samples at which the force breaks, ascending. */
  readonly #breaksS: number[];
  #break = 0;
  readonly #reading: { re: number; im: number; forceShare: number };
  readonly #history = new Float64Array(4 * CHUNK_SAMPLES);

  constructor(
    rotor: Rotor,
    derivative: number,
    frontEnd: FrontEnd,
    track: ShaftTrack,
    sampleRateHz: number,
  ) {
    const first = rotor.unbalance[0];
    if (first === undefined || first.timeS !== 0) throw new Error("unbalance starts at time 0");
    if (!(rotor.modalMassKg > 0)) throw new Error("a rotor needs a modal mass over 0");
    this.#rotor = rotor;
    this.#vectors = rotor.unbalance.map((row) =>
      phasorOf(row.kgM / rotor.modalMassKg, row.angleRad),
    );
    const times = rotor.unbalance.map((row) => row.timeS);
    this.#rows = new RowCursor(times, sampleRateHz);
    this.#mode = new Mode(TWO_PI * rotor.naturalHz, rotor.dampingRatio);
    this.#reading = this.#mode.reading(derivative);
    this.#frontEnd = frontEnd;
    this.#track = track;
    this.#rateHz = sampleRateHz;
    let fastest = 0;
    for (const piece of track.pieces) fastest = Math.max(fastest, piece.revPerS);
    for (const one of track.ripple) fastest *= 1 + TWO_PI * one.order * Math.abs(one.amplitudeRev);
    const turned = (TWO_PI * fastest + this.#mode.naturalRadPerS) / sampleRateHz;
    this.#steps = Math.ceil(turned / STEP_RAD_MAX);
    this.#transition = this.#mode.transition(1 / sampleRateHz / this.#steps);
    const count = CHUNK_SAMPLES * this.#steps;
    this.#force = new RotatingForce(track.ripple);
    this.#nodes = { re: new Float64Array(3 * count), im: new Float64Array(3 * count) };
    this.#breaksS = [...times, ...track.pieces.map((piece) => piece.startS)]
      .filter((timeS) => sampleFrom(timeS, sampleRateHz) - timeS * sampleRateHz > BREAK_GUARD)
      .sort((a, b) => a - b);
    this.#settle();
  }

  add(chunkFirst: number, count: number, out: Float64Array): void {
    this.#track.prepare(chunkFirst, count);
    for (const span of this.#track.spans) {
      let from = span.from;
      while (from < span.until) {
        const sample = chunkFirst + from;
        const row = this.#rows.rowAt(sample);
        const breakS = this.#breaksS[this.#break] ?? Infinity;
        const broken = breakS === Infinity ? Infinity : sampleFrom(breakS, this.#rateHz) - 1;
        const isBroken = broken === sample;
        const until = isBroken
          ? from + 1
          : Math.min(span.until, this.#rows.nextStart - chunkFirst, broken - chunkFirst);
        const state = from === span.from ? span.state : this.#track.stateAt(span, sample);
        this.#addRun(out, from, until, state, this.#vectors[row]!, isBroken);
        if (isBroken) this.#stepAcrossBreaks(sample);
        from = until;
      }
    }
  }

  /** Samples from … until − 1; the mode is left at the sample `until`, unless told to stay. */
  #addRun(
    out: Float64Array,
    from: number,
    until: number,
    state: ShaftState,
    vector: { re: number; im: number },
    stays: boolean,
  ): void {
    const count = until - from;
    const sampleS = 1 / this.#rateHz;
    const reading = this.#reading;
    if (reading.forceShare !== 0) {
      const samples = { afterS: 0, stepS: sampleS, count };
      this.#force.write(state, vector, samples, { ...this.#now, at: 0, stride: 1 });
    }
    if (!stays) this.#writeNodes(state, vector, this.#transition.stepS, count * this.#steps);
    const steps = stays ? 0 : this.#steps;
    const { re, im } = this.#nodes;
    this.#mode.run(this.#transition, re, im, steps, count, this.#history);
    if (this.#frontEnd.isNone) this.#addMeasured(out, from, count);
    else this.#addThroughFrontEnd(out, from, count, state);
  }

  #addMeasured(out: Float64Array, from: number, count: number): void {
    const { re, im, forceShare } = this.#reading;
    const history = this.#history;
    const now = this.#now.re;
    for (let i = 0; i < count; i += 1) {
      const x = re * history[4 * i + 1]! + im * history[4 * i]! + forceShare * now[i]!;
      out[from + i] = out[from + i]! + x;
    }
  }

  #addThroughFrontEnd(out: Float64Array, from: number, count: number, state: ShaftState): void {
    const { re, im, forceShare } = this.#reading;
    const history = this.#history;
    const frontEnd = this.#frontEnd;
    const now = this.#now;
    for (let i = 0; i < count; i += 1) {
      const x = re * history[4 * i + 1]! + im * history[4 * i]! + forceShare * now.re[i]!;
      const y = re * history[4 * i + 3]! + im * history[4 * i + 2]! + forceShare * now.im[i]!;
      frontEnd.evaluate(state.revPerS + state.revPerS2 * (i / this.#rateHz));
      out[from + i] = out[from + i]! + (x * frontEnd.re - y * frontEnd.im);
    }
  }

  /** The force at the Gauss points of `count` steps. */
  #writeNodes(
    state: ShaftState,
    vector: { re: number; im: number },
    stepS: number,
    count: number,
  ): void {
    const { re, im } = this.#nodes;
    for (let i = 0; i < GAUSS_POINTS.length; i += 1) {
      const times = { afterS: GAUSS_POINTS[i]! * stepS, stepS, count };
      this.#force.write(state, vector, times, { re, im, at: i, stride: 3 });
    }
  }

  /** From a sample to the next, where speed or unbalance break in between. */
  #stepAcrossBreaks(sample: number): void {
    const endS = (sample + 1) / this.#rateHz;
    let atS = sample / this.#rateHz;
    while (atS < endS) {
      const breakS = this.#breaksS[this.#break] ?? Infinity;
      const untilS = Math.min(breakS, endS);
      if (untilS > atS) this.#stepWithin(atS, untilS);
      if (breakS < endS) this.#break += 1;
      atS = untilS;
    }
  }

  #stepWithin(fromS: number, untilS: number): void {
    const middleS = 0.5 * (fromS + untilS);
    const piece = this.#track.pieces.findLast((one) => one.startS <= middleS)!;
    const row = this.#rotor.unbalance.findLastIndex((one) => one.timeS <= middleS);
    const state = stateInPiece(piece, twoPart(fromS));
    const by = this.#mode.transition((untilS - fromS) / this.#steps);
    this.#writeNodes(state, this.#vectors[row]!, by.stepS, this.#steps);
    this.#mode.run(by, this.#nodes.re, this.#nodes.im, this.#steps, 1, this.#history);
  }

  /** Starts in the steady state of the first smooth speed, which turns with the true angle. */
  #settle(): void {
    const first = this.#track.pieces[0]!;
    const ripple = new RippleView(this.#track.ripple);
    ripple.anchor(first.startRev);
    ripple.move(0);
    const omega = TWO_PI * first.revPerS;
    const phase = fractionPart(first.startRev) + ripple.addedRev;
    const c = omega * omega * cosineOfRev(phase);
    const s = omega * omega * sineOfRev(phase);
    const { re, im } = this.#vectors[0]!;
    const force = { re: re * c - im * s, im: re * s + im * c };
    this.#mode.settle(force, omega, omega * ripple.slope);
  }
}
