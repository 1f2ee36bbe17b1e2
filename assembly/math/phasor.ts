// Cosine and sine of a phase, together. A phase is u32, 2³² = one revolution, and wraps by itself.

/** Cosine of the phase last given to `phasorSet`. */
export let phasorRe: f32 = 1;
/** Sine of the phase last given to `phasorSet`. */
export let phasorIm: f32 = 0;

/** 2⁻³²: from phase to revolutions. */
const REVOLUTIONS_PER_PHASE: f32 = 2.3283064365386963e-10;
/** 2³². */
const PHASES_PER_REVOLUTION: f32 = 4294967296.0;

/**
 * Sets `phasorRe` and `phasorIm` to cosine and sine of a phase.
 *
 * Range     any u32
 * Accuracy  |error| <= 1.2e-7 each, i.e. 2 ulp of 1
 * Source    sin 2πx, cos 2πx for |x| <= 1/8, own least-maximum fit: 2e-9, 9e-9 before rounding
 */
export function phasorSet(phase: u32): void {
  const quadrant: u32 = (phase + 0x20000000) >> 30;
  const x: f32 = <f32><i32>(phase - (quadrant << 30)) * REVOLUTIONS_PER_PHASE;
  const z: f32 = x * x;
  const sinPart: f32 = <f32>-41.3416634 + z * (<f32>81.59198 + z * <f32>-75.369644);
  const sin: f32 = x * (<f32>6.28318531 + z * sinPart);
  const cosPart: f32 = <f32>64.93936 + z * (<f32>-85.44746 + z * <f32>59.36256);
  const cos: f32 = <f32>1 + z * (<f32>-19.7392088 + z * cosPart);
  const isOdd: bool = (quadrant & 1) != 0;
  const re: f32 = isOdd ? sin : cos;
  const im: f32 = isOdd ? cos : sin;
  phasorRe = ((quadrant + 1) & 2) != 0 ? -re : re;
  phasorIm = (quadrant & 2) != 0 ? -im : im;
}

/** Phase of a count of revolutions, |revolutions| < 2³¹; whole ones fall away. */
export function phaseOf(revolutions: f32): u32 {
  return <u32><i64>(revolutions * PHASES_PER_REVOLUTION);
}
