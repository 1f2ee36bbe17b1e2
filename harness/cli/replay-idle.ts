// Options of `amberline replay` that would do nothing beside the others: passed over in silence they
// mislead.
import { CallError } from "./command-errors.ts";

/** Options that only serve beside others, of which one is enough. */
const NEEDS: [options: string[], beside: string[]][] = [
  [["threshold", "hysteresis", "slope"], ["tachometer"]],
  [["speed-span"], ["speed-near"]],
  [["positions"], ["tachometer", "edges"]],
  [["filter"], ["levels"]],
];

/** What a table of recorded levels has no use for: its levels were made before. */
const NOT_WITH_LEVELS = (
  "channel speed speed-near speed-span edges tachometer positions threshold hysteresis slope order " +
  "bandwidth speed-bin rate file-unit methods from until"
).split(" ");

/**
 * Refuses what was asked for and would do nothing.
 *
 * Shape     `isGiven` says of an option, by its name without dashes, whether the call has it
 * Errors    CallError
 */
export function refuseIdleOptions(isGiven: (name: string) => boolean): void {
  if (isGiven("levels")) {
    const idle = NOT_WITH_LEVELS.find(isGiven);
    if (idle !== undefined) {
      throw new CallError(`--${idle} does nothing with --levels: the levels are recorded ones`);
    }
  }
  for (const [options, beside] of NEEDS) {
    const idle = options.find(isGiven);
    if (idle === undefined || beside.some(isGiven)) continue;
    const words = beside.map((name) => `--${name}`).join(" or ");
    throw new CallError(`--${idle} does nothing without ${words}`);
  }
}
