// One line on how a box came out against its own specification.
import type { BoxVerdict } from "../judge/types.ts";

/** "118 readings inside, 2 in the guard band, 0 outside; clock 80 ± 12 ppm", at most 71 characters. */
export function boxNote({
  inside,
  guardBand,
  outside,
  driftPpm,
  driftUncertaintyPpm,
}: BoxVerdict): string {
  const ppm = `${driftPpm.toFixed(0)} ± ${driftUncertaintyPpm.toFixed(0)} ppm`;
  return `${inside} readings inside, ${guardBand} in guard band, ${outside} outside; clock ${ppm}`;
}
