// What errors of a wheel's edges do to the tracking filter's vector, to first and second order.
import { polar, scaled, times } from "./complex.ts";
import type { Complex } from "./complex.ts";
import type { LaggedSums } from "./filter-response.ts";
import { gaussLegendre } from "./filon.ts";

const TWO_PI = 2 * Math.PI;
/** Triangles that a knot of cycle 0 can lie in: those about boundaries −1 to 2. */
const TRIANGLES = 4;
/** What turns apart by less is the same, but for rounding. */
export const SAME_TURNS = 1e-9;
/** Points to a wave: what Gauss' rule leaves of one is 1e-9. */
const POINTS = 10;
const { nodes: NODES, weights: WEIGHTS } = gaussLegendre(POINTS);

/**
 * A part of the signal times the tracked order's phasor, value·e^(j2πqθ): `first` and `second` take
 * its place for the first derivative by the signal's angle and half the second, cycles.
 */
export interface TurningTerm {
  turns: number;
  value: Complex;
  first: Complex;
  second: Complex;
}

/** Complex values by knot and triangle. */
class Shares {
  readonly re: Float64Array;
  readonly im: Float64Array;

  constructor(count: number) {
    this.re = new Float64Array(count * TRIANGLES);
    this.im = new Float64Array(count * TRIANGLES);
  }

  /** Adds to what row `row` has in the triangle about boundary m. */
  add(row: number, m: number, re: number, im: number): void {
    const at = row * TRIANGLES + m + 1;
    this.re[at] = this.re[at]! + re;
    this.im[at] = this.im[at]! + im;
  }

  /** Σ of a row's values over triangles, each turned back by `turns` a cycle: a vector's own sum. */
  rowSum(row: number, turns: number): Complex {
    const sum = { re: 0, im: 0 };
    for (let m = -1; m < TRIANGLES - 1; m += 1) {
      const at = row * TRIANGLES + m + 1;
      const cos = Math.cos(TWO_PI * turns * m);
      const sin = -Math.sin(TWO_PI * turns * m);
      sum.re += this.re[at]! * cos - this.im[at]! * sin;
      sum.im += this.re[at]! * sin + this.im[at]! * cos;
    }
    return sum;
  }

  /** Σ over triangles of a row's value times the conjugate of that `lag` triangles on, real. */
  rowLag(row: number, lag: number): number {
    let sum = 0;
    for (let i = 0; i + lag < TRIANGLES; i += 1) {
      const at = row * TRIANGLES + i;
      sum += this.re[at]! * this.re[at + lag]! + this.im[at]! * this.im[at + lag]!;
    }
    return sum;
  }
}

/** What the length of its cycles does to a vector. */
export interface CycleLengths {
  /** The power of the length that it goes by: integrations, and the assumed response. */
  stretch: Complex;
  /** The poles go by time, so that a longer cycle counts for more. */
  areWeights: boolean;
}

/** Lagged sums of the shares: those of one knot at lags 0 to 3. */
export type Lags = [number, number, number, number];

/** Σ over all pairs of vectors: lagged sums of the poles' response times those of the shares. */
export function filteredSum(poles: LaggedSums, lags: Lags): number {
  const { square, neighbour, second, third } = poles;
  const [none, one, two, three] = lags;
  // What cancels leaves the rounding of what it is the difference of.
  return Math.max(0, square * none + 2 * (neighbour * one + second * two + third * three));
}

/**
 * Errors of the edges to first and second order in a group of terms whose `turns` are whole numbers
 * apart.
 *
 * The tracker takes the angle between knots x_0 … x_(K−1) (cycles; the pattern repeats every cycle)
 * from the parabola through an interval's two ends and the knot before. Its angle θ̂ is x_i where
 * edge i comes. An edge that is late by ε_i (cycles) comes at the true angle x_i + ε_i, so that
 *
 *     θ = θ̂ + E(θ̂) + F(θ̂),   E = Σ ε_i·φ_i(θ̂),   F = 2·α²·(θ̂−x_(i−1))(θ̂−x_i)(θ̂−x_(i+1))
 *
 * φ_i is the parabola that is 1 at knot i and 0 at the others, on the three intervals that use it;
 * α = Σ ε_b/Π(x_b−x_j), the second divided difference of the errors, comes from the nodes being
 * late, too: E·E′ is a cubic of lead 2α², and what is left beside its own parabola is that.
 *
 * All else of the tracker goes by θ̂: its integrals, its triangle Λ, its phasor. So a vector is
 *
 *     Z = 2·∫ Λ(θ̂−m)·x(θ̂+E+F)·e^(−j2πkθ̂) dθ̂
 *
 * and knot i's share of the error of Z_m is, to first order, χ_i(m) = ∫ Λ(θ−m)·D(θ)·φ_i(θ) dθ with
 * D = 2·x′·e^(−j2πkθ); of two errors ε_a·ε_b it is the same with φ_a·φ_b and x″/2, and F with x′.
 * The poles make of it Σ_m g·χ_i(m), and of independent errors the variance
 *
 *     σ²·Σ_i |Σ_m g_(M−m)·χ_i(m)|² = σ²·Σ_d R_g(d)·Σ_i Σ_m Re χ_i(m)·χ_i*(m+d)
 *
 * R_g the lagged sums of the poles' response. Nothing is said of one vector being independent of
 * the next: every edge stands in two or three of them, and what it does to a whole order beside the
 * tracked one it takes back in the next ones. At one knot a cycle Σφ_i = 1 and Σi·φ_i = θ make the
 * transform of φ vanish with its slope at every whole number but 0, so that of another order only
 * what bends the poles' response is left, most of it the kink at the newest vector, h² of a
 * vector's; of the tracked order itself nothing cancels.
 *
 * Of the products of two errors the mean stands (σ²·Σ of the squares' shares), and the variance is
 * 2σ⁴·Σ|shares|², each pair twice, by the same lagged sums.
 *
 * Source    own derivation; moments of normal errors: any textbook
 */
export class KnotSums {
  /** Lagged sums of first order: variance over σ². */
  readonly first: Lags = [0, 0, 0, 0];
  /** Lagged sums of second order: variance over 2σ⁴. */
  readonly second: Lags = [0, 0, 0, 0];
  /** Mean of one vector over σ². */
  readonly mean: Complex = { re: 0, im: 0 };
  /** The largest sum of sizes in a row of the second order's matrix: none of its eigenvalues is larger. */
  rowMost = 0;
  readonly #knots: readonly number[];
  readonly #singles: Shares;
  readonly #pairs: Shares;
  readonly #turns: number;

  constructor(knots: readonly number[], terms: readonly TurningTerm[], lengths: CycleLengths) {
    const count = knots.length;
    this.#knots = knots;
    this.#singles = new Shares(count);
    this.#pairs = new Shares(3 * count);
    this.#turns = terms[0]!.turns - Math.round(terms[0]!.turns);
    for (let r = 0; r < count; r += 1) this.#interval(r, terms);
    this.#addLengths(terms, lengths);
    this.#sum();
  }

  /**
   * A vector goes by its cycles' lengths, too. A boundary that is late ends the triangle a cycle
   * before it, which gets longer, and begins the one a cycle after it. And it makes the poles weigh
   * the cycle before it more, the one after it less: what is the same from vector to vector, the
   * tracked order, does not see it.
   */
  #addLengths(terms: readonly TurningTerm[], { stretch, areWeights }: CycleLengths): void {
    const vector = { re: 0, im: 0 };
    for (const { turns, value } of terms) {
      const share = turns === 0 ? 1 : (Math.sin(Math.PI * turns) / (Math.PI * turns)) ** 2;
      vector.re += share * value.re;
      vector.im += share * value.im;
    }
    const add = (m: number, by: Complex): void => {
      const turned = times(times(vector, by), polar(1, TWO_PI * this.#turns * m));
      this.#singles.add(0, m, turned.re, turned.im);
    };
    add(-1, scaled(stretch, 0.5));
    add(1, scaled(stretch, -0.5));
    if (!areWeights || Math.abs(this.#turns) < SAME_TURNS) return;
    add(-1, { re: 1, im: 0 });
    add(0, { re: -1, im: 0 });
  }

  /** Knot r, counted on through the cycles: where it lies, cycles. */
  #place(r: number): number {
    const count = this.#knots.length;
    const cycle = Math.floor(r / count);
    return this.#knots[r - cycle * count]! + cycle;
  }

  /** Adds a share of knot r's in triangle m to the same knot of cycle 0. */
  #add(to: Shares, r: number, distance: number, m: number, value: Complex): void {
    const count = this.#knots.length;
    const cycle = Math.floor(r / count);
    const angle = -TWO_PI * this.#turns * cycle;
    const cos = Math.cos(angle);
    const sin = Math.sin(angle);
    const row = r - cycle * count + distance * count;
    const { re, im } = value;
    to.add(row, m - cycle, re * cos - im * sin, re * sin + im * cos);
  }

  /** The integrals over the interval from knot r to the next, over both sides of a triangle. */
  #interval(r: number, terms: readonly TurningTerm[]): void {
    const places = [this.#place(r - 1), this.#place(r), this.#place(r + 1)] as const;
    const shape = new Parabolas(places);
    const most = terms.reduce((size, one) => Math.max(size, Math.abs(one.turns)), 0);
    const span = places[2] - places[1];
    const panels = Math.ceil(most * span) + 1;
    const sides = [zeros(9), zeros(9)] as const;
    for (let panel = 0; panel < panels; panel += 1) {
      for (let i = 0; i < POINTS; i += 1) {
        const at = places[1] + (span * (panel + 0.5 + 0.5 * NODES[i]!)) / panels;
        const weight = (0.5 * WEIGHTS[i]! * span) / panels;
        const { first, second } = valueAt(terms, at);
        shape.at(at);
        shape.addTo(sides[0], weight * (1 - at), first, second);
        shape.addTo(sides[1], weight * at, first, second);
      }
    }
    sides.forEach((values, m) => {
      for (let b = 0; b < 3; b += 1) this.#add(this.#singles, r + b - 1, 0, m, values[b]!);
      PAIRS.forEach(([a, b], i) => {
        this.#add(this.#pairs, r + a - 1, b - a, m, values[3 + i]!);
      });
    });
  }

  #sum(): void {
    const count = this.#knots.length;
    const rows = new Float64Array(count);
    for (let row = 0; row < 3 * count; row += 1) {
      const distance = Math.floor(row / count);
      const ways = distance === 0 ? 1 : 2;
      for (let lag = 0; lag < TRIANGLES; lag += 1) {
        this.second[lag] = this.second[lag]! + ways * this.#pairs.rowLag(row, lag);
        if (distance > 0) continue;
        this.first[lag] = this.first[lag]! + this.#singles.rowLag(row, lag);
      }
      const whole = this.#pairs.rowSum(row, 0);
      const size = Math.hypot(whole.re, whole.im);
      const knot = row - distance * count;
      rows[knot] = rows[knot]! + size;
      if (distance > 0) {
        const other = (knot + distance) % count;
        rows[other] = rows[other]! + size;
        continue;
      }
      const { re, im } = this.#pairs.rowSum(row, this.#turns);
      this.mean.re += re;
      this.mean.im += im;
    }
    this.rowMost = Math.max(...rows);
  }
}

/** Pairs of an interval's three knots, a knot with itself too. */
const PAIRS = [
  [0, 0],
  [1, 1],
  [2, 2],
  [0, 1],
  [1, 2],
  [0, 2],
] as const;

/** The three parabolas of an interval, each 1 at a knot and 0 at the other two. */
class Parabolas {
  readonly #places: readonly [number, number, number];
  /** 1/Π(x_b − x_j). */
  readonly #lead: number[];
  readonly #value = [0, 0, 0];
  #cubic = 0;

  constructor(places: readonly [number, number, number]) {
    const [a, b, c] = places;
    this.#places = places;
    this.#lead = [1 / ((a - b) * (a - c)), 1 / ((b - a) * (b - c)), 1 / ((c - a) * (c - b))];
  }

  at(x: number): void {
    const [a, b, c] = this.#places;
    this.#value[0] = this.#lead[0]! * (x - b) * (x - c);
    this.#value[1] = this.#lead[1]! * (x - a) * (x - c);
    this.#value[2] = this.#lead[2]! * (x - a) * (x - b);
    this.#cubic = 2 * (x - a) * (x - b) * (x - c);
  }

  /** Adds the shares of the three knots and of their pairs at this place. */
  addTo(values: Complex[], weight: number, first: Complex, second: Complex): void {
    for (let b = 0; b < 3; b += 1) {
      const one = values[b]!;
      const w = weight * this.#value[b]!;
      one.re += w * first.re;
      one.im += w * first.im;
    }
    PAIRS.forEach(([a, b], i) => {
      const one = values[3 + i]!;
      const w = weight * this.#value[a]! * this.#value[b]!;
      const f = weight * this.#cubic * this.#lead[a]! * this.#lead[b]!;
      one.re += w * second.re + f * first.re;
      one.im += w * second.im + f * first.im;
    });
  }
}

function zeros(count: number): Complex[] {
  return Array.from({ length: count }, () => ({ re: 0, im: 0 }));
}

function valueAt(
  terms: readonly TurningTerm[],
  place: number,
): { first: Complex; second: Complex } {
  const first = { re: 0, im: 0 };
  const second = { re: 0, im: 0 };
  for (const term of terms) {
    const angle = TWO_PI * term.turns * place;
    const cos = Math.cos(angle);
    const sin = Math.sin(angle);
    first.re += term.first.re * cos - term.first.im * sin;
    first.im += term.first.re * sin + term.first.im * cos;
    second.re += term.second.re * cos - term.second.im * sin;
    second.im += term.second.re * sin + term.second.im * cos;
  }
  return { first, second };
}
