// Sine and cosine of a phase in revolutions, the same bits on every machine. Read by both compilers:
// the kernel has the same.

export const TWO_PI: number = 6.283185307179586;

// Taylor coefficients: on an eighth of a revolution the first term left out is below 1e-17.
const S3: number = -1 / 6;
const S5: number = 1 / 120;
const S7: number = -1 / 5040;
const S9: number = 1 / 362880;
const S11: number = -1 / 39916800;
const S13: number = 1 / 6227020800;
const S15: number = -1 / 1307674368000;
const C2: number = -1 / 2;
const C4: number = 1 / 24;
const C6: number = -1 / 720;
const C8: number = 1 / 40320;
const C10: number = -1 / 3628800;
const C12: number = 1 / 479001600;
const C14: number = -1 / 87178291200;
const C16: number = 1 / 20922789888000;

/**
 * Sine of 2π·phase.
 *
 * Units     phase in revolutions
 * Accuracy  |error| ≤ 1e-15 plus 2π × the rounding of the phase itself
 */
export function sineOfRev(phaseRev: number): number {
  const phase = phaseRev - Math.floor(phaseRev);
  const quarter = Math.floor(4 * phase + 0.5);
  const x = TWO_PI * (phase - 0.25 * quarter);
  const z = x * x;
  // 0 and 4 are one quarter.
  const value =
    quarter !== 1 && quarter !== 3
      ? x + x * z * (S3 + z * (S5 + z * (S7 + z * (S9 + z * (S11 + z * (S13 + z * S15))))))
      : 1 + z * (C2 + z * (C4 + z * (C6 + z * (C8 + z * (C10 + z * (C12 + z * (C14 + z * C16)))))));
  return quarter === 2 || quarter === 3 ? -value : value;
}

/** Cosine of 2π·phase; accuracy as sineOfRev. */
export function cosineOfRev(phaseRev: number): number {
  return sineOfRev(phaseRev - Math.floor(phaseRev) + 0.25);
}
