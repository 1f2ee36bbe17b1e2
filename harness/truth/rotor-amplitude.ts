// One unbalance vector on one mode, as a complex amplitude z in the frame that turns with the shaft:
// x = Re(z·e^(j2πθ)). With Ω = 2πθ̇ and the unbalance vector u = U·e^(−j·angle) over the modal mass,
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
const KEPT_STATES = 96;

const NODES = Array.from(gaussLegendre(STAGES).nodes, (x) => 0.5 * (1 + x));
const WEIGHTS = Array.from(gaussLegendre(STAGES).weights, (w) => 0.5 * w);

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

/** Solves the stages' linear system in place: rows of STAGES + 1 complex numbers. */
function eliminate(re: Float64Array[], im: Float64Array[]): void {
  for (let p = 0; p < STAGES; p += 1) {
    const power = re[p]![p]! ** 2 + im[p]![p]! ** 2;
    for (let r = 0; r < STAGES; r += 1) {
      if (r === p) continue;
      const fRe = (re[r]![p]! * re[p]![p]! + im[r]![p]! * im[p]![p]!) / power;
      const fIm = (im[r]![p]! * re[p]![p]! - re[r]![p]! * im[p]![p]!) / power;
      for (let c = p; c <= STAGES; c += 1) {
        const pRe = re[p]![c]!;
        const pIm = im[p]![c]!;
        re[r]![c] = re[r]![c]! - (fRe * pRe - fIm * pIm);
        im[r]![c] = im[r]![c]! - (fRe * pIm + fIm * pRe);
      }
    }
  }
  for (let p = 0; p < STAGES; p += 1) {
    const value = over(
      { re: re[p]![STAGES]!, im: im[p]![STAGES]! },
      { re: re[p]![p]!, im: im[p]![p]! },
    );
    re[p]![STAGES] = value.re;
    im[p]![STAGES] = value.im;
  }
}

export class RotorTruth {
  readonly #rotor: Rotor;
  readonly #motion: MotionTruth;
  readonly #naturalRadPerS: number;
  readonly #zeta: number;
  readonly #rows: { timeS: number; perMass: Complex }[];
  #kept: RotorState[] = [];
  readonly #start: RotorState;
  readonly #re: Float64Array[] = [];
  readonly #im: Float64Array[] = [];

  constructor(rotor: Rotor, motion: MotionTruth) {
    this.#rotor = rotor;
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
    for (let i = 0; i < STAGES; i += 1) {
      this.#re.push(new Float64Array(STAGES + 1));
      this.#im.push(new Float64Array(STAGES + 1));
    }
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
    return next;
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
    let i = this.#kept.length - 1;
    while (i >= 0 && this.#kept[i]!.timeS > timeS) i -= 1;
    let state = i >= 0 ? this.#kept[i]! : this.#start;
    if (state.timeS === timeS) return state;
    while (state.timeS < timeS) {
      const until = Math.min(timeS, this.breakAfter(state.timeS));
      state = this.#advance(state, until);
    }
    this.#kept.push(state);
    if (this.#kept.length > KEPT_STATES) {
      this.#kept.sort((a, b) => a.timeS - b.timeS);
      this.#kept = this.#kept.slice(KEPT_STATES / 3);
    } else if (i < this.#kept.length - 2) {
      this.#kept.sort((a, b) => a.timeS - b.timeS);
    }
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
    for (let i = 0; i < STAGES; i += 1) {
      const ch = NODES[i]! * h;
      const [d, s, f] = this.#coefficients(state.timeS + ch, perMass);
      const zi = { re: z.re + ch * v.re, im: z.im + ch * v.im };
      const dv = times(d, v);
      const sz = times(s, zi);
      for (let j = 0; j < STAGES; j += 1) {
        const a = h * A[i]![j]!;
        const aa = h * h * A_TWICE[i]![j]!;
        this.#re[i]![j] = (i === j ? 1 : 0) + a * d.re + aa * s.re;
        this.#im[i]![j] = a * d.im + aa * s.im;
      }
      this.#re[i]![STAGES] = f.re - dv.re - sz.re;
      this.#im[i]![STAGES] = f.im - dv.im - sz.im;
    }
    eliminate(this.#re, this.#im);
    const next: RotorState = {
      timeS: untilS,
      z: { re: z.re + h * v.re, im: z.im + h * v.im },
      v: { re: v.re, im: v.im },
    };
    for (let j = 0; j < STAGES; j += 1) {
      const kRe = this.#re[j]![STAGES]!;
      const kIm = this.#im[j]![STAGES]!;
      next.v.re += h * WEIGHTS[j]! * kRe;
      next.v.im += h * WEIGHTS[j]! * kIm;
      next.z.re += h * h * B_ONCE[j]! * kRe;
      next.z.im += h * h * B_ONCE[j]! * kIm;
    }
    return next;
  }

  /**
   * The turning amplitude of displacement (0), velocity (1) or acceleration (2) at a time: the motion
   * is Re(value·e^(j2πθ)), SI.
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
    const perMass = this.#perMassAt(timeS);
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
