// The converter: f64 → what a block carries.

export type ConverterKind = "f32" | "i16" | "counts-as-f32";

const COUNT_MIN = -32768;
const COUNT_MAX = 32767;

function countOf(value: number, step: number): number {
  return Math.max(COUNT_MIN, Math.min(COUNT_MAX, Math.floor(value / step + 0.5)));
}

/**
 * Converts from[0 … count) into to[at … at + count).
 *
 * "counts-as-f32" is an i16 converter in a batch whose other channels are f32: counts × step in
 * f32, as the firmware makes of counts.
 */
export function convert(
  from: Float64Array,
  count: number,
  to: Float32Array | Int16Array,
  at: number,
  kind: ConverterKind,
  step: number,
): void {
  if (kind === "f32") {
    to.set(count === from.length ? from : from.subarray(0, count), at);
    return;
  }
  if (kind === "i16") {
    for (let i = 0; i < count; i += 1) to[at + i] = countOf(from[i]!, step);
    return;
  }
  const stepF32 = Math.fround(step);
  for (let i = 0; i < count; i += 1) to[at + i] = Math.fround(countOf(from[i]!, step) * stepF32);
}
