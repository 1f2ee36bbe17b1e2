// The force of an unbalance by modal mass: U/M·(ω² − jα)·e^(j2πθ) along one stretch of the speed,
// ω and α those of the true angle.
import { turningPhasor } from "./phasor-sum.ts";
import { RippleView } from "./ripple.ts";
import type { Ripple } from "./ripple.ts";
import type { ShaftState } from "./shaft-angle.ts";
import { cosineOfRev, sineOfRev, TWO_PI } from "./sine.ts";
import { fractionPart } from "./two-part.ts";

/** Times at which the force is wanted: afterS + i·stepS after a state of the shaft. */
export interface ForceTimes {
  afterS: number;
  stepS: number;
  count: number;
}

/** Where it goes: re/im[at + i·stride]. */
export interface ForceBuffer {
  re: Float64Array;
  im: Float64Array;
  at: number;
  stride: number;
}

export class RotatingForce {
  readonly #ripple: RippleView;
  readonly #hasRipple: boolean;

  constructor(ripple: readonly Ripple[]) {
    this.#ripple = new RippleView(ripple);
    this.#hasRipple = ripple.length > 0;
  }

  /** Writes the force of a vector U/M along times of one stretch of the speed. */
  write(
    state: ShaftState,
    vector: { re: number; im: number },
    times: ForceTimes,
    into: ForceBuffer,
  ): void {
    if (this.#hasRipple) this.#writeRippled(state, vector, times, into);
    else writePlain(state, vector, times, into);
  }

  #writeRippled(
    state: ShaftState,
    vector: { re: number; im: number },
    times: ForceTimes,
    into: ForceBuffer,
  ): void {
    const view = this.#ripple;
    view.anchor(state.rev);
    const anchor = fractionPart(state.rev);
    let at = into.at;
    for (let i = 0; i < times.count; i += 1) {
      const t = times.afterS + i * times.stepS;
      const beyond = t * (state.revPerS + 0.5 * state.revPerS2 * t);
      const speed = state.revPerS + state.revPerS2 * t;
      view.move(beyond);
      const phase = anchor + beyond + view.addedRev;
      const omega = TWO_PI * speed * view.slope;
      const alpha = TWO_PI * (state.revPerS2 * view.slope + speed * speed * view.bend);
      const c = cosineOfRev(phase);
      const s = sineOfRev(phase);
      const x = vector.re * c - vector.im * s;
      const y = vector.re * s + vector.im * c;
      into.re[at] = omega * omega * x + alpha * y;
      into.im[at] = omega * omega * y - alpha * x;
      at += into.stride;
    }
  }
}

function writePlain(
  state: ShaftState,
  vector: { re: number; im: number },
  times: ForceTimes,
  into: ForceBuffer,
): void {
  const { afterS, stepS, count } = times;
  const { re, im, stride } = into;
  const speed = state.revPerS + state.revPerS2 * afterS;
  const beyond = afterS * (state.revPerS + 0.5 * state.revPerS2 * afterS);
  const phaseRev = fractionPart(state.rev) + beyond;
  const chirp = { phaseRev, ratePerS: speed, slopePerS2: state.revPerS2, stepS };
  let { x, y, turnX, turnY, bendX, bendY } = turningPhasor(chirp, vector.re, vector.im);
  const alpha = TWO_PI * state.revPerS2;
  const omegaFirst = TWO_PI * speed;
  const omegaStep = alpha * stepS;
  let at = into.at;
  for (let i = 0; i < count; i += 1) {
    const omega = omegaFirst + i * omegaStep;
    const square = omega * omega;
    re[at] = square * x + alpha * y;
    im[at] = square * y - alpha * x;
    at += stride;
    const was = x;
    x = was * turnX - y * turnY;
    y = was * turnY + y * turnX;
    const turnWas = turnX;
    turnX = turnWas * bendX - turnY * bendY;
    turnY = turnWas * bendY + turnY * bendX;
  }
}
