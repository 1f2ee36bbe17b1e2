// The exponential of a negative number, for poles.

const LOG2_E: f32 = 1.44269504;
// ln 2 in two parts (Cody and Waite 1980): the first has 9 significant bits, so n times it is exact.
const LN2_HIGH: f32 = 0.693359375;
const LN2_LOW: f32 = -2.12194442e-4;
/** e^−h is under the smallest normal f32 beyond. */
const H_MAX: f32 = 87;

/**
 * e^−h.
 *
 * Range     h >= 0; beyond 87 the answer is 0
 * Accuracy  relative error <= 1.2e-7, i.e. 2 ulp
 * Source    e^r for |r| <= ln 2 / 2, own least-maximum fit, 3e-9 before rounding
 */
export function exponentialOfMinus(h: f32): f32 {
  if (!(h < H_MAX)) return 0;
  const n: f32 = Mathf.floor(<f32>0.5 - h * LOG2_E);
  const r: f32 = -h - n * LN2_HIGH - n * LN2_LOW;
  const high: f32 = <f32>0.0416662060 + r * (<f32>0.00836888235 + r * <f32>0.00139504788);
  const p: f32 = <f32>1 + (r + r * r * (<f32>0.5 + r * (<f32>0.166665196 + r * high)));
  return p * reinterpret<f32>((<i32>n + 127) << 23);
}
