// The sample loops: a complex amplitude times a rotating phasor, real part added to a buffer. What
// turns stands in local numbers, written out in each loop: kept in an object it takes three times
// as long.
import type { ComplexPolynomial } from "./complex-polynomial.ts";
import type { FrontEnd } from "./front-end.ts";
import { cosineOfRev, sineOfRev } from "./sine.ts";

/** Phase over a range of samples: phase + rate·t + slope·t²/2, revolutions. */
export interface Chirp {
  phaseRev: number;
  ratePerS: number;
  slopePerS2: number;
  /** Time from sample to sample. */
  stepS: number;
}

/** How a phasor turns from one sample to the next, and over four. */
export interface SteadyTurn {
  oneX: number;
  oneY: number;
  fourX: number;
  fourY: number;
}

export function steadyTurn(ratePerS: number, stepS: number): SteadyTurn {
  const turn = ratePerS * stepS;
  return {
    oneX: cosineOfRev(turn),
    oneY: sineOfRev(turn),
    fourX: cosineOfRev(4 * turn),
    fourY: sineOfRev(4 * turn),
  };
}

/**
 * Adds Re[(re + j·im)·e^(j2πphase)] at a steady rate to out[from … until).
 *
 * Four runs of every fourth sample, each by x(n+4) = 2·cos(4·turn)·x(n) − x(n−4): none waits for
 * the other, and the imaginary parts are not needed.
 *
 * Accuracy  rounding grows with the square of the steps at worst: 2e-13 over a chunk
 */
export function addSteady(
  out: Float64Array,
  from: number,
  until: number,
  phaseRev: number,
  turn: SteadyTurn,
  re: number,
  im: number,
): void {
  const { oneX, oneY, fourX, fourY } = turn;
  const c = cosineOfRev(phaseRev);
  const s = sineOfRev(phaseRev);
  let x0 = re * c - im * s;
  const y0 = re * s + im * c;
  let x1 = x0 * oneX - y0 * oneY;
  const y1 = x0 * oneY + y0 * oneX;
  let x2 = x1 * oneX - y1 * oneY;
  const y2 = x1 * oneY + y1 * oneX;
  let x3 = x2 * oneX - y2 * oneY;
  const y3 = x2 * oneY + y2 * oneX;
  // The samples four before these.
  let was0 = x0 * fourX + y0 * fourY;
  let was1 = x1 * fourX + y1 * fourY;
  let was2 = x2 * fourX + y2 * fourY;
  let was3 = x3 * fourX + y3 * fourY;
  const twice = 2 * fourX;
  let i = from;
  for (; i + 4 <= until; i += 4) {
    out[i] = out[i]! + x0;
    out[i + 1] = out[i + 1]! + x1;
    out[i + 2] = out[i + 2]! + x2;
    out[i + 3] = out[i + 3]! + x3;
    const next0 = twice * x0 - was0;
    was0 = x0;
    x0 = next0;
    const next1 = twice * x1 - was1;
    was1 = x1;
    x1 = next1;
    const next2 = twice * x2 - was2;
    was2 = x2;
    x2 = next2;
    const next3 = twice * x3 - was3;
    was3 = x3;
    x3 = next3;
  }
  if (i < until) out[i] = out[i]! + x0;
  if (i + 1 < until) out[i + 1] = out[i + 1]! + x1;
  if (i + 2 < until) out[i + 2] = out[i + 2]! + x2;
}

/** The same with a slope: two phasors, whose turns turn as well. */
export function addChirp(
  out: Float64Array,
  from: number,
  until: number,
  chirp: Chirp,
  re: number,
  im: number,
): void {
  const step = chirp.stepS;
  const bend = chirp.slopePerS2 * step * step;
  const turn = chirp.ratePerS * step + 0.5 * bend;
  const c = cosineOfRev(chirp.phaseRev);
  const s = sineOfRev(chirp.phaseRev);
  const oneX = cosineOfRev(turn);
  const oneY = sineOfRev(turn);
  let x0 = re * c - im * s;
  let y0 = re * s + im * c;
  let x1 = x0 * oneX - y0 * oneY;
  let y1 = x0 * oneY + y0 * oneX;
  // From i to i + 2 the phase grows by 2·turn + bend, from i + 1 by 2·bend more than that … each
  // time by 4·bend.
  let turnX0 = cosineOfRev(2 * turn + bend);
  let turnY0 = sineOfRev(2 * turn + bend);
  let turnX1 = cosineOfRev(2 * turn + 3 * bend);
  let turnY1 = sineOfRev(2 * turn + 3 * bend);
  const bendX = cosineOfRev(4 * bend);
  const bendY = sineOfRev(4 * bend);
  let i = from;
  for (; i + 2 <= until; i += 2) {
    out[i] = out[i]! + x0;
    out[i + 1] = out[i + 1]! + x1;
    const was0 = x0;
    x0 = was0 * turnX0 - y0 * turnY0;
    y0 = was0 * turnY0 + y0 * turnX0;
    const was1 = x1;
    x1 = was1 * turnX1 - y1 * turnY1;
    y1 = was1 * turnY1 + y1 * turnX1;
    const turnWas0 = turnX0;
    turnX0 = turnWas0 * bendX - turnY0 * bendY;
    turnY0 = turnWas0 * bendY + turnY0 * bendX;
    const turnWas1 = turnX1;
    turnX1 = turnWas1 * bendX - turnY1 * bendY;
    turnY1 = turnWas1 * bendY + turnY1 * bendX;
  }
  if (i < until) out[i] = out[i]! + x0;
}

/** A phasor that turns from step to step, and whose turn turns as well. */
export interface TurningPhasor {
  x: number;
  y: number;
  turnX: number;
  turnY: number;
  bendX: number;
  bendY: number;
}

/** (re + j·im)·e^(j2πphase) as it stands when a chirp begins. */
export function turningPhasor(chirp: Chirp, re: number, im: number): TurningPhasor {
  const c = cosineOfRev(chirp.phaseRev);
  const s = sineOfRev(chirp.phaseRev);
  const bend = chirp.slopePerS2 * chirp.stepS * chirp.stepS;
  const turn = chirp.ratePerS * chirp.stepS + 0.5 * bend;
  return {
    x: re * c - im * s,
    y: re * s + im * c,
    turnX: cosineOfRev(turn),
    turnY: sineOfRev(turn),
    bendX: cosineOfRev(bend),
    bendY: sineOfRev(bend),
  };
}

/** Writes e^(j2πphase) at `count` successive steps. */
export function fillPhasor(re: Float64Array, im: Float64Array, count: number, chirp: Chirp): void {
  let { x, y, turnX, turnY, bendX, bendY } = turningPhasor(chirp, 1, 0);
  for (let i = 0; i < count; i += 1) {
    re[i] = x;
    im[i] = y;
    const was = x;
    x = was * turnX - y * turnY;
    y = was * turnY + y * turnX;
    const turnWas = turnX;
    turnX = turnWas * bendX - turnY * bendY;
    turnY = turnWas * bendY + turnY * bendX;
  }
}

/** Adds Re[amplitude(t)·phasor] to out[from … from + count), t from the range's first sample. */
export function addVarying(
  out: Float64Array,
  from: number,
  count: number,
  stepS: number,
  amplitude: ComplexPolynomial,
  re: Float64Array,
  im: Float64Array,
): void {
  const [a0, a1, a2, a3, a4] = amplitude.re as unknown as number[];
  const [b0, b1, b2, b3, b4] = amplitude.im as unknown as number[];
  for (let i = 0; i < count; i += 1) {
    const t = i * stepS;
    const a = a0! + t * (a1! + t * (a2! + t * (a3! + t * a4!)));
    const b = b0! + t * (b1! + t * (b2! + t * (b3! + t * b4!)));
    out[from + i] = out[from + i]! + (a * re[i]! - b * im[i]!);
  }
}

/** Multiplies phasors by a front end, but for its delay, at the frequency of each step. */
export function throughFrontEnd(
  re: Float64Array,
  im: Float64Array,
  count: number,
  frontEnd: FrontEnd,
  chirp: Chirp,
): void {
  for (let i = 0; i < count; i += 1) {
    frontEnd.evaluateWithoutDelay(chirp.ratePerS + chirp.slopePerS2 * (i * chirp.stepS));
    const x = re[i]!;
    const y = im[i]!;
    re[i] = x * frontEnd.re - y * frontEnd.im;
    im[i] = x * frontEnd.im + y * frontEnd.re;
  }
}

/** The chirp through a delay: e^(−j2πf·delay) at the frequency of each step is a chirp again. */
export function delayed(chirp: Chirp, delayS: number): Chirp {
  return {
    ...chirp,
    phaseRev: chirp.phaseRev - chirp.ratePerS * delayS,
    ratePerS: chirp.ratePerS - chirp.slopePerS2 * delayS,
  };
}
