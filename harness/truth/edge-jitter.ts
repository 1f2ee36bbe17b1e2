// What the jitter of the edges does to a vector after the poles: each edge's part in all of it,
// over all components at once.
import { KNOTS_PER_REVOLUTION_MIN } from "../../shared/capacity.ts";
import type { ShaftProfile } from "../scene/scene.ts";
import type { Complex } from "./complex.ts";
import { scaled } from "./complex.ts";
import { poleMost, poleSums } from "./filter-response.ts";
import { KnotSums, SAME_TURNS, filteredSum } from "./knot-sums.ts";
import type { CycleLengths, TurningTerm } from "./knot-sums.ts";

const TWO_PI = 2 * Math.PI;

/** Knots of the angle model in one cycle: every s-th position, at least 12 where there are. */
export function knotsPerCycle(positions: number): number {
  for (let s = positions; s >= 1; s -= 1) {
    if (positions % s === 0 && positions / s >= KNOTS_PER_REVOLUTION_MIN) return positions / s;
  }
  return positions;
}

/** Where they lie, cycles: a position that has no tooth is none. */
export function knotPlaces({ positions, index }: ShaftProfile): number[] {
  const knots = knotsPerCycle(positions);
  const isGap = index === "missing-tooth" && positions > 1 && knots === positions;
  return Array.from({ length: isGap ? knots - 1 : knots }, (_, i) => i / knots);
}

/** A component as it stands in one triangle: Re(amplitude·e^(j2πcθ)) of the cycle's angle θ. */
export interface Turning {
  amplitude: Complex;
  cycles: number;
}

/** Sums of one triangle's components, each group of turns that are whole numbers apart. */
export class EdgeJitter {
  readonly #order: number;
  readonly #groups: { turns: number; sums: KnotSums }[];

  /** `order`: tracked, of the cycle. */
  constructor(
    knots: readonly number[],
    order: number,
    components: readonly Turning[],
    lengths: CycleLengths,
  ) {
    this.#order = order;
    const groups: { turns: number; terms: TurningTerm[] }[] = [];
    for (const component of components) {
      for (const term of this.#termsOf(component)) {
        const turns = term.turns - Math.floor(term.turns + SAME_TURNS);
        const group = groups.find((one) => Math.abs(one.turns - turns) < SAME_TURNS);
        if (group === undefined) groups.push({ turns, terms: [term] });
        else group.terms.push(term);
      }
    }
    this.#groups = groups.map(({ turns, terms }) => {
      return { turns, sums: new KnotSums(knots, terms, lengths) };
    });
  }

  /** A component and its image: derivatives by the angle, halved the second. */
  #termsOf({ amplitude, cycles }: Turning): TurningTerm[] {
    const w = TWO_PI * cycles;
    const conjugate = { re: amplitude.re, im: -amplitude.im };
    const { re, im } = amplitude;
    return [
      {
        turns: cycles - this.#order,
        value: amplitude,
        first: { re: -w * im, im: w * re },
        second: scaled(amplitude, -0.5 * w * w),
      },
      {
        turns: -cycles - this.#order,
        value: conjugate,
        first: { re: -w * im, im: -w * re },
        second: scaled(conjugate, -0.5 * w * w),
      },
    ];
  }

  /**
   * Variance of the filtered vector, both of its parts together, edges of `sigma` cycles rms. That
   * is no less than the variance along any direction, and all of it where the error has one.
   *
   * Groups turn against each other: over the poles' memory their products average out, but for
   * groups that keep together for that long (h a cycle).
   */
  variance(sigma: number, h: number): number {
    const poles = poleSums(h);
    const square = sigma * sigma;
    return this.#combined(h, ({ first, second }) => {
      const products = 2 * square * square * filteredSum(poles, second);
      return square * filteredSum(poles, first) + products;
    });
  }

  /** The same of a vector that stands alone, before any pole. */
  startVariance(sigma: number, h: number): number {
    const square = sigma * sigma;
    return this.#combined(
      h,
      ({ first, second }) => square * first[0] + 2 * square * square * second[0],
    );
  }

  #combined(h: number, of: (sums: KnotSums) => number): number {
    const parts = this.#groups.map(({ turns, sums }) => ({ turns, variance: of(sums) }));
    let variance = 0;
    for (const a of parts) {
      for (const b of parts) {
        const apart = Math.abs(a.turns - b.turns);
        const isNear = Math.min(apart, 1 - apart) < h;
        if (a === b) variance += a.variance;
        else if (isNear) variance += Math.sqrt(a.variance * b.variance);
      }
    }
    return variance;
  }

  /** What products of errors shift the mean of a vector by. */
  shift(sigma: number): number {
    let size = 0;
    for (const { sums } of this.#groups) size += Math.hypot(sums.mean.re, sums.mean.im);
    return size * sigma * sigma;
  }

  /**
   * What products of normal errors go beyond a bound of u·σ by, at the probability e^(−u²/2) that
   * it stands for: u² times the largest eigenvalue of their matrix.
   *
   * Source    Laurent & Massart, Annals of Statistics 28 (2000) 1302, lemma 1: beyond 2|a|√x +
   *           2·max(a)·x at most e^(−x); here x = u²/2, and √2·|a| is their σ
   */
  tail(sigma: number, h: number, u: number): number {
    let most = 0;
    for (const { sums } of this.#groups) most += sums.rowMost;
    return most * sigma * sigma * poleMost(h) * u * u;
  }
}
