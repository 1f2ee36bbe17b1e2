// Straight scales and their ticks.

export interface Scale {
  readonly low: number;
  readonly high: number;
  /** Value → pixel. */
  at(value: number): number;
}

/** A scale from `low` at pixel `from` to `high` at pixel `to`; an empty range is widened. */
export function makeScale(low: number, high: number, from: number, to: number): Scale {
  const wide = high > low ? high : low + 1;
  const slope = (to - from) / (wide - low);
  return { low, high: wide, at: (value) => from + (value - low) * slope };
}

/** Round steps 1, 2, 5 × 10^n that give at most `countMax` ticks. */
export function tickStep(low: number, high: number, countMax: number): number {
  const raw = (high - low) / countMax;
  const decade = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5, 10].find((one) => one * decade >= raw * (1 - 1e-9)) ?? 10;
  return step * decade;
}

/** Ticks within the scale, with the text of each. */
export function ticks(scale: Scale, countMax: number): { value: number; text: string }[] {
  const step = tickStep(scale.low, scale.high, countMax);
  const places = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  const found: { value: number; text: string }[] = [];
  const first = Math.ceil(scale.low / step - 1e-9);
  for (let i = first; i * step <= scale.high + step * 1e-9; i += 1) {
    const value = i * step;
    const text = places > 6 ? value.toExponential(0) : value.toFixed(places);
    found.push({ value, text: text.replace("-", "−") });
  }
  return found;
}

/** The end of an axis above `value`: the next round step. */
export function roundedUp(value: number): number {
  if (!(value > 0)) return 1;
  const step = tickStep(0, value, 4);
  return Math.ceil(value / step - 1e-9) * step;
}
