import type { Counters } from "../../host/record-types.ts";

/** Counters of a device that has counted nothing, or keeps none. */
export const NO_COUNTERS: Counters = {
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
};
