// What an edge's error does to a vector after the poles, edge by edge from the definition of the
// angle model, against the closed sums.
import { describe, expect, it } from "vitest";
import type { Complex } from "../../../harness/truth/complex.ts";
import { EdgeJitter, knotPlaces } from "../../../harness/truth/edge-jitter.ts";
import { poleMost } from "../../../harness/truth/filter-response.ts";
import { TwoPoles } from "../../../harness/truth/two-poles.ts";
import { shaftProfile } from "../../kit/scene-builder.ts";

interface Part {
  cycles: number;
  pk: number;
  lagRad: number;
}

/** Points of a knot interval: the midpoint rule, and with half of them its first correction. */
const POINTS = 160;

/** A wheel of one cycle a second; one of its edges may be late. */
class LateEdge {
  readonly #places: readonly number[];
  readonly #parts: readonly Part[];
  readonly #order: number;

  constructor(places: readonly number[], parts: readonly Part[], order: number) {
    this.#places = places;
    this.#parts = parts;
    this.#order = order;
  }

  place(i: number): number {
    const count = this.#places.length;
    const cycle = Math.floor(i / count);
    return this.#places[i - cycle * count]! + cycle;
  }

  /**
   * The triangle about boundary m by its definition, edge `late` late by `by` seconds: of the three
   * intervals whose parabolas hold that edge.
   */
  vector(m: number, late: number, by: number): Complex {
    const sum = { re: 0, im: 0 };
    const count = this.#places.length;
    for (let r = late - 1; r <= late + 1; r += 1) {
      if (r < (m - 1) * count || r >= (m + 1) * count) continue;
      for (const [points, weight] of [
        [POINTS, 4 / 3],
        [POINTS / 2, -1 / 3],
      ] as const) {
        this.#addInterval(sum, m, r, late, by, points, weight);
      }
    }
    return sum;
  }

  #addInterval(
    sum: Complex,
    m: number,
    r: number,
    late: number,
    by: number,
    points: number,
    weight: number,
  ): void {
    const angles = [r - 1, r, r + 1].map((i) => this.place(i));
    const times = [r - 1, r, r + 1].map((i) => this.place(i) + (i === late ? by : 0));
    const angleAt = (t: number): number =>
      angles.reduce((whole, angle, b) => {
        const others = times.filter((_, j) => j !== b);
        const [c, d] = [others[0]!, others[1]!];
        return whole + (angle * (t - c) * (t - d)) / ((times[b]! - c) * (times[b]! - d));
      }, 0);
    const span = (times[2]! - times[1]!) / points;
    for (let i = 0; i < points; i += 1) {
      const from = angleAt(times[1]! + i * span);
      const until = angleAt(times[1]! + (i + 1) * span);
      const t = times[1]! + (i + 0.5) * span;
      const angle = angleAt(t);
      const x = this.#parts.reduce(
        (all, { cycles, pk, lagRad }) => all + pk * Math.cos(2 * Math.PI * cycles * t - lagRad),
        0,
      );
      const share = 2 * weight * x * (1 - Math.abs(angle - m)) * (until - from);
      sum.re += share * Math.cos(2 * Math.PI * this.#order * angle);
      sum.im -= share * Math.sin(2 * Math.PI * this.#order * angle);
    }
  }

  /** Σ over edges of the square of what each does to the vector after the poles. */
  filteredSquare(h: number): number {
    const count = this.#places.length;
    const last = Math.ceil(18 / h);
    const by = 1e-5;
    let square = 0;
    for (let late = -2 * count; late <= (last + 1) * count; late += 1) {
      const poles = [new TwoPoles(), new TwoPoles()] as const;
      const cycle = Math.floor(late / count);
      for (let m = Math.max(1, cycle - 1); m <= last; m += 1) {
        const isFelt = m <= cycle + 2;
        const a = isFelt ? this.vector(m, late, by) : { re: 0, im: 0 };
        const b = isFelt ? this.vector(m, late, -by) : a;
        poles[0].step((a.re - b.re) / (2 * by), h);
        poles[1].step((a.im - b.im) / (2 * by), h);
      }
      square += poles[0].second ** 2 + poles[1].second ** 2;
    }
    return square;
  }
}

const PARTS: Part[] = [
  { cycles: 1, pk: 1, lagRad: 0.5 },
  { cycles: 2, pk: 10, lagRad: 1.3 },
  { cycles: 4, pk: 3, lagRad: 4 },
];
const LENGTHS = { stretch: { re: 0, im: 0 }, areWeights: true };

const jitterOf = (places: readonly number[], parts: readonly Part[]): EdgeJitter =>
  new EdgeJitter(
    places,
    1,
    parts.map(({ cycles, pk, lagRad }) => ({
      cycles,
      amplitude: { re: pk * Math.cos(lagRad), im: -pk * Math.sin(lagRad) },
    })),
    LENGTHS,
  );

/** Edges so sure that products of their errors are nothing. */
const TINY = 1e-9;

describe("edge jitter", () => {
  it.each([
    [1, "none", PARTS],
    [1, "none", PARTS.slice(1)],
    [3, "none", PARTS],
    [4, "missing-tooth", PARTS],
  ] as const)(
    "[TRUTH-100] P = %i, index %s: each edge's part in the filtered vector, from the definition",
    (positions, index, parts) => {
      const places = knotPlaces(shaftProfile({ positions, index }));
      const edges = new LateEdge(places, parts, 1);
      const jitter = jitterOf(places, parts);
      for (const h of [0.4, 1.5]) {
        const found = jitter.variance(TINY, h) / TINY ** 2;
        // The rule and the difference are worth some 1e-6 of what does not cancel.
        const uncancelled = jitter.startVariance(TINY, h) / TINY ** 2;
        const expected = edges.filteredSquare(h);
        expect(Math.abs(found - expected)).toBeLessThan(1e-3 * expected + 1e-9 * uncancelled);
      }
    },
  );

  it("[TRUTH-101] the mean that squares of errors leave, edge by edge from the definition", () => {
    for (const [positions, index] of [
      [1, "none"],
      [4, "missing-tooth"],
    ] as const) {
      const places = knotPlaces(shaftProfile({ positions, index }));
      const edges = new LateEdge(places, PARTS, 1);
      const by = 1e-3;
      const mean = { re: 0, im: 0 };
      for (let late = -2 * positions; late <= 2 * positions; late += 1) {
        const [a, b] = [edges.vector(0, late, by), edges.vector(0, late, -by)];
        const still = edges.vector(0, late, 0);
        mean.re += (a.re + b.re - 2 * still.re) / (2 * by * by);
        mean.im += (a.im + b.im - 2 * still.im) / (2 * by * by);
      }
      const size = Math.hypot(mean.re, mean.im);
      // The difference's own fourth order: (2π·4·by)²/12.
      expect(jitterOf(places, PARTS).shift(1) / size).toBeCloseTo(1, 3);
    }
  });

  it("[TRUTH-102] one edge a turn: another order takes back what it did, the tracked one does not", () => {
    const [own, other] = [jitterOf([0], PARTS.slice(0, 1)), jitterOf([0], PARTS.slice(1, 2))];
    const kept = (jitter: EdgeJitter, h: number): number =>
      Math.sqrt(jitter.variance(TINY, h) / jitter.startVariance(TINY, h));
    // An average over 1/h vectors halves at a quarter of h. What does not cancel is the kink at the
    // poles' newest vector, which goes with h².
    expect(kept(own, 0.1) / kept(own, 0.025)).toBeCloseTo(2, 0);
    expect(kept(other, 0.1) / kept(other, 0.025)).toBeGreaterThan(14);
    expect(kept(other, 0.1)).toBeLessThan(kept(own, 0.1) / 20);
  });

  it.each([0.001, 0.05, 0.4, 2, 9])("[TRUTH-103] the poles' largest answer, h = %f", (h) => {
    const poles = new TwoPoles();
    let most = 0;
    for (let i = 0; i < 10 / h + 2; i += 1) {
      poles.step(i === 0 ? 1 : 0, h);
      most = Math.max(most, poles.second);
    }
    expect(poleMost(h) / most).toBeCloseTo(1, 9);
  });
});
