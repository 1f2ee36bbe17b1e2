// The sample loops: a complex amplitude times a rotating phasor, real part added to a buffer.
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

/** Adds Re[(re + j·im)·e^(j2πphase)] to out[from … until). */
export function addSteady(
  out: Float64Array,
  from: number,
  until: number,
  chirp: Chirp,
  re: number,
  im: number,
): void {
  const cosine = cosineOfRev(chirp.phaseRev);
  const sine = sineOfRev(chirp.phaseRev);
  let x = re * cosine - im * sine;
  let y = re * sine + im * cosine;
  const bend = chirp.slopePerS2 * chirp.stepS * chirp.stepS;
  const turn = chirp.ratePerS * chirp.stepS + 0.5 * bend;
  let turnX = cosineOfRev(turn);
  let turnY = sineOfRev(turn);
  if (bend === 0) {
    for (let i = from; i < until; i += 1) {
      out[i] = out[i]! + x;
      const was = x;
      x = was * turnX - y * turnY;
      y = was * turnY + y * turnX;
    }
    return;
  }
  const bendX = cosineOfRev(bend);
  const bendY = sineOfRev(bend);
  for (let i = from; i < until; i += 1) {
    out[i] = out[i]! + x;
    const was = x;
    x = was * turnX - y * turnY;
    y = was * turnY + y * turnX;
    const turnWas = turnX;
    turnX = turnWas * bendX - turnY * bendY;
    turnY = turnWas * bendY + turnY * bendX;
  }
}

/** Writes e^(j2πphase) at `count` successive steps. */
export function fillPhasor(re: Float64Array, im: Float64Array, count: number, chirp: Chirp): void {
  let x = cosineOfRev(chirp.phaseRev);
  let y = sineOfRev(chirp.phaseRev);
  const bend = chirp.slopePerS2 * chirp.stepS * chirp.stepS;
  const turn = chirp.ratePerS * chirp.stepS + 0.5 * bend;
  let turnX = cosineOfRev(turn);
  let turnY = sineOfRev(turn);
  const bendX = cosineOfRev(bend);
  const bendY = sineOfRev(bend);
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

/** Multiplies phasors by a front end at the frequency of each step. */
export function throughFrontEnd(
  re: Float64Array,
  im: Float64Array,
  count: number,
  frontEnd: FrontEnd,
  chirp: Chirp,
): void {
  for (let i = 0; i < count; i += 1) {
    frontEnd.evaluate(chirp.ratePerS + chirp.slopePerS2 * (i * chirp.stepS));
    const x = re[i]!;
    const y = im[i]!;
    re[i] = x * frontEnd.re - y * frontEnd.im;
    im[i] = x * frontEnd.im + y * frontEnd.re;
  }
}
