// The converter: f64 → what a block carries.
import { sampleKernel } from "./sample-kernel.ts";

export type ConverterKind = "f32" | "i16" | "counts-as-f32";

/**
 * Converts the kernel's chunk; what it gives stands until the next chunk is converted.
 *
 * "i16" rounds half a step up and holds within 16 bits. "counts-as-f32" is an i16 converter in a batch
 * whose other channels are f32: counts × step in f32, as the firmware makes of counts.
 */
export function convertChunk(kind: ConverterKind, step: number): Float32Array | Int16Array {
  const { loops, floats, counts } = sampleKernel();
  if (kind === "i16") {
    loops.convertCounts(step);
    return counts;
  }
  if (kind === "f32") loops.convertFloats();
  else loops.convertCountsToFloats(step);
  return floats;
}
