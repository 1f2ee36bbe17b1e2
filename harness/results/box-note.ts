// One line on how a box came out against its own specification.
import type { BoxVerdict } from "../judge/types.ts";

/** "118 inside, 2 guard band, 0 outside, 40 not judged; clock 80 ± 12 ppm", at most 71 characters. */
export function boxNote({ inside, guardBand, outside, notJudged, clocks }: BoxVerdict): string {
  const [clock] = clocks;
  const ppm =
    clock === undefined
      ? ""
      : `; clock ${clock.driftPpm.toFixed(0)} ± ${clock.driftUncertaintyPpm.toFixed(0)} ppm`;
  return (
    `${inside} inside, ${guardBand} guard band, ${outside} outside, ` +
    `${notJudged} not judged${ppm}`
  );
}
