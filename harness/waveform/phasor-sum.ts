// A complex amplitude times a rotating phasor, real part added to the kernel's chunk: where each
// loop starts and how it turns. The loops themselves are the kernel's.
import type { ComplexPolynomial } from "./complex-polynomial.ts";
import type { FrontEnd } from "./front-end.ts";
import { sampleKernel } from "./sample-kernel.ts";
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
 * Adds Re[(re + j·im)·e^(j2πphase)] at a steady rate to the chunk's samples [from, until).
 *
 * Accuracy  rounding grows with the square of the steps at worst: 2e-13 over a chunk
 */
export function addSteady(
  from: number,
  until: number,
  phaseRev: number,
  turn: SteadyTurn,
  re: number,
  im: number,
): void {
  const { oneX, oneY, fourX, fourY } = turn;
  sampleKernel().loops.addSteady(from, until, phaseRev, re, im, oneX, oneY, fourX, fourY);
}

/** The same with a slope: two phasors, whose turns turn as well. */
export function addChirp(from: number, until: number, chirp: Chirp, re: number, im: number): void {
  const step = chirp.stepS;
  const bend = chirp.slopePerS2 * step * step;
  const turn = chirp.ratePerS * step + 0.5 * bend;
  const c = cosineOfRev(chirp.phaseRev);
  const s = sineOfRev(chirp.phaseRev);
  const oneX = cosineOfRev(turn);
  const oneY = sineOfRev(turn);
  const x0 = re * c - im * s;
  const y0 = re * s + im * c;
  sampleKernel().loops.addChirp(
    from,
    until,
    cosineOfRev(4 * bend),
    sineOfRev(4 * bend),
    x0,
    y0,
    x0 * oneX - y0 * oneY,
    x0 * oneY + y0 * oneX,
    // From i to i + 2 the phase grows by 2·turn + bend, from i + 1 by 2·bend more than that … each
    // time by 4·bend.
    cosineOfRev(2 * turn + bend),
    sineOfRev(2 * turn + bend),
    cosineOfRev(2 * turn + 3 * bend),
    sineOfRev(2 * turn + 3 * bend),
  );
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

/** Writes e^(j2πphase) at `count` successive steps to the kernel's phasor. */
export function fillPhasor(count: number, chirp: Chirp): void {
  const { x, y, turnX, turnY, bendX, bendY } = turningPhasor(chirp, 1, 0);
  sampleKernel().loops.fillPhasor(count, x, y, turnX, turnY, bendX, bendY);
}

/**
 * Adds Re[amplitude(t)·phasor] to the chunk's samples [from, from + count), t from the first on.
 */
export function addVarying(
  from: number,
  count: number,
  stepS: number,
  amplitude: ComplexPolynomial,
): void {
  const [a0, a1, a2, a3, a4] = amplitude.re as unknown as number[];
  const [b0, b1, b2, b3, b4] = amplitude.im as unknown as number[];
  const { loops } = sampleKernel();
  loops.addVarying(from, count, stepS, a0!, a1!, a2!, a3!, a4!, b0!, b1!, b2!, b3!, b4!);
}

/** Multiplies the kernel's phasor by a front end, but for its delay, at the frequency of each step. */
export function throughFrontEnd(count: number, frontEnd: FrontEnd, chirp: Chirp): void {
  const { re, im } = sampleKernel();
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
