// Ratios of whole numbers, for tests that must not round.

export interface Ratio {
  top: bigint;
  bottom: bigint;
}

/** An f64 as it stands. */
export function ratioOf(value: number): Ratio {
  let scaled = value;
  let bottom = 1n;
  while (!Number.isInteger(scaled)) {
    scaled *= 2;
    bottom *= 2n;
  }
  return { top: BigInt(scaled), bottom };
}

export function ratioAdd(a: Ratio, b: Ratio): Ratio {
  return { top: a.top * b.bottom + b.top * a.bottom, bottom: a.bottom * b.bottom };
}

export function ratioMultiply(a: Ratio, b: Ratio): Ratio {
  return { top: a.top * b.top, bottom: a.bottom * b.bottom };
}

export function ratioDivide(a: Ratio, b: Ratio): Ratio {
  const sign = b.top < 0n ? -1n : 1n;
  return { top: sign * a.top * b.bottom, bottom: sign * a.bottom * b.top };
}

/** The nearest f64 but for a few units in the last place; exact 0 stays 0. */
export function ratioToNumber(a: Ratio): number {
  if (a.top === 0n) return 0;
  const size = a.top < 0n ? -a.top : a.top;
  const shift = size.toString(2).length - a.bottom.toString(2).length;
  const up = BigInt(Math.max(0, 60 - shift));
  const down = BigInt(Math.max(0, shift - 60));
  const whole = Number((size << up) / (a.bottom << down));
  return (a.top < 0n ? -1 : 1) * whole * 2 ** (Number(down) - Number(up));
}
