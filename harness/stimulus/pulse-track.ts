// A tachometer's edges as pulses in a sampled voltage. An edge falls between two samples: its flank is
// two samples long and straight, so that the straight line between samples meets half the level at the
// very time of the edge.

/** From nothing to the whole level. */
const FLANK_SAMPLES = 2;
/** So long a pulse must stand, and its pause, beside the flanks. */
const REST_SAMPLES = 1;

/** Two edges that are too close for the pulse: positions in samples. */
export class PulsesTooClose extends Error {
  readonly atSample: number;
  readonly apartSamples: number;
  readonly neededSamples: number;
  constructor(atSample: number, apartSamples: number, neededSamples: number) {
    super(`edges ${apartSamples.toFixed(2)} samples apart`);
    this.atSample = atSample;
    this.apartSamples = apartSamples;
    this.neededSamples = neededSamples;
  }
}

/** Samples from one edge to the next that a pulse of this width needs. */
export function pitchSamplesMin(widthSamples: number): number {
  return widthSamples + FLANK_SAMPLES + REST_SAMPLES;
}

/** Where the pulse of an edge has come back to nothing, in samples. */
export const pulseEnd = (edge: number, widthSamples: number): number =>
  edge + widthSamples + FLANK_SAMPLES / 2;

/** Narrowest pulse: both flanks, and a sample on top. */
export const WIDTH_SAMPLES_MIN = FLANK_SAMPLES + REST_SAMPLES;

const clamped = (value: number): number => Math.min(1, Math.max(0, value));

/** Pulses of one shaft: edges go in, ascending, samples come out. */
export class PulseTrack {
  readonly #widthSamples: number;
  #edges: number[] = [];
  #newest = -Infinity;
  /** Edges that were taken. */
  count = 0;

  constructor(widthSamples: number) {
    this.#widthSamples = widthSamples;
  }

  /** Takes an edge, in samples. Errors: PulsesTooClose. */
  add(position: number): void {
    const needed = pitchSamplesMin(this.#widthSamples);
    const apart = position - this.#newest;
    if (apart < needed) throw new PulsesTooClose(position, apart, needed);
    this.#newest = position;
    this.count += 1;
    this.#edges.push(position);
  }

  /**
   * The pulse train at a sample, 0 to 1. Samples ascend; an edge must be there a sample before it.
   */
  at(sample: number): number {
    const half = FLANK_SAMPLES / 2;
    const width = this.#widthSamples;
    while (this.#edges.length > 0 && this.#edges[0]! + width + half <= sample) this.#edges.shift();
    const edge = this.#edges[0];
    if (edge === undefined) return 0;
    const rise = clamped(0.5 + (sample - edge) / FLANK_SAMPLES);
    const fall = clamped(0.5 + (sample - edge - width) / FLANK_SAMPLES);
    return rise - fall;
  }
}
