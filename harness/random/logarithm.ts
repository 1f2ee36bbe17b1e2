// Natural logarithm and exponential, the same bits on every machine.

const LN_2 = 0.6931471805599453;
const SQRT_HALF = 0.7071067811865476;

/**
 * Natural logarithm of a positive number.
 *
 * Range     1e-300 … 1e300, meant for numbers near 1: one step of the loop a binary place
 * Accuracy  |error| ≤ 4e-16 · max(1, |result|)
 */
export function logarithm(value: number): number {
  let rest = value;
  let exponent = 0;
  while (rest < SQRT_HALF) {
    rest *= 2;
    exponent -= 1;
  }
  while (rest >= 2 * SQRT_HALF) {
    rest *= 0.5;
    exponent += 1;
  }
  // ln((1 + s)/(1 − s)) = 2(s + s³/3 + s⁵/5 …), |s| ≤ 0.172: the term s²³ is below 1e-18.
  const s = (rest - 1) / (rest + 1);
  const z = s * s;
  let series = 1 / 21;
  for (let odd = 19; odd >= 1; odd -= 2) series = series * z + 1 / odd;
  return exponent * LN_2 + 2 * s * series;
}

/**
 * Exponential function.
 *
 * Range     −700 … 700
 * Accuracy  relative error ≤ 1e-15 · max(1, |x|)
 */
export function exponential(x: number): number {
  const twos = Math.floor(x / LN_2 + 0.5);
  const rest = x - twos * LN_2;
  // |rest| ≤ 0.347: the term of degree 15 is below 1e-19.
  let value = 1;
  for (let degree = 15; degree >= 1; degree -= 1) value = 1 + (value * rest) / degree;
  for (let i = 0; i < Math.abs(twos); i += 1) value *= twos < 0 ? 0.5 : 2;
  return value;
}
