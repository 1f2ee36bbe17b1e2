// The sample loops of the waveforms: a module of its own, which shares nothing with the firmware nor
// with the truth. It works on one chunk at a time, in f64, with + − × ÷, floor and comparisons only,
// each in the order that the scalar loop states: SIMD does two of them at once and changes no bit.

import { cosineOfRev, sineOfRev } from "../sine.ts";

/** Samples of a chunk; the carrier holds it against the grid of the waveforms. */
const CHUNK: i32 = 128;
const CHUNK_SIZE: usize = CHUNK;
const F64: usize = 8;

/** The chunk that is made, f64. */
const OUT: usize = memory.data(CHUNK << 3, 16);
/** A phasor's parts over the chunk, f64. */
const RE: usize = memory.data(CHUNK << 3, 16);
const IM: usize = memory.data(CHUNK << 3, 16);
/** The chunk as a converter gives it: f32, or i16. */
const CONVERTED: usize = memory.data(CHUNK << 2, 16);
/** A random stream's state: high and low word of its first half, then of its second. */
const STREAM: usize = memory.data(16, 16);
/** The ziggurat's layers: what a magnitude is multiplied by, and below which it surely lies inside. */
const WIDTHS: usize = memory.data(128 << 3, 16);
const INSIDE: usize = memory.data(128 << 2, 16);

export function chunkSamples(): i32 { return CHUNK; }
export function addressOut(): usize { return OUT; }
export function addressRe(): usize { return RE; }
export function addressIm(): usize { return IM; }
export function addressConverted(): usize { return CONVERTED; }
export function addressStream(): usize { return STREAM; }
export function addressWidths(): usize { return WIDTHS; }
export function addressInside(): usize { return INSIDE; }

/** Sets the chunk to zero. */
export function clear(): void {
  memory.fill(OUT, 0, CHUNK << 3);
}

/**
 * Adds Re[(re + j·im)·e^(j2πphase)] of steady turn to OUT[from … until): four runs of every fourth
 * sample, each by x(n+4) = 2·cos(4·turn)·x(n) − x(n−4): none waits for another, and the imaginary
 * parts are not needed.
 *
 * Shape     phase in revolutions; one and four: e^(j2π·turn) of a sample and of four
 */
export function addSteady(
  from: i32, until: i32, phaseRev: f64, re: f64, im: f64,
  oneX: f64, oneY: f64, fourX: f64, fourY: f64,
): void {
  const c = cosineOfRev(phaseRev);
  const s = sineOfRev(phaseRev);
  let x0 = re * c - im * s;
  const y0 = re * s + im * c;
  let x1 = x0 * oneX - y0 * oneY;
  const y1 = x0 * oneY + y0 * oneX;
  let x2 = x1 * oneX - y1 * oneY;
  const y2 = x1 * oneY + y1 * oneX;
  let x3 = x2 * oneX - y2 * oneY;
  const y3 = x2 * oneY + y2 * oneX;
  // The samples four before these.
  let was0 = x0 * fourX + y0 * fourY;
  let was1 = x1 * fourX + y1 * fourY;
  let was2 = x2 * fourX + y2 * fourY;
  let was3 = x3 * fourX + y3 * fourY;
  const twice = 2 * fourX;
  let at: usize = OUT + (from << 3);
  const count = until - from;
  if (ASC_FEATURE_SIMD) {
    const by = f64x2.splat(twice);
    let low = f64x2(x0, x1), high = f64x2(x2, x3);
    let lowWas = f64x2(was0, was1), highWas = f64x2(was2, was3);
    // Bounded by the chunk.
    for (let left: i32 = count >> 2; left != 0; left--) {
      v128.store(at, f64x2.add(v128.load(at), low));
      v128.store(at, f64x2.add(v128.load(at, 16), high), 16);
      at += 4 * F64;
      const lowNext = f64x2.sub(f64x2.mul(by, low), lowWas);
      lowWas = low;
      low = lowNext;
      const highNext = f64x2.sub(f64x2.mul(by, high), highWas);
      highWas = high;
      high = highNext;
    }
    x0 = f64x2.extract_lane(low, 0);
    x1 = f64x2.extract_lane(low, 1);
    x2 = f64x2.extract_lane(high, 0);
  } else {
    for (let left: i32 = count >> 2; left != 0; left--) {
      store<f64>(at, load<f64>(at) + x0);
      store<f64>(at, load<f64>(at, 8) + x1, 8);
      store<f64>(at, load<f64>(at, 16) + x2, 16);
      store<f64>(at, load<f64>(at, 24) + x3, 24);
      at += 4 * F64;
      const next0 = twice * x0 - was0;
      was0 = x0;
      x0 = next0;
      const next1 = twice * x1 - was1;
      was1 = x1;
      x1 = next1;
      const next2 = twice * x2 - was2;
      was2 = x2;
      x2 = next2;
      const next3 = twice * x3 - was3;
      was3 = x3;
      x3 = next3;
    }
  }
  const rest = count & 3;
  if (rest > 0) store<f64>(at, load<f64>(at) + x0);
  if (rest > 1) store<f64>(at, load<f64>(at, 8) + x1, 8);
  if (rest > 2) store<f64>(at, load<f64>(at, 16) + x2, 16);
}

/**
 * The same with a turn that turns: two phasors, of every second sample, with their own turns, which
 * the bend turns.
 */
export function addChirp(
  from: i32, until: i32, bendX: f64, bendY: f64,
  x0: f64, y0: f64, x1: f64, y1: f64, turnX0: f64, turnY0: f64, turnX1: f64, turnY1: f64,
): void {
  let at: usize = OUT + (from << 3);
  const count = until - from;
  if (ASC_FEATURE_SIMD) {
    let x = f64x2(x0, x1), y = f64x2(y0, y1);
    let turnX = f64x2(turnX0, turnX1), turnY = f64x2(turnY0, turnY1);
    const byX = f64x2.splat(bendX), byY = f64x2.splat(bendY);
    for (let left: i32 = count >> 1; left != 0; left--) {
      v128.store(at, f64x2.add(v128.load(at), x));
      at += 2 * F64;
      const was = x;
      x = f64x2.sub(f64x2.mul(was, turnX), f64x2.mul(y, turnY));
      y = f64x2.add(f64x2.mul(was, turnY), f64x2.mul(y, turnX));
      const turnWas = turnX;
      turnX = f64x2.sub(f64x2.mul(turnWas, byX), f64x2.mul(turnY, byY));
      turnY = f64x2.add(f64x2.mul(turnWas, byY), f64x2.mul(turnY, byX));
    }
    x0 = f64x2.extract_lane(x, 0);
  } else {
    for (let left: i32 = count >> 1; left != 0; left--) {
      store<f64>(at, load<f64>(at) + x0);
      store<f64>(at, load<f64>(at, 8) + x1, 8);
      at += 2 * F64;
      const was0 = x0;
      x0 = was0 * turnX0 - y0 * turnY0;
      y0 = was0 * turnY0 + y0 * turnX0;
      const was1 = x1;
      x1 = was1 * turnX1 - y1 * turnY1;
      y1 = was1 * turnY1 + y1 * turnX1;
      const turnWas0 = turnX0;
      turnX0 = turnWas0 * bendX - turnY0 * bendY;
      turnY0 = turnWas0 * bendY + turnY0 * bendX;
      const turnWas1 = turnX1;
      turnX1 = turnWas1 * bendX - turnY1 * bendY;
      turnY1 = turnWas1 * bendY + turnY1 * bendX;
    }
  }
  if ((count & 1) != 0) store<f64>(at, load<f64>(at) + x0);
}

/** Writes a phasor at `count` successive steps to RE and IM; its turn turns by the bend. */
export function fillPhasor(
  count: i32, x: f64, y: f64, turnX: f64, turnY: f64, bendX: f64, bendY: f64,
): void {
  const end = count << 3;
  for (let at: i32 = 0; at < end; at += 8) {
    store<f64>(RE + at, x);
    store<f64>(IM + at, y);
    const was = x;
    x = was * turnX - y * turnY;
    y = was * turnY + y * turnX;
    const turnWas = turnX;
    turnX = turnWas * bendX - turnY * bendY;
    turnY = turnWas * bendY + turnY * bendX;
  }
}

/** Adds Re[a(t)·(RE + j·IM)] to OUT[from … from + count), t = i·step, a of fourth degree. */
export function addVarying(
  from: i32, count: i32, step: f64,
  a0: f64, a1: f64, a2: f64, a3: f64, a4: f64, b0: f64, b1: f64, b2: f64, b3: f64, b4: f64,
): void {
  const to = OUT + (from << 3);
  for (let i: i32 = 0; i < count; i++) {
    const t = <f64>i * step;
    const a = a0 + t * (a1 + t * (a2 + t * (a3 + t * a4)));
    const b = b0 + t * (b1 + t * (b2 + t * (b3 + t * b4)));
    const at: usize = i << 3;
    const x = a * load<f64>(RE + at) - b * load<f64>(IM + at);
    store<f64>(to + at, load<f64>(to + at) + x);
  }
}

/**
 * Adds rms times a Gaussian number to OUT[from … CHUNK) for as long as the ziggurat's quick way
 * serves; answers the sample that needs another, with the stream as before its draw, or CHUNK.
 *
 * Source    Marsaglia, Tsang 2000; Doornik 2005: see random/gaussian.ts, which draws the rest.
 *           Blackman, Vigna 2018 (xoroshiro128+)
 */
export function addNoise(from: i32, rms: f64): i32 {
  let first = rotl<u64>(load<u64>(STREAM, 0), 32);
  let second = rotl<u64>(load<u64>(STREAM, 8), 32);
  let i = from;
  for (; i < CHUNK; i++) {
    const bits = <u32>(first + second);
    const layer: usize = bits >> 25;
    const magnitude = <i32>(bits & 0xffffff);
    if (magnitude >= load<i32>(INSIDE + (layer << 2))) break;
    const x = (<f64>magnitude + 0.5) * load<f64>(WIDTHS + (layer << 3));
    const at = OUT + (<usize>i << 3);
    store<f64>(at, load<f64>(at) + rms * ((bits & 0x1000000) != 0 ? -x : x));
    const both = first ^ second;
    first = rotl<u64>(first, 24) ^ both ^ (both << 16);
    second = rotl<u64>(both, 37);
  }
  store<u64>(STREAM, rotl<u64>(first, 32), 0);
  store<u64>(STREAM, rotl<u64>(second, 32), 8);
  return i;
}

/** OUT as f32, to CONVERTED. */
export function convertFloats(): void {
  for (let i: usize = 0; i < CHUNK_SIZE; i += 2) {
    if (ASC_FEATURE_SIMD) {
      const two = f32x4.demote_f64x2_zero(v128.load(OUT + (i << 3)));
      v128.store64_lane(CONVERTED + (i << 2), two, 0);
    } else {
      store<f32>(CONVERTED + (i << 2), <f32>load<f64>(OUT + (i << 3), 0), 0);
      store<f32>(CONVERTED + (i << 2), <f32>load<f64>(OUT + (i << 3), 8), 4);
    }
  }
}

/** A converter's count of a value: half a step up, within 16 bits. A NaN stays one. */
@inline
function countOf(value: f64, step: f64): f64 {
  const count = Math.floor(value / step + 0.5);
  if (count > 32767) return 32767;
  return count < -32768 ? -32768 : count;
}

/** OUT as i16 counts of a step, to CONVERTED; what is no number becomes 0. */
export function convertCounts(step: f64): void {
  for (let i: usize = 0; i < CHUNK_SIZE; i++) {
    const count = countOf(load<f64>(OUT + (i << 3)), step);
    store<i16>(CONVERTED + (i << 1), count == count ? <i16><i32>count : 0);
  }
}

/** The same counts times the step, as f32. */
export function convertCountsToFloats(step: f64): void {
  const by: f64 = <f64><f32>step;
  for (let i: usize = 0; i < CHUNK_SIZE; i++) {
    store<f32>(CONVERTED + (i << 2), <f32>(countOf(load<f64>(OUT + (i << 3)), step) * by));
  }
}
