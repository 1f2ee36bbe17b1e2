// Which samples a fault of a channel touches.
import type { ChannelFault } from "../scene/scene.ts";

/** First and last sample that a fault touches; a burst may reach beyond its window. */
export function samplesOf(
  fault: ChannelFault,
  sampleRateHz: number,
): { first: number; last: number } {
  const at = (timeS: number): number => Math.max(0, Math.ceil(timeS * sampleRateHz - 1e-6));
  if (fault.kind === "spike" || fault.kind === "not-finite") {
    return { first: at(fault.atS), last: at(fault.atS) + fault.samples - 1 };
  }
  const end = fault.kind === "loose" ? fault.untilS + fault.lengthS : fault.untilS;
  return { first: at(fault.fromS), last: at(end) - 1 };
}
