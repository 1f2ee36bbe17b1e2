// The counters of a flight in which nothing went wrong, made up by hand.
import type { Counters } from "../../host/record-types.ts";

/** All zero but for what `counted` names. */
export function cleanCounters(counted: Partial<Counters>): Counters {
  return {
    blocks: 0,
    samples: 0,
    refusedBlocks: 0,
    recordsLost: 0,
    edges: [0, 0],
    edgesEarly: [0, 0],
    edgesMissed: [0, 0],
    edgesIrregular: [0, 0],
    referenceLost: [0, 0],
    indexContradictions: [0, 0],
    samplesNotFinite: [0, 0, 0, 0],
    samplesClipped: [0, 0, 0, 0],
    health: [0, 0, 0, 0, 0, 0, 0],
    revolutions: [0, 0],
    samplesLate: [0, 0],
    ...counted,
  };
}
