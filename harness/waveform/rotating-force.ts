// The force of an unbalance by modal mass: U/M·(ω² − jα)·e^(j2πθ) along one stretch of the speed,
// ω and α those of the true angle.
import { fillPhasor } from "./phasor-sum.ts";
import { RippleView } from "./ripple.ts";
import type { Ripple } from "./ripple.ts";
import type { ShaftState } from "./shaft-angle.ts";
import { cosineOfRev, sineOfRev, TWO_PI } from "./sine.ts";
import { fractionPart } from "./two-part.ts";

export class RotatingForce {
  readonly #ripple: RippleView;
  readonly #hasRipple: boolean;
  #re: Float64Array;
  #im: Float64Array;

  constructor(ripple: readonly Ripple[], countMax: number) {
    this.#ripple = new RippleView(ripple);
    this.#hasRipple = ripple.length > 0;
    this.#re = new Float64Array(countMax);
    this.#im = new Float64Array(countMax);
  }

  /**
   * Writes the force at `count` times, afterS + i·stepS after a state of the shaft, to
   * re/im[at + i·stride].
   */
  write(
    state: ShaftState,
    vector: { re: number; im: number },
    times: { afterS: number; stepS: number; count: number },
    into: { re: Float64Array; im: Float64Array; at: number; stride: number },
  ): void {
    if (this.#hasRipple) this.#fillRippled(state, times);
    else this.#fillPlain(state, times);
    const { re, im, at, stride } = into;
    for (let i = 0; i < times.count; i += 1) {
      const x = this.#re[i]!;
      const y = this.#im[i]!;
      re[at + i * stride] = vector.re * x - vector.im * y;
      im[at + i * stride] = vector.re * y + vector.im * x;
    }
  }

  #fillPlain(state: ShaftState, times: { afterS: number; stepS: number; count: number }): void {
    const { afterS, stepS, count } = times;
    const speed = state.revPerS + state.revPerS2 * afterS;
    const beyond = afterS * (state.revPerS + 0.5 * state.revPerS2 * afterS);
    const phaseRev = fractionPart(state.rev) + beyond;
    const chirp = { phaseRev, ratePerS: speed, slopePerS2: state.revPerS2, stepS };
    fillPhasor(this.#re, this.#im, count, chirp);
    const alpha = TWO_PI * state.revPerS2;
    for (let i = 0; i < count; i += 1) {
      const omega = TWO_PI * (speed + state.revPerS2 * (i * stepS));
      const square = omega * omega;
      const x = this.#re[i]!;
      const y = this.#im[i]!;
      this.#re[i] = square * x + alpha * y;
      this.#im[i] = square * y - alpha * x;
    }
  }

  #fillRippled(state: ShaftState, times: { afterS: number; stepS: number; count: number }): void {
    const view = this.#ripple;
    view.anchor(state.rev);
    const anchor = fractionPart(state.rev);
    for (let i = 0; i < times.count; i += 1) {
      const t = times.afterS + i * times.stepS;
      const beyond = t * (state.revPerS + 0.5 * state.revPerS2 * t);
      const speed = state.revPerS + state.revPerS2 * t;
      view.move(beyond);
      const phase = anchor + beyond + view.addedRev;
      const omega = TWO_PI * speed * view.slope;
      const alpha = TWO_PI * (state.revPerS2 * view.slope + speed * speed * view.bend);
      const x = cosineOfRev(phase);
      const y = sineOfRev(phase);
      this.#re[i] = omega * omega * x + alpha * y;
      this.#im[i] = omega * omega * y - alpha * x;
    }
  }
}
