// Integrals of a smooth function times an oscillation, exact in the oscillation: the smooth part is
// expanded in Legendre polynomials at Gauss points, each polynomial's transform is a spherical
// Bessel function. Panels are halved until the expansion has converged.
import type { Complex } from "./complex.ts";

/** Points of a panel: a polynomial of degree 15 is followed exactly. */
const POINTS = 16;
/** Where the last coefficients are under this share of the largest, the panel has converged. */
const CONVERGED = 1e-12;
const HALVINGS_MAX = 14;

/** Nodes and weights of Gauss–Legendre by Newton's method on the three-term recursion. */
export function gaussLegendre(count: number): { nodes: Float64Array; weights: Float64Array } {
  const nodes = new Float64Array(count);
  const weights = new Float64Array(count);
  for (let i = 0; i < count; i += 1) {
    let x = Math.cos((Math.PI * (i + 0.75)) / (count + 0.5));
    let slope = 1;
    for (let round = 0; round < 100; round += 1) {
      let below = 1;
      let here = x;
      for (let l = 2; l <= count; l += 1) {
        const next = ((2 * l - 1) * x * here - (l - 1) * below) / l;
        below = here;
        here = next;
      }
      slope = (count * (x * here - below)) / (x * x - 1);
      const change = here / slope;
      x -= change;
      if (Math.abs(change) < 1e-16) break;
    }
    nodes[count - 1 - i] = x;
    weights[count - 1 - i] = 2 / ((1 - x * x) * slope * slope);
  }
  return { nodes, weights };
}

const RULE = gaussLegendre(POINTS);

/** Row l: (2l+1)/2 · weight · P_l(node): turns values at the nodes into Legendre coefficients. */
const TO_LEGENDRE: Float64Array[] = [];
for (let l = 0; l < POINTS; l += 1) {
  const row = new Float64Array(POINTS);
  for (let i = 0; i < POINTS; i += 1) {
    const x = RULE.nodes[i]!;
    let below = 1;
    let here = l === 0 ? 1 : x;
    for (let n = 2; n <= l; n += 1) {
      const next = ((2 * n - 1) * x * here - (n - 1) * below) / n;
      below = here;
      here = next;
    }
    row[i] = ((2 * l + 1) / 2) * RULE.weights[i]! * here;
  }
  TO_LEGENDRE.push(row);
}

/**
 * Spherical Bessel functions j_0 … j_(count−1) at x.
 *
 * Accuracy  1e-14 absolute: by Miller's downward recursion, scaled with Σ(2l+1)·j_l² = 1
 * Source    NIST Digital Library of Mathematical Functions, 10.51(i), 10.60 (from memory)
 */
export function sphericalBessel(count: number, x: number): Float64Array {
  const result = new Float64Array(count);
  const u = Math.abs(x);
  if (u < 1e-8) {
    result[0] = 1;
    if (count > 1) result[1] = x / 3;
    return result;
  }
  const start = Math.ceil(Math.max(count, u) + 30 + 4 * Math.sqrt(Math.max(count, u)));
  let above = 0;
  let here = 1e-100;
  let sum = (2 * start + 1) * here * here;
  const kept = new Float64Array(count);
  for (let l = start; l > 0; l -= 1) {
    const below = ((2 * l + 1) / u) * here - above;
    above = here;
    here = below;
    if (l - 1 < count) kept[l - 1] = here;
    sum += (2 * l - 1) * here * here;
    if (Math.abs(here) > 1e120) {
      here *= 1e-120;
      above *= 1e-120;
      sum *= 1e-240;
      for (let i = 0; i < count; i += 1) kept[i]! *= 1e-120;
    }
  }
  // The sum of squares leaves the sign open: j_0 = sin(u)/u and j_1 settle it.
  const j0 = Math.sin(u) / u;
  const j1 = j0 / u - Math.cos(u) / u;
  const norm = 1 / Math.sqrt(sum);
  const isBig0 = Math.abs(j0) > Math.abs(j1) || count < 2;
  const sign = (isBig0 ? Math.sign(j0 * kept[0]!) : Math.sign(j1 * kept[1]!)) || 1;
  for (let l = 0; l < count; l += 1) {
    const odd = x < 0 && l % 2 === 1 ? -1 : 1;
    result[l] = kept[l]! * norm * sign * odd;
  }
  return result;
}

const besselCache = new Map<number, Float64Array>();

function besselAt(x: number): Float64Array {
  const found = besselCache.get(x);
  if (found !== undefined) return found;
  if (besselCache.size > 4096) besselCache.clear();
  const made = sphericalBessel(POINTS + 1, x);
  besselCache.set(x, made);
  return made;
}

/** A smooth complex function of u, written into `out`. */
export type SmoothFunction = (u: number, out: Complex) => void;

/** What an oscillation leaves of a function over [0, 1]: plain, and weighted with u. */
export interface Moments {
  plain: Complex;
  rising: Complex;
}

const valueRe = new Float64Array(POINTS);
const valueIm = new Float64Array(POINTS);
const coefficientRe = new Float64Array(POINTS);
const coefficientIm = new Float64Array(POINTS);
const point: Complex = { re: 0, im: 0 };
const plainSum: Complex = { re: 0, im: 0 };
const slopeSum: Complex = { re: 0, im: 0 };

/** Legendre coefficients of g over a panel; answers the last ones' share of the largest value. */
function expand(g: SmoothFunction, middle: number, half: number): number {
  let largest = 0;
  for (let i = 0; i < POINTS; i += 1) {
    g(middle + half * RULE.nodes[i]!, point);
    valueRe[i] = point.re;
    valueIm[i] = point.im;
    largest = Math.max(largest, Math.abs(point.re), Math.abs(point.im));
  }
  let tail = 0;
  for (let l = 0; l < POINTS; l += 1) {
    const row = TO_LEGENDRE[l]!;
    let re = 0;
    let im = 0;
    for (let i = 0; i < POINTS; i += 1) {
      re += row[i]! * valueRe[i]!;
      im += row[i]! * valueIm[i]!;
    }
    coefficientRe[l] = re;
    coefficientIm[l] = im;
    if (l >= POINTS - 3) tail = Math.max(tail, Math.abs(re), Math.abs(im));
  }
  return largest > 0 ? tail / largest : 0;
}

/** ∫ g·e^(jws) ds and ∫ s·g·e^(jws) ds over [−1, 1], from the coefficients; sign −1 takes g*. */
function transform(w: number, sign: 1 | -1): void {
  const bessel = besselAt(w);
  plainSum.re = 0;
  plainSum.im = 0;
  slopeSum.re = 0;
  slopeSum.im = 0;
  for (let l = 0; l < POINTS; l += 1) {
    const re = coefficientRe[l]!;
    const im = sign * coefficientIm[l]!;
    // ∫ P_l(s)·e^(jws) ds = 2·j^l·j_l(w); s·P_l = ((l+1)·P_(l+1) + l·P_(l−1))/(2l+1)
    const plain = 2 * bessel[l]!;
    const above = ((l + 1) / (2 * l + 1)) * 2 * bessel[l + 1]!;
    const below = l === 0 ? 0 : (l / (2 * l + 1)) * 2 * bessel[l - 1]!;
    const slope = above - below;
    const turn = l & 3;
    const cos = turn === 0 ? 1 : turn === 2 ? -1 : 0;
    const sin = turn === 1 ? 1 : turn === 3 ? -1 : 0;
    plainSum.re += plain * (cos * re - sin * im);
    plainSum.im += plain * (cos * im + sin * re);
    // j^(l+1)·slope: one more quarter turn; the lower neighbour's j^(l−1) is −j^(l+1).
    slopeSum.re += slope * (-sin * re - cos * im);
    slopeSum.im += slope * (-sin * im + cos * re);
  }
}

/**
 * Adds ∫ g·e^(j·rate·u) du and ∫ u·g·e^(j·rate·u) du over [from, until] to the direct moments, and
 * the same of the conjugate of g with the image's rate to the image's moments. g is smooth within.
 *
 * Range     0 ≤ from < until ≤ 1
 * Accuracy  1e-11 of the largest |g|, whatever the rates
 */
export function addMoments(
  g: SmoothFunction,
  from: number,
  until: number,
  rate: number,
  imageRate: number,
  direct: Moments,
  image: Moments,
  depth = 0,
  tailBefore = Infinity,
): void {
  const half = 0.5 * (until - from);
  const middle = 0.5 * (until + from);
  if (!(half > 0)) return;
  const tail = expand(g, middle, half);
  // Where halving no longer helps, what is left is the rounding of g itself.
  const isRounding = tail < 1e-9 && tail > tailBefore / 4;
  if (tail > CONVERGED && !isRounding && depth < HALVINGS_MAX) {
    addMoments(g, from, middle, rate, imageRate, direct, image, depth + 1, tail);
    addMoments(g, middle, until, rate, imageRate, direct, image, depth + 1, tail);
    return;
  }
  transform(rate * half, 1);
  place(rate, half, middle, direct);
  transform(imageRate * half, -1);
  place(imageRate, half, middle, image);
}

function place(rate: number, half: number, middle: number, into: Moments): void {
  const cos = half * Math.cos(rate * middle);
  const sin = half * Math.sin(rate * middle);
  const re = plainSum.re * cos - plainSum.im * sin;
  const im = plainSum.re * sin + plainSum.im * cos;
  into.plain.re += re;
  into.plain.im += im;
  into.rising.re += middle * re + half * (slopeSum.re * cos - slopeSum.im * sin);
  into.rising.im += middle * im + half * (slopeSum.re * sin + slopeSum.im * cos);
}
