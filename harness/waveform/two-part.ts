// Numbers as an unevaluated sum of two f64: about 32 digits from + − × ÷ alone, so that an angle is
// exact to 1e-9 revolutions after hours. Used once a chunk, not once a sample.
// Source: Dekker, A floating-point technique for extending the available precision, 1971 (from
// memory).

export interface TwoPart {
  hi: number;
  lo: number;
}

/** 2^27 + 1: cuts a 53-bit significand in two halves whose products are exact. */
const SPLITTER = 134217729;

/** The exact sum of two f64. */
export function twoSum(a: number, b: number): TwoPart {
  const hi = a + b;
  const part = hi - a;
  return { hi, lo: a - (hi - part) + (b - part) };
}

/** The exact product of two f64 (below 1e290). */
export function twoProduct(a: number, b: number): TwoPart {
  const hi = a * b;
  const cutA = SPLITTER * a;
  const aHigh = cutA - (cutA - a);
  const aLow = a - aHigh;
  const cutB = SPLITTER * b;
  const bHigh = cutB - (cutB - b);
  const bLow = b - bHigh;
  return { hi, lo: aHigh * bHigh - hi + aHigh * bLow + aLow * bHigh + aLow * bLow };
}

/** hi + lo again with |lo| at most half a unit of hi; needs |hi| ≥ |lo|. */
function settled(hi: number, lo: number): TwoPart {
  const sum = hi + lo;
  return { hi: sum, lo: lo - (sum - hi) };
}

export function add(a: TwoPart, b: TwoPart): TwoPart {
  const high = twoSum(a.hi, b.hi);
  const low = twoSum(a.lo, b.lo);
  const once = settled(high.hi, high.lo + low.hi);
  return settled(once.hi, once.lo + low.lo);
}

export function negate(a: TwoPart): TwoPart {
  return { hi: -a.hi, lo: -a.lo };
}

export function multiply(a: TwoPart, b: TwoPart): TwoPart {
  const product = twoProduct(a.hi, b.hi);
  return settled(product.hi, product.lo + (a.hi * b.lo + a.lo * b.hi));
}

export function divide(a: TwoPart, b: TwoPart): TwoPart {
  const first = a.hi / b.hi;
  const rest = add(a, negate(multiply(b, { hi: first, lo: 0 })));
  const second = rest.hi / b.hi;
  const last = add(rest, negate(multiply(b, { hi: second, lo: 0 })));
  return add(twoSum(first, second), { hi: last.hi / b.hi, lo: 0 });
}

export function twoPart(value: number): TwoPart {
  return { hi: value, lo: 0 };
}

/** The quotient of two f64, e.g. a sample's time from its number and the rate. */
export function ratio(a: number, b: number): TwoPart {
  const quotient = a / b;
  const product = twoProduct(quotient, b);
  return settled(quotient, (a - product.hi - product.lo) / b);
}

/** The fraction of factor × a: what fractionPart gives of the product, without the detour. */
export function fractionOfProduct(factor: number, a: TwoPart): number {
  const hi = factor * a.hi;
  const cutF = SPLITTER * factor;
  const fHigh = cutF - (cutF - factor);
  const fLow = factor - fHigh;
  const cutA = SPLITTER * a.hi;
  const aHigh = cutA - (cutA - a.hi);
  const aLow = a.hi - aHigh;
  const lo = fHigh * aHigh - hi + fHigh * aLow + fLow * aHigh + fLow * aLow + factor * a.lo;
  const part = hi - Math.floor(hi) + lo;
  return part < 0 ? part + 1 : part >= 1 ? part - 1 : part;
}

/** The whole number at or below. */
export function wholePart(a: TwoPart): number {
  const whole = Math.floor(a.hi);
  const rest = a.hi - whole + a.lo;
  return rest < 0 ? whole - 1 : rest >= 1 ? whole + 1 : whole;
}

/** What stands above the whole number, 0 to 1, as one f64. */
export function fractionPart(a: TwoPart): number {
  return a.hi - wholePart(a) + a.lo;
}
