// One unbalance vector on one mode, as a complex amplitude z in the frame that turns with the
// shaft: x = Re(z·e^(j2πθ)). With Ω = 2πθ̇ and the unbalance vector u = U·e^(−j·angle) over the
// modal mass,
//   z̈ + 2(ζωn + jΩ)·ż + (ωn² − Ω² + jΩ̇ + 2jζωnΩ)·z = (u/M)·(Ω² − jΩ̇)
// is the equation of motion itself: nothing is taken to be slow. Closed form at constant speed,
// otherwise Gauss collocation of order 8.
import type { Component } from "../scene/scene.ts";
import { over, polar, scaled, times } from "./complex.ts";
import type { Complex } from "./complex.ts";
import { gaussLegendre } from "./filon.ts";
import type { MotionTruth } from "./shaft-motion.ts";

type Rotor = Extract<Component, { kind: "rotor" }>;

export interface RotorState {
  timeS: number;
  /** Amplitude and its derivative in time: m, m/s. */
  z: Complex;
  v: Complex;
}

const TWO_PI = 2 * Math.PI;
const STAGES = 4;
/** (Ω + ωn)·step: the error of a step is under 1e-12 of the free motion there. */
const STEP_RAD = 0.7;
/** States that are remembered, so that times may step back by a few cycles. */
const KEPT_STATES = 600;

const NODES = Array.from(gaussLegendre(STAGES).nodes, (x) => 0.5 * (1 + x));
const WEIGHTS = Array.from(gaussLegendre(STAGES).weights, (w) => 0.5 * w);

function same(timeS: number): number {
  return timeS;
}

/** ∫ of the Lagrange polynomials up to each node: the collocation matrix. */
function collocationMatrix(): number[][] {
  return NODES.map((c) =>
    NODES.map((_, j) => {
      let sum = 0;
      for (let q = 0; q < STAGES; q += 1) {
        const x = c * NODES[q]!;
        let lagrange = 1;
        for (let i = 0; i < STAGES; i += 1) {
          if (i !== j) lagrange *= (x - NODES[i]!) / (NODES[j]! - NODES[i]!);
        }
        sum += WEIGHTS[q]! * lagrange;
      }
      return c * sum;
    }),
  );
}

const A = collocationMatrix();
const A_TWICE = A.map((row) =>
  NODES.map((_, j) => row.reduce((sum, a, i) => sum + a * A[i]![j]!, 0)),
);
const B_ONCE = NODES.map((_, j) => WEIGHTS.reduce((sum, b, i) => sum + b * A[i]![j]!, 0));

const WIDTH = STAGES + 1;

/**
 * Solves the stages' linear system: rows of STAGES + 1 complex numbers, the answers in the last.
 */
function solve(re: Float64Array, im: Float64Array): void {
  for (let p = 0; p < STAGES; p += 1) {
    const pp = p * WIDTH + p;
    const power = re[pp]! * re[pp]! + im[pp]! * im[pp]!;
    for (let r = p + 1; r < STAGES; r += 1) {
      const rp = r * WIDTH + p;
      const fRe = (re[rp]! * re[pp]! + im[rp]! * im[pp]!) / power;
      const fIm = (im[rp]! * re[pp]! - re[rp]! * im[pp]!) / power;
      for (let c = p + 1; c < WIDTH; c += 1) {
        const pRe = re[p * WIDTH + c]!;
        const pIm = im[p * WIDTH + c]!;
        const at = r * WIDTH + c;
        re[at] = re[at]! - (fRe * pRe - fIm * pIm);
        im[at] = im[at]! - (fRe * pIm + fIm * pRe);
      }
    }
  }
  for (let p = STAGES - 1; p >= 0; p -= 1) {
    const last = p * WIDTH + STAGES;
    let x = re[last]!;
    let y = im[last]!;
    for (let c = p + 1; c < STAGES; c += 1) {
      const at = p * WIDTH + c;
      const kRe = re[c * WIDTH + STAGES]!;
      const kIm = im[c * WIDTH + STAGES]!;
      x -= re[at]! * kRe - im[at]! * kIm;
      y -= re[at]! * kIm + im[at]! * kRe;
    }
    const pp = p * WIDTH + p;
    const power = re[pp]! * re[pp]! + im[pp]! * im[pp]!;
    re[last] = (x * re[pp]! + y * im[pp]!) / power;
    im[last] = (y * re[pp]! - x * im[pp]!) / power;
  }
}

export class RotorTruth {
  readonly #rotor: Rotor;
  readonly #motion: MotionTruth;
  readonly #naturalRadPerS: number;
  readonly #zeta: number;
  readonly #rows: { timeS: number; perMass: Complex }[];
  readonly #jumps: number[];
  #kept: RotorState[] = [];
  readonly #start: RotorState;
  readonly #re = new Float64Array(STAGES * WIDTH);
  readonly #im = new Float64Array(STAGES * WIDTH);

  /**
   * `jumpTime`: a step of the unbalance is in the measured acceleration at once, and a sum over
   * samples sees that half a sample early; the motion itself is continuous.
   */
  constructor(rotor: Rotor, motion: MotionTruth, jumpTime: (timeS: number) => number = same) {
    this.#rotor = rotor;
    this.#jumps = rotor.unbalance.map((row) => jumpTime(row.timeS));
    this.#motion = motion;
    this.#naturalRadPerS = TWO_PI * rotor.naturalHz;
    this.#zeta = rotor.dampingRatio;
    this.#rows = rotor.unbalance.map((row) => ({
      timeS: row.timeS,
      perMass: polar(row.kgM / rotor.modalMassKg, -row.angleRad),
    }));
    if (this.#rows.length === 0) throw new Error("a rotor needs a row of unbalance");
    const speed = TWO_PI * motion.meanSpeedAt(0);
    const z = this.#steady(speed, this.#rows[0]!.perMass);
    this.#start = { timeS: 0, z, v: { re: 0, im: 0 } };
  }

  #perMassAt(timeS: number): Complex {
    let i = this.#rows.length - 1;
    while (i > 0 && timeS < this.#rows[i]!.timeS) i -= 1;
    return this.#rows[i]!.perMass;
  }

  /** The next time after this one at which unbalance or slope of speed changes. */
  breakAfter(timeS: number): number {
    let next = this.#motion.cornerAfter(timeS);
    for (const row of this.#rows) if (row.timeS > timeS) next = Math.min(next, row.timeS);
    for (const jump of this.#jumps) if (jump > timeS) next = Math.min(next, jump);
    return next;
  }

  /** Times at which the acceleration jumps. */
  get jumpTimesS(): number[] {
    return this.#jumps.slice(1);
  }

  #steady(radPerS: number, perMass: Complex): Complex {
    const wn = this.#naturalRadPerS;
    const square = radPerS * radPerS;
    return over(scaled(perMass, square), {
      re: wn * wn - square,
      im: 2 * this.#zeta * wn * radPerS,
    });
  }

  /** State at a time; times may step back a little, within the states that are kept. */
  stateAt(timeS: number): RotorState {
    const kept = this.#kept;
    let low = 0;
    let high = kept.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (kept[middle]!.timeS <= timeS) low = middle + 1;
      else high = middle;
    }
    let state = low > 0 ? kept[low - 1]! : this.#start;
    if (state.timeS === timeS) return state;
    while (state.timeS < timeS) {
      state = this.#advance(state, Math.min(timeS, this.breakAfter(state.timeS)));
    }
    kept.splice(low, 0, state);
    if (kept.length > KEPT_STATES) kept.splice(0, KEPT_STATES / 3);
    return state;
  }

  /** Within one row of speed and of unbalance. */
  #advance(state: RotorState, untilS: number): RotorState {
    const isSteadySpeed = this.#motion.slopeAt(state.timeS) === 0 && !this.#motion.hasRipple;
    if (isSteadySpeed && Math.abs(1 - this.#zeta) > 1e-6) return this.#advanceExact(state, untilS);
    const perMass = this.#perMassAt(state.timeS);
    let at = state;
    while (at.timeS < untilS) {
      const speed = TWO_PI * Math.abs(this.#motion.ratesAt(at.timeS).speed);
      const most = STEP_RAD / (this.#naturalRadPerS + speed + 1);
      const left = untilS - at.timeS;
      const h = left <= most ? left : left / Math.ceil(left / most);
      at = this.#step(at, left <= most ? untilS : at.timeS + h, perMass);
    }
    return at;
  }

  /** Roots of the constant equation: the two free motions seen from the turning frame. */
  #roots(radPerS: number): [Complex, Complex] {
    const wn = this.#naturalRadPerS;
    const bend = 1 - this.#zeta * this.#zeta;
    const free = wn * Math.sqrt(Math.abs(bend));
    const re = -this.#zeta * wn;
    return bend > 0
      ? [
          { re, im: free - radPerS },
          { re, im: -free - radPerS },
        ]
      : [
          { re: re + free, im: -radPerS },
          { re: re - free, im: -radPerS },
        ];
  }

  #advanceExact(state: RotorState, untilS: number): RotorState {
    const radPerS = TWO_PI * this.#motion.meanSpeedAt(state.timeS);
    const perMass = this.#perMassAt(state.timeS);
    const settled = this.#steady(radPerS, perMass);
    const [first, second] = this.#roots(radPerS);
    const z0 = { re: state.z.re - settled.re, im: state.z.im - settled.im };
    // a + b = z0, first·a + second·b = v0
    const gap = { re: first.re - second.re, im: first.im - second.im };
    const secondZ = times(second, z0);
    const a = over({ re: state.v.re - secondZ.re, im: state.v.im - secondZ.im }, gap);
    const b = { re: z0.re - a.re, im: z0.im - a.im };
    const t = untilS - state.timeS;
    const freeA = times(a, polar(Math.exp(first.re * t), first.im * t));
    const freeB = times(b, polar(Math.exp(second.re * t), second.im * t));
    const vA = times(first, freeA);
    const vB = times(second, freeB);
    return {
      timeS: untilS,
      z: { re: settled.re + freeA.re + freeB.re, im: settled.im + freeA.im + freeB.im },
      v: { re: vA.re + vB.re, im: vA.im + vB.im },
    };
  }

  /** Coefficients of the equation at a time: damping, stiffness, force. */
  #coefficients(timeS: number, perMass: Complex): [Complex, Complex, Complex] {
    const rates = this.#motion.ratesAt(timeS);
    const radPerS = TWO_PI * rates.speed;
    const slope = TWO_PI * rates.slope;
    const wn = this.#naturalRadPerS;
    const damping = { re: 2 * this.#zeta * wn, im: 2 * radPerS };
    const stiffness = {
      re: wn * wn - radPerS * radPerS,
      im: slope + 2 * this.#zeta * wn * radPerS,
    };
    return [damping, stiffness, times(perMass, { re: radPerS * radPerS, im: -slope })];
  }

  #step(state: RotorState, untilS: number, perMass: Complex): RotorState {
    const h = untilS - state.timeS;
    const { z, v } = state;
    const re = this.#re;
    const im = this.#im;
    for (let i = 0; i < STAGES; i += 1) {
      const ch = NODES[i]! * h;
      const [d, s, f] = this.#coefficients(state.timeS + ch, perMass);
      const zRe = z.re + ch * v.re;
      const zIm = z.im + ch * v.im;
      const row = i * WIDTH;
      for (let j = 0; j < STAGES; j += 1) {
        const a = h * A[i]![j]!;
        const aa = h * h * A_TWICE[i]![j]!;
        re[row + j] = (i === j ? 1 : 0) + a * d.re + aa * s.re;
        im[row + j] = a * d.im + aa * s.im;
      }
      re[row + STAGES] = f.re - (d.re * v.re - d.im * v.im) - (s.re * zRe - s.im * zIm);
      im[row + STAGES] = f.im - (d.re * v.im + d.im * v.re) - (s.re * zIm + s.im * zRe);
    }
    solve(re, im);
    const next: RotorState = {
      timeS: untilS,
      z: { re: z.re + h * v.re, im: z.im + h * v.im },
      v: { re: v.re, im: v.im },
    };
    for (let j = 0; j < STAGES; j += 1) {
      const kRe = re[j * WIDTH + STAGES]!;
      const kIm = im[j * WIDTH + STAGES]!;
      next.v.re += h * WEIGHTS[j]! * kRe;
      next.v.im += h * WEIGHTS[j]! * kIm;
      next.z.re += h * h * B_ONCE[j]! * kRe;
      next.z.im += h * h * B_ONCE[j]! * kIm;
    }
    return next;
  }

  /**
   * The turning amplitude of displacement (0), velocity (1) or acceleration (2) at a time: the
   * motion is Re(value·e^(j2πθ)), SI.
   */
  amplitudeAt(timeS: number, derivatives: number, out: Complex): void {
    const { z, v } = this.stateAt(timeS);
    out.re = z.re;
    out.im = z.im;
    if (derivatives === 0) return;
    const radPerS = TWO_PI * this.#motion.ratesAt(timeS).speed;
    const first = { re: v.re - radPerS * z.im, im: v.im + radPerS * z.re };
    out.re = first.re;
    out.im = first.im;
    if (derivatives === 1) return;
    let row = this.#jumps.length - 1;
    while (row > 0 && timeS < this.#jumps[row]!) row -= 1;
    const { perMass } = this.#rows[row]!;
    const [, , force] = this.#coefficients(timeS, perMass);
    const wn = this.#naturalRadPerS;
    out.re = force.re - 2 * this.#zeta * wn * first.re - wn * wn * z.re;
    out.im = force.im - 2 * this.#zeta * wn * first.im - wn * wn * z.im;
  }

  /** Until when the amplitude stays what it is now, to 1e-13; the time itself where it moves. */
  steadyUntil(timeS: number): number {
    if (this.#motion.slopeAt(timeS) !== 0 || this.#motion.hasRipple) return timeS;
    const { z, v } = this.stateAt(timeS);
    const settled = this.#steady(TWO_PI * this.#motion.meanSpeedAt(timeS), this.#perMassAt(timeS));
    const size = Math.hypot(settled.re, settled.im);
    const off = Math.hypot(z.re - settled.re, z.im - settled.im);
    const moving = Math.hypot(v.re, v.im) / this.#naturalRadPerS;
    return off + moving <= 1e-12 * size ? this.breakAfter(timeS) : timeS;
  }

  /** Amplitude of the displacement in the steady state at a speed, m. */
  steadyAt(revPerS: number, timeS: number): Complex {
    return this.#steady(TWO_PI * revPerS, this.#perMassAt(timeS));
  }

  get naturalHz(): number {
    return this.#rotor.naturalHz;
  }
}
