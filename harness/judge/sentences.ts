// Numbers and times as the sentences of a verdict write them.

/** Six significant digits without trailing zeros; large whole numbers whole. */
export function numberText(value: number): string {
  if (!Number.isFinite(value)) return "not a number";
  if (Number.isInteger(value) && Math.abs(value) < 1e12) return String(value);
  return String(Number(value.toPrecision(6)));
}

/** A tolerance: three significant digits are more than anyone needs. */
export function toleranceText(value: number): string {
  return Number.isFinite(value) ? String(Number(value.toPrecision(3))) : "not a number";
}

/** ": 0.02 too high, 5 × the tolerance"; nothing where there is no number to compare. */
export function offText(error: number, tolerance: number, much = "high", less = "low"): string {
  if (!Number.isFinite(error) || error === 0) return "";
  const by = `: ${toleranceText(Math.abs(error))} too ${error > 0 ? much : less}`;
  const ratio = Math.abs(error) / tolerance;
  return Number.isFinite(ratio) ? `${by}, ${ratioText(ratio)} × the tolerance` : by;
}

/** A multiple of a tolerance; one that is wrong never reads 1. */
function ratioText(ratio: number): string {
  const text = String(Number(ratio.toPrecision(2)));
  return text === "1" ? String(Number(ratio.toPrecision(6))) : text;
}

/** "12.3 s" or "1200 samples", to a tenth of a millisecond. */
export function timeText(timeS: number, timeUnit: "s" | "sample"): string {
  if (timeUnit === "sample") return `sample ${Math.round(timeS)}`;
  return `${String(Number(timeS.toFixed(4)))} s`;
}

/** "1 step", "3 steps". */
export function countText(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? "" : "s"}`;
}

/** Seven significant digits: enough for a plot, and the same on every machine. */
export function traceNumber(value: number): number {
  return Number.isFinite(value) ? Number(value.toPrecision(7)) : 0;
}
