// Loops over samples on vectors of four lanes. Each takes whole vectors from the front, does what the
// scalar loop does, in its order, and leaves fewer than four samples for that loop. Only a build
// with SIMD holds it.

/** Samples of a vector. */
export const VECTOR_SAMPLES: i32 = 4;
const VECTOR_BYTES: usize = 16;

/**
 * Copies f32 samples while every one of a vector has |x| <= limit.
 *
 * Effect    answers how many were copied, a multiple of four
 */
export function vectorCopy(to: usize, from: usize, count: i32, limit: f32): i32 {
  const most = f32x4.splat(limit);
  const end = count & ~(VECTOR_SAMPLES - 1);
  let done: i32 = 0;
  // Bounded by the count.
  while (done < end) {
    const x = v128.load(from);
    if (!i32x4.all_true(f32x4.le(f32x4.abs(x), most))) break;
    v128.store(to, x);
    from += VECTOR_BYTES;
    to += VECTOR_BYTES;
    done += VECTOR_SAMPLES;
  }
  return done;
}

/**
 * Puts i16 counts times a step as f32.
 *
 * Effect    answers how many, a multiple of four
 */
export function vectorScale(to: usize, from: usize, count: i32, step: f32): i32 {
  const by = f32x4.splat(step);
  const end = count & ~(VECTOR_SAMPLES - 1);
  for (let done: i32 = 0; done < end; done += VECTOR_SAMPLES) {
    const counts = i32x4.extend_low_i16x8_s(v128.load64_zero(from));
    v128.store(to, f32x4.mul(f32x4.convert_i32x4_s(counts), by));
    from += VECTOR_BYTES / 2;
    to += VECTOR_BYTES;
  }
  return end;
}

/** How many of the first samples have |x| >= range; `count` a multiple of four. */
export function vectorClipped(range: f32, address: usize, count: i32): u32 {
  const limit = f32x4.splat(range);
  let found = i32x4.splat(0);
  for (let done: i32 = 0; done < count; done += VECTOR_SAMPLES) {
    found = i32x4.sub(found, f32x4.ge(f32x4.abs(v128.load(address)), limit));
    address += VECTOR_BYTES;
  }
  const halves = i32x4.add(found, v128.shuffle<i32>(found, found, 2, 3, 0, 1));
  return i32x4.extract_lane(halves, 0) + i32x4.extract_lane(halves, 1);
}

// --- the sums of a health period, as vectorSums left them

export let vectorSum: f32 = 0;
export let vectorSquares: f32 = 0;
export let vectorDifferences: f32 = 0;
export let vectorLeast: f32 = 0;
export let vectorGreatest: f32 = 0;

/** Sets the sums and extremes that vectorSums goes on with. */
export function vectorSumsStart(
  sum: f32, squares: f32, differences: f32, least: f32, greatest: f32,
): void {
  vectorSum = sum;
  vectorSquares = squares;
  vectorDifferences = differences;
  vectorLeast = least;
  vectorGreatest = greatest;
}

/**
 * Goes on with Σ(x − reference), Σ(x − reference)² and Σ(x − the one before)², one sample after the
 * other as three lanes of one sum, and with the extremes.
 *
 * Shape     f32[count] at `address`, `count` a multiple of four and not 0; `last` is the one before;
 *           what vectorSumsStart set, or what a call before left
 */
export function vectorSums(address: usize, count: i32, reference: f32, last: f32): void {
  const about = f32x4.splat(reference);
  let least = f32x4.splat(vectorLeast);
  let greatest = f32x4.splat(vectorGreatest);
  let before = f32x4.splat(last);
  let sums = f32x4.replace_lane(
    f32x4.replace_lane(f32x4.splat(vectorSum), 1, vectorSquares), 2, vectorDifferences,
  );
  for (let done: i32 = 0; done < count; done += VECTOR_SAMPLES) {
    const x = v128.load(address);
    address += VECTOR_BYTES;
    const step = f32x4.sub(x, v128.shuffle<f32>(before, x, 3, 4, 5, 6));
    const offset = f32x4.sub(x, about);
    const square = f32x4.mul(offset, offset);
    const difference = f32x4.mul(step, step);
    before = x;
    const low = v128.shuffle<f32>(offset, square, 0, 4, 1, 5);
    const high = v128.shuffle<f32>(offset, square, 2, 6, 3, 7);
    sums = f32x4.add(sums, v128.shuffle<f32>(low, difference, 0, 1, 4, 4));
    sums = f32x4.add(sums, v128.shuffle<f32>(low, difference, 2, 3, 5, 5));
    sums = f32x4.add(sums, v128.shuffle<f32>(high, difference, 0, 1, 6, 6));
    sums = f32x4.add(sums, v128.shuffle<f32>(high, difference, 2, 3, 7, 7));
    least = f32x4.pmin(least, x);
    greatest = f32x4.pmax(greatest, x);
  }
  vectorSum = f32x4.extract_lane(sums, 0);
  vectorSquares = f32x4.extract_lane(sums, 1);
  vectorDifferences = f32x4.extract_lane(sums, 2);
  least = f32x4.pmin(least, v128.shuffle<f32>(least, least, 2, 3, 0, 1));
  greatest = f32x4.pmax(greatest, v128.shuffle<f32>(greatest, greatest, 2, 3, 0, 1));
  vectorLeast = min<f32>(f32x4.extract_lane(least, 0), f32x4.extract_lane(least, 1));
  vectorGreatest = max<f32>(f32x4.extract_lane(greatest, 0), f32x4.extract_lane(greatest, 1));
}
