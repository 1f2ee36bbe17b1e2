// One segment: up to SEGMENT_SAMPLES_MAX samples, rotated with one linear phase, and the
// corrections that make of it the integral over a quadratic angle: with d a sample's distance from
// the centre, w the cycles per sample there, w' its change, μ = (n² − 1)/12 the mean of d²,
//   angle   p(d) = θc + w·d, true angle p + w'(d² − μ)/2; weight dθ = w(1 + ρd), ρ = w'/w
//   S0 = Σ 2w·x·e^(−j2πkp), M1 and M2 the same with d and d²; κ = πkw', ζ = M2 − μS0
//   sum     S0 + t, t = ρM1 − jκζ
//   moment  φc(S0 + t) + w'μS0 + w(M1 + 1.5ρζ − j0.8κμM1), φc the mean fraction of the cycle gone;
//           for equal spacing Σd³·… stands for 1.8μ·M1
//
// The order of summation is part of the numerics: lane = sample index within the segment mod 8,
// folded ((0+4)+(1+5))+((2+6)+(3+7)).
import { LANES, SEGMENT_SAMPLES_MAX } from "../shared/capacity.ts";
import { SCRATCH } from "./memory.ts";
import { phaseOf, phasorIm, phasorRe, phasorSet } from "./math/phasor.ts";
import { vectorOrder, vectorTake } from "./vector/segment.ts";

const PI: f32 = 3.14159265;

// --- the geometry, the same for every filter of a shaft

let count: i32 = 0;
/** Phase of the first sample and phase of one sample step, both of the cycle. */
let phaseFirst: u32 = 0;
let phaseStep: u32 = 0;
/** Cycles per sample at the centre, and its change per sample. */
let speed: f32 = 0;
let speedChange: f32 = 0;
/** Mean fraction of the cycle gone by. */
let fraction: f32 = 0;
/** Mean square of a sample's distance from the centre. */
let spread: f32 = 0;

/**
 * Sets the geometry of a segment.
 *
 * Shape     n samples; w cycles/sample at the centre, wChange its change per sample; angle = cycles
 *           from `phaseStart` to the centre's point on the parabola; gone = the same from the start
 *           of the cycle
 */
export function segmentShape(
  n: i32,
  w: f32,
  wChange: f32,
  phaseStart: u32,
  angle: f32,
  gone: f32,
): void {
  assert(n > 0 && n <= SEGMENT_SAMPLES_MAX);
  const mu: f32 = <f32>(n * n - 1) / 12;
  // The parabola's mean over the samples belongs to the linear phase; its rest is a moment.
  const mean: f32 = wChange * mu * 0.5;
  count = n;
  speed = w;
  speedChange = wChange;
  spread = mu;
  fraction = gone + mean;
  phaseFirst = phaseStart + phaseOf(angle + mean - w * (<f32>(n - 1) * 0.5));
  phaseStep = phaseOf(w);
}

// --- sums of the segment last taken

export let sumRe: f32 = 0;
export let sumIm: f32 = 0;
/** The same, each sample times the fraction of the cycle gone by. */
export let momentRe: f32 = 0;
export let momentIm: f32 = 0;

/** Bytes of one pair's sums in the scratch: S0, M1, M2, each re and im. */
const PAIR_BYTES: usize = 24;
const PAIRS: i32 = LANES / 2;

/** Phasors of the eight lanes' first samples, by doubling: 8 × {re, im} at SCRATCH. */
function lanesStart(order: u32): void {
  phasorSet(0 - order * phaseStep);
  const rRe = phasorRe;
  const rIm = phasorIm;
  const r2Re: f32 = rRe * rRe - rIm * rIm;
  const r2Im: f32 = 2 * rRe * rIm;
  const r4Re: f32 = r2Re * r2Re - r2Im * r2Im;
  const r4Im: f32 = 2 * r2Re * r2Im;
  phasorSet(0 - order * phaseFirst);
  const p0Re: f32 = 2 * speed * phasorRe;
  const p0Im: f32 = 2 * speed * phasorIm;
  const p1Re: f32 = p0Re * rRe - p0Im * rIm;
  const p1Im: f32 = p0Re * rIm + p0Im * rRe;
  const p2Re: f32 = p0Re * r2Re - p0Im * r2Im;
  const p2Im: f32 = p0Re * r2Im + p0Im * r2Re;
  const p3Re: f32 = p1Re * r2Re - p1Im * r2Im;
  const p3Im: f32 = p1Re * r2Im + p1Im * r2Re;
  storePair(0, p0Re, p0Im, r4Re, r4Im);
  storePair(1, p1Re, p1Im, r4Re, r4Im);
  storePair(2, p2Re, p2Im, r4Re, r4Im);
  storePair(3, p3Re, p3Im, r4Re, r4Im);
}

// Laid out as four vectors: re of lanes 0–3, im of 0–3, re of 4–7, im of 4–7.
function storePair(lane: usize, re: f32, im: f32, r4Re: f32, r4Im: f32): void {
  const at = SCRATCH + 4 * lane;
  store<f32>(at, re, 0);
  store<f32>(at, im, 16);
  store<f32>(at, re * r4Re - im * r4Im, 32);
  store<f32>(at, re * r4Im + im * r4Re, 48);
}

/** Where the pairs' sums stand, behind the lanes' phasors. */
const SUMS: usize = SCRATCH + 64;

/**
 * Lanes `lane` and `lane + 4` over the segment: S0, M1, M2 of both together, at SUMS.
 *
 * A, T = ΣA, Q = ΣT are prefix sums, so that the moments about the centre cost additions only:
 * with D = 8B − (n−1)/2 + lane, M1 = D·A − 8T and M2 = D(M1 − 8T) − 64T + 128Q.
 */
function pairTake(lane: i32, samples: usize, turnRe: f32, turnIm: f32): void {
  const at = SCRATCH + 4 * lane;
  let pRe = load<f32>(at, 0);
  let pIm = load<f32>(at, 16);
  let sRe = load<f32>(at, 32);
  let sIm = load<f32>(at, 48);
  let aRe: f32 = 0, aIm: f32 = 0, tRe: f32 = 0, tIm: f32 = 0, qRe: f32 = 0, qIm: f32 = 0;
  let bRe: f32 = 0, bIm: f32 = 0, uRe: f32 = 0, uIm: f32 = 0, vRe: f32 = 0, vIm: f32 = 0;
  const rows = (count + 7) >> 3;
  let from = samples + 4 * lane;
  // Bounded by the rows. A row is whole but for the last, which is taken by itself.
  let whole = rows - 1;
  if (whole != 0) do {
    const x = load<f32>(from, 0);
    const y = load<f32>(from, 16);
    from += 32;
    aRe += x * pRe;
    aIm += x * pIm;
    bRe += y * sRe;
    bIm += y * sIm;
    tRe += aRe;
    tIm += aIm;
    uRe += bRe;
    uIm += bIm;
    qRe += tRe;
    qIm += tIm;
    vRe += uRe;
    vIm += uIm;
    const pNext: f32 = pRe * turnRe - pIm * turnIm;
    pIm = pRe * turnIm + pIm * turnRe;
    pRe = pNext;
    const sNext: f32 = sRe * turnRe - sIm * turnIm;
    sIm = sRe * turnIm + sIm * turnRe;
    sRe = sNext;
    whole -= 1;
  } while (whole != 0);
  // A lane that has no sample in the last row takes a zero; without a branch, which short segments
  // would make a guess.
  const left = count - 8 * (rows - 1) - lane;
  const x = select<f32>(load<f32>(from, 0), 0, left > 0);
  const y = select<f32>(load<f32>(from, 16), 0, left > 4);
  aRe += x * pRe;
  aIm += x * pIm;
  bRe += y * sRe;
  bIm += y * sIm;
  tRe += aRe;
  tIm += aIm;
  uRe += bRe;
  uIm += bIm;
  qRe += tRe;
  qIm += tIm;
  vRe += uRe;
  vIm += uIm;
  const first: i32 = 8 * rows + lane;
  const d: f32 = <f32>first - <f32>(count - 1) * 0.5;
  const to = SUMS + PAIR_BYTES * lane;
  momentsPut(to, d, aRe, tRe, qRe, bRe, uRe, vRe);
  momentsPut(to + 4, d, aIm, tIm, qIm, bIm, uIm, vIm);
}

/** S0, M1 and M2 of two lanes four samples apart, from their prefix sums: every other word at `to`. */
@inline
function momentsPut(
  to: usize, d: f32, a: f32, t: f32, q: f32, b: f32, u: f32, v: f32,
): void {
  const e: f32 = d + 4;
  const m1: f32 = d * a - 8 * t;
  const n1: f32 = e * b - 8 * u;
  const m2: f32 = d * (m1 - 8 * t) - 64 * t + 128 * q;
  const n2: f32 = e * (n1 - 8 * u) - 64 * u + 128 * v;
  store<f32>(to, a + b, 0);
  store<f32>(to, m1 + n1, 8);
  store<f32>(to, m2 + n2, 16);
}

/** Folds one of the six sums over the four pairs. */
function fold(part: usize): f32 {
  const at = SUMS + 4 * part;
  return (load<f32>(at, 0) + load<f32>(at, 24)) + (load<f32>(at, 48) + load<f32>(at, 72));
}

/**
 * Takes the segment's samples at an order of the cycle: sumRe, sumIm, momentRe, momentIm.
 *
 * Shape     f32[count] at `samples`
 */
export function segmentTake(samples: usize, order: u32): void {
  lanesStart(order);
  phasorSet(0 - 8 * order * phaseStep);
  const turnRe = phasorRe;
  const turnIm = phasorIm;
  for (let lane: i32 = 0; lane < PAIRS; lane++) pairTake(lane, samples, turnRe, turnIm);
  const s0Re = fold(0);
  const s0Im = fold(1);
  const m1Re = fold(2);
  const m1Im = fold(3);
  const zRe: f32 = fold(4) - spread * s0Re;
  const zIm: f32 = fold(5) - spread * s0Im;
  // A parabola that stands still at the centre weighs nothing: 0/0 would stay in the poles for good.
  const rho: f32 = speed != 0 ? speedChange / speed : 0;
  const kappa: f32 = PI * <f32>order * speedChange;
  // t = ρM1 − jκζ: the weight's slope, and what the parabola departs from the line.
  const tRe: f32 = rho * m1Re + kappa * zIm;
  const tIm: f32 = rho * m1Im - kappa * zRe;
  sumRe = s0Re + tRe;
  sumIm = s0Im + tIm;
  const shift: f32 = speedChange * spread;
  const skew: f32 = <f32>0.8 * kappa * spread;
  const own: f32 = <f32>1.5 * rho;
  momentRe = (fraction + shift) * s0Re + fraction * tRe +
    speed * (m1Re + own * zRe + skew * m1Im);
  momentIm = (fraction + shift) * s0Im + fraction * tIm +
    speed * (m1Im + own * zIm - skew * m1Re);
}

// --- the same with SIMD

/** Sets the order of the cycle at which the segment's samples are taken next. */
export function simdSegmentOrder(order: u32): void {
  const rho: f32 = speed != 0 ? speedChange / speed : 0;
  const kappa: f32 = PI * <f32>order * speedChange;
  vectorOrder(count, order, phaseFirst, phaseStep, speed, spread, rho, kappa);
}

/**
 * Takes the segment's samples at that order.
 *
 * Shape     f32[count] at `samples`; answers sumRe, sumIm, momentRe, momentIm
 */
export function simdSegmentTake(samples: usize): v128 {
  return vectorTake(samples, count, fraction, speedChange * spread);
}

// --- the end of a cycle

let end0: f32 = 0, end1: f32 = 0, end2: f32 = 0, end3: f32 = 0;
let endPhase: u32 = 0;
let endStep: u32 = 0;

export let endRe: f32 = 0;
export let endIm: f32 = 0;

/**
 * Sets the geometry of a cycle's end: f of a sample after the second of four samples, at w cycles a
 * sample. What a sum of samples misses of an integral whose weight has a kink there, by the cubic
 * through the four: E1 = 2w²·Σ e_j(f)·(j−f)·x(i+j)·e^(−j2πk(j−f)w), j = −1 … 2.
 */
export function endShape(f: f32, w: f32): void {
  const scale: f32 = 2 * w * w;
  const f2: f32 = f * f;
  const f3: f32 = f2 * f;
  const f4: f32 = f2 * f2;
  const third: f32 = 1.0 / 3.0;
  const eighth4: f32 = f4 * 0.125;
  const sixth3: f32 = f3 * (third * 0.5);
  const part: f32 = f4 * (third * 0.125);
  end0 = scale * (-1 - f) * (third * 0.125 - f2 * (third * 0.5) + sixth3 - part);
  end1 = scale * (0 - f) * (<f32>-0.5 + f - f2 * 0.25 - f3 * third + eighth4);
  end2 = scale * (1 - f) * (third * -0.125 + f2 * 0.5 + sixth3 - eighth4);
  end3 = scale * (2 - f) * (part - f2 * (third * 0.25));
  endPhase = phaseOf((-1 - f) * w);
  endStep = phaseOf(w);
}

/** Takes four samples at an order of the cycle: endRe, endIm. */
export function endTake(samples: usize, order: u32): void {
  phasorSet(0 - order * endStep);
  const rRe = phasorRe;
  const rIm = phasorIm;
  phasorSet(0 - order * endPhase);
  let pRe = phasorRe;
  let pIm = phasorIm;
  let x: f32 = end0 * load<f32>(samples, 0);
  let re: f32 = x * pRe;
  let im: f32 = x * pIm;
  let next: f32 = pRe * rRe - pIm * rIm;
  pIm = pRe * rIm + pIm * rRe;
  pRe = next;
  x = end1 * load<f32>(samples, 4);
  re += x * pRe;
  im += x * pIm;
  next = pRe * rRe - pIm * rIm;
  pIm = pRe * rIm + pIm * rRe;
  pRe = next;
  x = end2 * load<f32>(samples, 8);
  re += x * pRe;
  im += x * pIm;
  next = pRe * rRe - pIm * rIm;
  pIm = pRe * rIm + pIm * rRe;
  pRe = next;
  x = end3 * load<f32>(samples, 12);
  endRe = re + x * pRe;
  endIm = im + x * pIm;
}
