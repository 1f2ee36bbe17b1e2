// Numbers as the report prints them.

/** At most `digits` significant digits, no exponent between 1e-4 and 1e7; a dash where none. */
export function numberText(value: number | null | undefined, digits = 4): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  if (value === 0) return "0";
  const size = Math.abs(value);
  const rounded = Number(value.toPrecision(digits));
  if (size < 1e-4 || size >= 1e7) {
    const [mantissa, exponent] = rounded.toExponential().split("e") as [string, string];
    return `${minus(mantissa)} × 10${raised(exponent)}`;
  }
  return minus(String(rounded));
}

const RAISED: Record<string, string> = { "-": "⁻", "+": "" };

function raised(exponent: string): string {
  return exponent.replace(/./g, (sign) => RAISED[sign] ?? "⁰¹²³⁴⁵⁶⁷⁸⁹".charAt(Number(sign)));
}

function minus(text: string): string {
  return text.replace("-", "−");
}

/** Seconds with three decimals at most. */
export function timeText(seconds: number): string {
  return Number.isFinite(seconds) ? minus(String(Number(seconds.toFixed(3)))) : "–";
}

/** An error as a multiple of its tolerance; null: an item that is wrong as a whole. */
export function ratioText(ratio: number | null): string {
  if (ratio === null || !Number.isFinite(ratio)) return "no tolerance";
  return ratio >= 100 ? numberText(ratio, 3) : ratio.toFixed(2);
}
