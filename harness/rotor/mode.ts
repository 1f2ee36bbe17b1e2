// One mode of vibration, integrated in time: x'' + 2ζωn·x' + ωn²·x = f(t), f a force by modal mass.
//
// With λ = −ζωn + jωd the mode is one complex equation q' = λq + f, and x = Im q / ωd,
// x' = Im λq / ωd, x'' = Im λ²q / ωd + f. A step is the exact transition e^(λh) plus the force's
// integral by three Gauss points. Portable arithmetic only.
//
// Two axes alike are carried, driven by the real and the imaginary part of a rotating force, so
// that x + jy is the analytic signal of the first.

export interface Complex {
  re: number;
  im: number;
}

/** Gauss points of a step, as shares of it, and their weights. */
export const GAUSS_POINTS = [0.5 - 0.5 * Math.sqrt(0.6), 0.5, 0.5 + 0.5 * Math.sqrt(0.6)] as const;
const GAUSS_WEIGHTS = [5 / 18, 8 / 18, 5 / 18] as const;

/**
 * Radians that force and mode together may turn in one step: the rule's relative error is
 * angle⁶ / 2,016,000, here 1.2e-10.
 */
export const STEP_RAD_MAX = 0.25;

/** e^z; halved until |z| < 1/2, then a Taylor series, then squared back. */
export function complexExponential(z: Complex): Complex {
  let halvings = 0;
  let { re, im } = z;
  while (re * re + im * im > 0.25) {
    re *= 0.5;
    im *= 0.5;
    halvings += 1;
  }
  let x = 1;
  let y = 0;
  for (let degree = 16; degree >= 1; degree -= 1) {
    const was = x;
    x = 1 + (was * re - y * im) / degree;
    y = (was * im + y * re) / degree;
  }
  for (let i = 0; i < halvings; i += 1) {
    const was = x;
    x = was * was - y * y;
    y = 2 * was * y;
  }
  return { re: x, im: y };
}

/** What a step of one length does. */
export interface Transition {
  stepS: number;
  decay: Complex;
  /** What a force at each Gauss point adds. */
  gains: [Complex, Complex, Complex];
}

/**
 * A mode in two axes.
 *
 * Range     natural frequency > 0; damping ratio 0 to below 1
 * Accuracy  1e-8 of the largest response, steps as STEP_RAD_MAX says
 */
export class Mode {
  readonly naturalRadPerS: number;
  readonly #dampingRatio: number;
  readonly #decayPerS: number;
  readonly #dampedRadPerS: number;
  /** q of the two axes. */
  #xRe = 0;
  #xIm = 0;
  #yRe = 0;
  #yIm = 0;

  constructor(naturalRadPerS: number, dampingRatio: number) {
    if (!(naturalRadPerS > 0)) throw new Error("a mode needs a natural frequency over 0");
    if (!(dampingRatio >= 0 && dampingRatio < 1)) {
      throw new Error(`a damping ratio of ${dampingRatio}: 0 to below 1`);
    }
    this.naturalRadPerS = naturalRadPerS;
    this.#dampingRatio = dampingRatio;
    this.#decayPerS = -dampingRatio * naturalRadPerS;
    this.#dampedRadPerS = naturalRadPerS * Math.sqrt(1 - dampingRatio * dampingRatio);
  }

  transition(stepS: number): Transition {
    const after = (share: number): Complex =>
      complexExponential({
        re: this.#decayPerS * stepS * share,
        im: this.#dampedRadPerS * stepS * share,
      });
    const gain = (i: 0 | 1 | 2): Complex => {
      const rest = after(1 - GAUSS_POINTS[i]);
      const weight = GAUSS_WEIGHTS[i] * stepS;
      return { re: weight * rest.re, im: weight * rest.im };
    };
    return { stepS, decay: after(1), gains: [gain(0), gain(1), gain(2)] };
  }

  /**
   * Puts the mode in the steady state of a force F·e^(jωt), given F at this moment; the response
   * then turns at turnRadPerS, which is ω unless the shaft's true speed has ripple.
   */
  settle(force: Complex, radPerS: number, turnRadPerS: number = radPerS): void {
    const stiff = this.naturalRadPerS * this.naturalRadPerS - radPerS * radPerS;
    const damp = 2 * this.#dampingRatio * this.naturalRadPerS * radPerS;
    const power = stiff * stiff + damp * damp;
    if (power === 0) throw new Error("an undamped mode has no steady state at its own frequency");
    const x = (force.re * stiff + force.im * damp) / power;
    const y = (force.im * stiff - force.re * damp) / power;
    // The velocity of each axis: jω(x + jy).
    this.#xRe = -turnRadPerS * y - this.#decayPerS * x;
    this.#xIm = this.#dampedRadPerS * x;
    this.#yRe = turnRadPerS * x - this.#decayPerS * y;
    this.#yIm = this.#dampedRadPerS * y;
  }

  /**
   * Runs `count` samples of `perSample` steps each and notes the state before each sample.
   *
   * Shape     re, im: the force at the Gauss points of each step in turn; history f64[4·count]
   */
  run(
    by: Transition,
    re: Float64Array,
    im: Float64Array,
    perSample: number,
    count: number,
    history: Float64Array,
  ): void {
    const { re: decayRe, im: decayIm } = by.decay;
    const [a, b, c] = by.gains;
    let xRe = this.#xRe;
    let xIm = this.#xIm;
    let yRe = this.#yRe;
    let yIm = this.#yIm;
    let at = 0;
    for (let i = 0; i < count; i += 1) {
      history[4 * i] = xRe;
      history[4 * i + 1] = xIm;
      history[4 * i + 2] = yRe;
      history[4 * i + 3] = yIm;
      for (let step = 0; step < perSample; step += 1) {
        const f0 = re[at]!;
        const f1 = re[at + 1]!;
        const f2 = re[at + 2]!;
        const g0 = im[at]!;
        const g1 = im[at + 1]!;
        const g2 = im[at + 2]!;
        const xWas = xRe;
        xRe = decayRe * xWas - decayIm * xIm + (a.re * f0 + b.re * f1 + c.re * f2);
        xIm = decayRe * xIm + decayIm * xWas + (a.im * f0 + b.im * f1 + c.im * f2);
        const yWas = yRe;
        yRe = decayRe * yWas - decayIm * yIm + (a.re * g0 + b.re * g1 + c.re * g2);
        yIm = decayRe * yIm + decayIm * yWas + (a.im * g0 + b.im * g1 + c.im * g2);
        at += 3;
      }
    }
    this.#xRe = xRe;
    this.#xIm = xIm;
    this.#yRe = yRe;
    this.#yIm = yIm;
  }

  /** How displacement (0), velocity (1), acceleration (2) are read: re·Im q + im·Re q + share·f. */
  reading(derivative: number): { re: number; im: number; forceShare: number } {
    let re = 1;
    let im = 0;
    for (let i = 0; i < derivative; i += 1) {
      const was = re;
      re = was * this.#decayPerS - im * this.#dampedRadPerS;
      im = was * this.#dampedRadPerS + im * this.#decayPerS;
    }
    const scale = 1 / this.#dampedRadPerS;
    return { re: re * scale, im: im * scale, forceShare: derivative === 2 ? 1 : 0 };
  }
}
