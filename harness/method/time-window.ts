// Time windows, most of them sums of cosines, and what they do to amplitudes.
// Sources: Harris, Proc. IEEE 66(1), 1978 (Hann); ISO 18431-2, flat-top (coefficients from memory).

export interface TimeWindow {
  name: string;
  /** w(u) = Σ terms[j]·cos(2πju), 0 ≤ u < 1, signs included. */
  terms: readonly number[];
  /** Where it is no sum of cosines: its shape; then `terms` hold its mean alone. */
  shape?: (place: number) => number;
  /** Full width between the −3 dB points, in bins: frequencies over 1/length. */
  widthBins: number;
  /** Bins from the middle to the first null: what lies further off is in the side lobes. */
  nullBins: number;
}

export const RECTANGLE: TimeWindow = {
  name: "rectangular",
  terms: [1],
  widthBins: 0.886,
  nullBins: 1,
};

export const HANN: TimeWindow = {
  name: "Hann",
  terms: [0.5, -0.5],
  widthBins: 1.4406,
  nullBins: 2,
};

export const FLAT_TOP: TimeWindow = {
  name: "flat-top",
  terms: [1, -1.933, 1.286, -0.388, 0.0322],
  widthBins: 3.7246,
  nullBins: 5,
};

/** Four terms (Harris 1978, Table I): side lobes 92 dB down. */
export const BLACKMAN_HARRIS: TimeWindow = {
  name: "Blackman-Harris",
  terms: [0.35875, -0.48829, 0.14128, -0.01168],
  widthBins: 1.899,
  nullBins: 4,
};

/** Two averages in cascade; its nulls are double. */
export const TRIANGLE: TimeWindow = {
  name: "triangle",
  terms: [0.5],
  shape: (place) => 1 - Math.abs(2 * place - 1),
  widthBins: 1.276,
  nullBins: 2,
};

/** The window at a place, 0 to 1. */
export function windowAt({ terms, shape }: TimeWindow, place: number): number {
  if (shape !== undefined) return shape(place);
  return terms.reduce((sum, term, j) => sum + term * Math.cos(2 * Math.PI * j * place), 0);
}

/** The window at `length` places, periodic: the place after the last is the first. */
export function windowSamples(window: TimeWindow, length: number): Float64Array {
  return Float64Array.from({ length }, (_, i) => windowAt(window, i / length));
}

/** What a constant is multiplied by, over the number of samples. */
export function coherentGain({ terms }: TimeWindow): number {
  return terms[0]!;
}

/** Effective noise bandwidth, in bins. */
export function noiseBandwidthBins({ terms }: TimeWindow): number {
  const [first, ...others] = terms;
  return 1 + others.reduce((sum, term) => sum + term * term, 0) / (2 * first! * first!);
}
