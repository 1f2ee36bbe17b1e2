import { describe, expect, it } from "vitest";
import {
  addGaussian,
  gaussianOf,
  LAYER_AREA,
  TAIL_START,
} from "../../../harness/random/gaussian.ts";
import { exponential, logarithm } from "../../../harness/random/logarithm.ts";
import { randomStream, uniformOf, waitOf } from "../../../harness/random/stream.ts";
import { TEST_SEED } from "../../kit/seed.ts";

/** Six standard errors: wrong by chance once in 5e8. */
const SIGMAS = 6;

/** Simpson's rule. */
function integral(f: (x: number) => number, from: number, until: number): number {
  const steps = 20_000;
  const h = (until - from) / steps;
  let sum = f(from) + f(until);
  for (let i = 1; i < steps; i += 1) sum += f(from + i * h) * (i % 2 === 1 ? 4 : 2);
  return (sum * h) / 3;
}

const bell = (x: number): number => Math.exp((-x * x) / 2);
const share = (from: number, until: number): number =>
  integral(bell, from, until) / Math.sqrt(2 * Math.PI);

describe("random numbers", () => {
  it("[WAVE-040] logarithm and exponential are within 1e-15", () => {
    let worst = 0;
    for (let i = 1; i < 4000; i += 1) {
      for (const x of [i / 4000, i / 40, 1 + i * 1e-9, i * 1e-12]) {
        const right = Math.log(x);
        worst = Math.max(worst, Math.abs(logarithm(x) - right) / Math.max(1, Math.abs(right)));
      }
      const y = (i - 2000) / 100;
      const miss = Math.abs(exponential(y) / Math.exp(y) - 1);
      worst = Math.max(worst, miss / Math.max(1, Math.abs(y)));
    }
    expect(worst).toBeLessThan(1e-15);
  });

  /** 126 rectangles of the base's area on a base that ends at r: the last edge and its height. */
  function stackOf(r: number): { area: number; edge: number; height: number } {
    // The base: rectangle plus tail.
    const area = r * bell(r) + integral(bell, r, 14);
    let edge = r;
    let height = bell(r);
    for (let layer = 1; layer < 127; layer += 1) {
      height += area / edge;
      // Where the layers are too thick the stack grows over the top.
      if (height >= 1) return { area, edge, height };
      edge = Math.sqrt(-2 * Math.log(height));
    }
    return { area, edge, height };
  }

  it("[WAVE-041] the ziggurat's tail and area solve their definition: 128 equal areas", () => {
    // The top layer is as large as the others: by halving, the end of the base that closes there.
    let [low, high] = [3, 4];
    for (let i = 0; i < 60; i += 1) {
      const middle = (low + high) / 2;
      const { area, edge, height } = stackOf(middle);
      if (height + area / edge > 1) low = middle;
      else high = middle;
    }
    const { area, edge, height } = stackOf(high);
    expect(Math.abs((edge * (1 - height)) / area - 1)).toBeLessThan(1e-9);
    // Twelve decimals are printed, the last of them two too high: 3.442619855897 would be nearest.
    expect(Math.abs(TAIL_START - high)).toBeLessThan(3e-12);
    // The area belongs to the tail as printed: it moves by r²·bell(r) of what that is off.
    const moved = 3e-12 * high * high * bell(high);
    expect(Math.abs(LAYER_AREA - area)).toBeLessThan(moved);
    expect(Math.abs(stackOf(TAIL_START).area / LAYER_AREA - 1)).toBeLessThan(1e-13);
  });

  it("[WAVE-042] Gaussian moments and correlations are those of white noise", () => {
    const count = 400_000;
    const x = new Float64Array(count);
    addGaussian(x, count, 1, randomStream(TEST_SEED, 0));
    const mean = (f: (i: number) => number, n = count): number => {
      let sum = 0;
      for (let i = 0; i < n; i += 1) sum += f(i);
      return sum / n;
    };
    // Standard errors of the moments of a Gaussian: 1, √2, √15, √96 over √N.
    const error = SIGMAS / Math.sqrt(count);
    expect(Math.abs(mean((i) => x[i]!))).toBeLessThan(error);
    expect(Math.abs(mean((i) => x[i]! ** 2) - 1)).toBeLessThan(error * Math.sqrt(2));
    expect(Math.abs(mean((i) => x[i]! ** 3))).toBeLessThan(error * Math.sqrt(15));
    expect(Math.abs(mean((i) => x[i]! ** 4) - 3)).toBeLessThan(error * Math.sqrt(96));
    for (const lag of [1, 2, 3, 7, 64, 128]) {
      expect(Math.abs(mean((i) => x[i]! * x[i + lag]!, count - lag))).toBeLessThan(error * 1.001);
    }
  });

  it("[WAVE-043] each class holds its share of the Gaussian, corners and tail too", () => {
    const count = 1_000_000;
    const edges = [-9, -3.8, -TAIL_START, -3, -2.5, -2, -1.5, -1, -0.5, -0.25];
    edges.push(0, 0.25, 0.5, 1, 1.5, 2, 2.5, 3, TAIL_START, 3.8, 9);
    const found = edges.slice(1).map(() => 0);
    const stream = randomStream(TEST_SEED, 1);
    for (let n = 0; n < count; n += 1) {
      const x = gaussianOf(stream);
      found[edges.findIndex((edge) => edge > x) - 1]! += 1;
    }
    for (const [i, times] of found.entries()) {
      const right = count * share(edges[i]!, edges[i + 1]!);
      expect(Math.abs(times - right)).toBeLessThan(SIGMAS * Math.sqrt(right));
    }
  });

  it("[WAVE-044] waiting times have mean and deviation 1; even numbers lie within 0 and 1", () => {
    const count = 100_000;
    const stream = randomStream(TEST_SEED, 2);
    let sum = 0;
    let squares = 0;
    let inside = 0;
    for (let i = 0; i < count; i += 1) {
      const wait = waitOf(stream);
      sum += wait;
      squares += wait * wait;
      const even = uniformOf(stream);
      if (even > 0 && even < 1) inside += 1;
    }
    expect(inside).toBe(count);
    // Variances of w and w²: 1 and 20.
    expect(Math.abs(sum / count - 1)).toBeLessThan(SIGMAS / Math.sqrt(count));
    expect(Math.abs(squares / count - 2)).toBeLessThan(SIGMAS * Math.sqrt(20 / count));
  });

  it("[WAVE-045] streams of one seed, and one stream of two seeds, have nothing in common", () => {
    const of = (seed: number, index: number): number[] => {
      const stream = randomStream(seed, index);
      return Array.from({ length: 2000 }, () => gaussianOf(stream));
    };
    const first = of(TEST_SEED, 0);
    expect(of(TEST_SEED, 0)).toEqual(first);
    for (const other of [of(TEST_SEED, 1), of(TEST_SEED, 16), of(TEST_SEED + 1, 0)]) {
      let product = 0;
      for (const [i, value] of first.entries()) product += value * other[i]!;
      expect(Math.abs(product)).toBeLessThan(SIGMAS * Math.sqrt(first.length));
    }
  });
});
