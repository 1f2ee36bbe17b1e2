/** A complex number that is written in place. */
export interface Complex {
  re: number;
  im: number;
}

export function polar(modulus: number, angleRad: number): Complex {
  return { re: modulus * Math.cos(angleRad), im: modulus * Math.sin(angleRad) };
}

export function times(a: Complex, b: Complex): Complex {
  return { re: a.re * b.re - a.im * b.im, im: a.re * b.im + a.im * b.re };
}

export function over(a: Complex, b: Complex): Complex {
  const power = b.re * b.re + b.im * b.im;
  return { re: (a.re * b.re + a.im * b.im) / power, im: (a.im * b.re - a.re * b.im) / power };
}

export function plus(a: Complex, b: Complex): Complex {
  return { re: a.re + b.re, im: a.im + b.im };
}

export function scaled(a: Complex, by: number): Complex {
  return { re: a.re * by, im: a.im * by };
}

export function distance(a: Complex, b: Complex): number {
  return Math.hypot(a.re - b.re, a.im - b.im);
}
