// A segment on vectors of four lanes: the operations of the scalar form in segment.ts, lane by lane
// in its order, and so its bits. Only a build with SIMD holds it. The phasors of a segment stand in
// the scratch, where filters of one order share them.
import { SCRATCH } from "../memory.ts";

/** 2⁻³²: from phase to revolutions. */
const REVOLUTIONS_PER_PHASE: f32 = 2.3283064365386963e-10;

/** Samples of a row: two vectors, the lanes 0–3 and 4–7. */
const ROW_SAMPLES: i32 = 8;
const ROW_BYTES: usize = 4 * ROW_SAMPLES;

/** The samples of the last row, which may not be whole. */
const LAST_ROW: usize = SCRATCH;
/** A row's phasors after the other: re of lanes 0–3, im of 0–3, re of 4–7, im of 4–7. */
const PHASORS: usize = LAST_ROW + ROW_BYTES;
const PHASORS_ROW_BYTES: usize = 64;

/** A value with the sign that the quadrant gives: that of a sine, of a cosine with `turn` = 1. */
@inline
function signed(value: v128, quadrant: v128, turn: i32): v128 {
  // The quadrant's second bit, moved to the sign, turns the value round.
  const bit = v128.and(i32x4.add(quadrant, i32x4.splat(turn)), i32x4.splat(2));
  return v128.xor(value, i32x4.shl(bit, 30));
}

/** re·x − im·y, and below re·y + im·x: a product of complex numbers, lane by lane. */
@inline
function productRe(re: v128, im: v128, byRe: v128, byIm: v128): v128 {
  return f32x4.sub(f32x4.mul(re, byRe), f32x4.mul(im, byIm));
}
@inline
function productIm(re: v128, im: v128, byRe: v128, byIm: v128): v128 {
  return f32x4.add(f32x4.mul(re, byIm), f32x4.mul(im, byRe));
}

/** d·a − 8·t, the first moment of lanes at d. */
@inline
function firstMoment(d: v128, a: v128, t: v128): v128 {
  return f32x4.sub(f32x4.mul(d, a), f32x4.mul(f32x4.splat(8), t));
}

/** d·(m1 − 8·t) − 64·t + 128·q, the second. */
@inline
function secondMoment(d: v128, m1: v128, t: v128, q: v128): v128 {
  const inner = f32x4.mul(d, f32x4.sub(m1, f32x4.mul(f32x4.splat(8), t)));
  const less = f32x4.sub(inner, f32x4.mul(f32x4.splat(64), t));
  return f32x4.add(less, f32x4.mul(f32x4.splat(128), q));
}

/** Adds the lanes of two vectors in pairs: v0 + v1, v2 + v3, w0 + w1, w2 + w3. */
@inline
function pairSums(v: v128, w: v128): v128 {
  return f32x4.add(
    v128.shuffle<f32>(v, w, 0, 2, 4, 6),
    v128.shuffle<f32>(v, w, 1, 3, 5, 7),
  );
}

/** Of the segment and order in hand: see segment.ts. */
let mu: f32 = 0;
let slope: f32 = 0;
let bend: f32 = 0;
let weightSlope: f32 = 0;
let skew: f32 = 0;
let centreSpeed: f32 = 0;

/**
 * Sets what filters of one order share.
 *
 * Shape     a segment of `count` samples; speed in cycles/sample at its centre; spread, rho, kappa
 *           as in segment.ts
 */
export function vectorOrder(
  count: i32, order: u32, phaseFirst: u32, phaseStep: u32, speed: f32,
  spread: f32, rho: f32, kappa: f32,
): void {
  mu = spread;
  slope = rho;
  bend = kappa;
  skew = <f32>0.8 * kappa * spread;
  weightSlope = <f32>1.5 * rho;
  centreSpeed = speed;
  // Three phasors at once: of a step, of the first sample, of eight steps.
  const phases = i32x4.neg(
    i32x4.mul(
      i32x4.splat(order),
      i32x4.replace_lane(
        i32x4.replace_lane(i32x4.splat(phaseStep), 1, phaseFirst), 2, 8 * phaseStep,
      ),
    ),
  );
  const quadrant = i32x4.shr_u(i32x4.add(phases, i32x4.splat(0x20000000)), 30);
  const angle = f32x4.convert_i32x4_s(i32x4.sub(phases, i32x4.shl(quadrant, 30)));
  const g = f32x4.mul(angle, f32x4.splat(REVOLUTIONS_PER_PHASE));
  const z = f32x4.mul(g, g);
  let part = f32x4.add(f32x4.splat(81.59198), f32x4.mul(z, f32x4.splat(-75.369644)));
  part = f32x4.add(f32x4.splat(-41.3416634), f32x4.mul(z, part));
  const sin = f32x4.mul(g, f32x4.add(f32x4.splat(6.28318531), f32x4.mul(z, part)));
  part = f32x4.add(f32x4.splat(-85.44746), f32x4.mul(z, f32x4.splat(59.36256)));
  part = f32x4.add(f32x4.splat(64.93936), f32x4.mul(z, part));
  part = f32x4.add(f32x4.splat(-19.7392088), f32x4.mul(z, part));
  const cos = f32x4.add(f32x4.splat(1), f32x4.mul(z, part));
  const isOdd = i32x4.neg(v128.and(quadrant, i32x4.splat(1)));
  const re = signed(v128.bitselect(sin, cos, isOdd), quadrant, 1);
  const im = signed(v128.bitselect(cos, sin, isOdd), quadrant, 0);

  // The eight lanes' first phasors by doubling: p those of lanes 0–3, s of 4–7.
  const rRe = v128.shuffle<f32>(re, re, 0, 0, 0, 0);
  const rIm = v128.shuffle<f32>(im, im, 0, 0, 0, 0);
  const r2Re = productRe(rRe, rIm, rRe, rIm);
  const r2Im = f32x4.mul(f32x4.mul(f32x4.splat(2), rRe), rIm);
  const r4Re = productRe(r2Re, r2Im, r2Re, r2Im);
  const r4Im = f32x4.mul(f32x4.mul(f32x4.splat(2), r2Re), r2Im);
  const weight = f32x4.splat(2 * speed);
  const p0Re = f32x4.mul(weight, v128.shuffle<f32>(re, re, 1, 1, 1, 1));
  const p0Im = f32x4.mul(weight, v128.shuffle<f32>(im, im, 1, 1, 1, 1));
  const p01Re = v128.shuffle<f32>(p0Re, productRe(p0Re, p0Im, rRe, rIm), 0, 4, 0, 4);
  const p01Im = v128.shuffle<f32>(p0Im, productIm(p0Re, p0Im, rRe, rIm), 0, 4, 0, 4);
  let pRe = v128.shuffle<f32>(p01Re, productRe(p01Re, p01Im, r2Re, r2Im), 0, 1, 4, 5);
  let pIm = v128.shuffle<f32>(p01Im, productIm(p01Re, p01Im, r2Re, r2Im), 0, 1, 4, 5);
  let sRe = productRe(pRe, pIm, r4Re, r4Im);
  let sIm = productIm(pRe, pIm, r4Re, r4Im);
  const turnRe = v128.shuffle<f32>(re, re, 2, 2, 2, 2);
  const turnIm = v128.shuffle<f32>(im, im, 2, 2, 2, 2);

  let at = PHASORS;
  // Bounded by the rows of a segment.
  for (let left: i32 = (count + ROW_SAMPLES - 1) / ROW_SAMPLES; left != 0; left--) {
    v128.store(at, pRe, 0);
    v128.store(at, pIm, 16);
    v128.store(at, sRe, 32);
    v128.store(at, sIm, 48);
    at += PHASORS_ROW_BYTES;
    const pNext = productRe(pRe, pIm, turnRe, turnIm);
    pIm = productIm(pRe, pIm, turnRe, turnIm);
    pRe = pNext;
    const sNext = productRe(sRe, sIm, turnRe, turnIm);
    sIm = productIm(sRe, sIm, turnRe, turnIm);
    sRe = sNext;
  }
}

/** −j times a number: its parts change places, and the second turns its sign. */
@inline
function byMinusJ(value: v128): v128 {
  const turned = v128.shuffle<f32>(value, value, 1, 0, 3, 2);
  return v128.xor(turned, i32x4(0, 0x80000000, 0, 0x80000000));
}

/**
 * Takes a segment's samples with the order that was set.
 *
 * Shape     f32[count] at `samples`, of which whole rows of eight are read; fraction, shift as in
 *           segment.ts
 * Effect    answers sum re, sum im, moment re, moment im
 */
export function vectorTake(samples: usize, count: i32, fraction: f32, shift: f32): v128 {
  const rows: i32 = (count + ROW_SAMPLES - 1) / ROW_SAMPLES;
  // A lane that has no sample in the last row takes a zero.
  const lanes = i32x4(0, 1, 2, 3);
  const left = i32x4.splat(count - ROW_SAMPLES * (rows - 1));
  const lastRow = samples + ROW_BYTES * (rows - 1);
  const isLow = i32x4.gt_s(left, lanes);
  const isHigh = i32x4.gt_s(left, i32x4(4, 5, 6, 7));
  v128.store(LAST_ROW, v128.and(v128.load(lastRow, 0), isLow), 0);
  v128.store(LAST_ROW, v128.and(v128.load(lastRow, 16), isHigh), 16);

  const none = f32x4.splat(0);
  let aRe = none, aIm = none, tRe = none, tIm = none, qRe = none, qIm = none;
  let bRe = none, bIm = none, uRe = none, uIm = none, vRe = none, vIm = none;
  let phasors = PHASORS;
  // Bounded by the rows of a segment.
  for (let from = samples; ; from += ROW_BYTES) {
    const isLast = from == lastRow;
    const row = isLast ? LAST_ROW : from;
    const x = v128.load(row, 0);
    const y = v128.load(row, 16);
    aRe = f32x4.add(aRe, f32x4.mul(x, v128.load(phasors, 0)));
    aIm = f32x4.add(aIm, f32x4.mul(x, v128.load(phasors, 16)));
    bRe = f32x4.add(bRe, f32x4.mul(y, v128.load(phasors, 32)));
    bIm = f32x4.add(bIm, f32x4.mul(y, v128.load(phasors, 48)));
    phasors += PHASORS_ROW_BYTES;
    tRe = f32x4.add(tRe, aRe);
    tIm = f32x4.add(tIm, aIm);
    uRe = f32x4.add(uRe, bRe);
    uIm = f32x4.add(uIm, bIm);
    qRe = f32x4.add(qRe, tRe);
    qIm = f32x4.add(qIm, tIm);
    vRe = f32x4.add(vRe, uRe);
    vIm = f32x4.add(vIm, uIm);
    if (isLast) break;
  }

  const first = f32x4.convert_i32x4_s(i32x4.add(i32x4.splat(8 * rows), lanes));
  const d = f32x4.sub(first, f32x4.splat(<f32>(count - 1) * 0.5));
  const e = f32x4.add(d, f32x4.splat(4));
  const m1Re = firstMoment(d, aRe, tRe);
  const m1Im = firstMoment(d, aIm, tIm);
  const n1Re = firstMoment(e, bRe, uRe);
  const n1Im = firstMoment(e, bIm, uIm);
  const m2Re = f32x4.add(secondMoment(d, m1Re, tRe, qRe), secondMoment(e, n1Re, uRe, vRe));
  const m2Im = f32x4.add(secondMoment(d, m1Im, tIm, qIm), secondMoment(e, n1Im, uIm, vIm));
  const s0 = pairSums(f32x4.add(aRe, bRe), f32x4.add(aIm, bIm));
  const m1 = pairSums(f32x4.add(m1Re, n1Re), f32x4.add(m1Im, n1Im));
  const m2 = pairSums(m2Re, m2Im);
  // Lanes 0 and 1 hold a complex number each.
  const sums0 = pairSums(s0, s0);
  const sums1 = pairSums(m1, m1);
  const zeta = f32x4.sub(pairSums(m2, m2), f32x4.mul(f32x4.splat(mu), sums0));
  const bent = byMinusJ(f32x4.mul(f32x4.splat(bend), zeta));
  const t = f32x4.add(f32x4.mul(f32x4.splat(slope), sums1), bent);
  const sum = f32x4.add(sums0, t);
  const gone = f32x4.splat(fraction);
  const own = f32x4.add(
    f32x4.mul(f32x4.splat(fraction + shift), sums0), f32x4.mul(gone, t),
  );
  const skewed = byMinusJ(f32x4.mul(f32x4.splat(skew), sums1));
  const leaning = f32x4.add(sums1, f32x4.mul(f32x4.splat(weightSlope), zeta));
  const inner = f32x4.add(leaning, skewed);
  const moment = f32x4.add(own, f32x4.mul(f32x4.splat(centreSpeed), inner));
  return v128.shuffle<f32>(sum, moment, 0, 1, 4, 5);
}
