// A complex amplitude as a polynomial in the time since an anchor, and its derivative in a rotating
// frame: with x = Re[X·e^(jψ)], dx/dt = Re[(dX/dt + jX·dψ/dt)·e^(jψ)].

export const COEFFICIENTS_MAX = 5;

export interface ComplexPolynomial {
  /** Coefficients by power of the time, COEFFICIENTS_MAX each. */
  re: Float64Array;
  im: Float64Array;
  /** Highest power that is used. */
  degree: number;
}

export function polynomial(): ComplexPolynomial {
  return {
    re: new Float64Array(COEFFICIENTS_MAX),
    im: new Float64Array(COEFFICIENTS_MAX),
    degree: 0,
  };
}

/** X → dX/dt + j(rate + slope·t)·X, in place; the degree grows by one where slope is not 0. */
export function differentiate(x: ComplexPolynomial, ratePerS: number, slopePerS2: number): void {
  const degree = x.degree + (slopePerS2 === 0 ? 0 : 1);
  let lowerRe = 0;
  let lowerIm = 0;
  for (let power = 0; power <= degree; power += 1) {
    const re = x.re[power]!;
    const im = x.im[power]!;
    const up = power + 1 < COEFFICIENTS_MAX ? power + 1 : power;
    const factor = up === power ? 0 : up;
    x.re[power] = factor * x.re[up]! - (ratePerS * im + slopePerS2 * lowerIm);
    x.im[power] = factor * x.im[up]! + (ratePerS * re + slopePerS2 * lowerRe);
    lowerRe = re;
    lowerIm = im;
  }
  x.degree = degree;
}

/** X → X·(re + j·im), in place. */
export function scale(x: ComplexPolynomial, re: number, im: number): void {
  for (let power = 0; power <= x.degree; power += 1) {
    const a = x.re[power]!;
    const b = x.im[power]!;
    x.re[power] = a * re - b * im;
    x.im[power] = a * im + b * re;
  }
}
