// Torsional ripple: true angle = mean angle + Σ amplitude·sin(2π·order·mean angle).
import { cosineOfRev, sineOfRev, TWO_PI } from "./sine.ts";
import { fractionOfProduct } from "./two-part.ts";
import type { TwoPart } from "./two-part.ts";

export interface Ripple {
  order: number;
  amplitudeRev: number;
}

/** Whether the true angle grows wherever the mean angle does. */
export function rippleIsMonotone(ripple: readonly Ripple[]): boolean {
  let steepest = 0;
  for (const one of ripple) steepest += TWO_PI * one.order * Math.abs(one.amplitudeRev);
  return steepest < 1;
}

/** Ripple seen from an anchor of the mean angle. Fields hold the values of the last `move`. */
export class RippleView {
  readonly #ripple: readonly Ripple[];
  readonly #phases: number[];
  /** What the ripple adds to the mean angle, revolutions. */
  addedRev = 0;
  /** First and second derivative of the true angle by the mean angle. */
  slope = 1;
  bend = 0;

  constructor(ripple: readonly Ripple[]) {
    this.#ripple = ripple;
    this.#phases = ripple.map(() => 0);
  }

  anchor(meanRev: TwoPart): void {
    for (const [i, one] of this.#ripple.entries()) {
      this.#phases[i] = fractionOfProduct(one.order, meanRev);
    }
  }

  /** Evaluates at a mean angle beyond the anchor. */
  move(beyondRev: number): void {
    this.addedRev = 0;
    this.slope = 1;
    this.bend = 0;
    for (let i = 0; i < this.#ripple.length; i += 1) {
      const { order, amplitudeRev } = this.#ripple[i]!;
      const phase = this.#phases[i]! + order * beyondRev;
      const rate = TWO_PI * order;
      const sine = sineOfRev(phase);
      this.addedRev += amplitudeRev * sine;
      this.slope += amplitudeRev * rate * cosineOfRev(phase);
      this.bend -= amplitudeRev * rate * rate * sine;
    }
  }

  /** How far beyond the anchor the mean angle is where the true one is so far beyond it. */
  meanBeyond(trueBeyondRev: number): number {
    let mean = trueBeyondRev;
    for (let round = 0; round < 30; round += 1) {
      this.move(mean);
      const miss = mean + this.addedRev - trueBeyondRev;
      mean -= miss / this.slope;
      if (Math.abs(miss) < 1e-15) break;
    }
    return mean;
  }
}
