// What the methods work on: samples and edges of one channel and one shaft, as a box would get
// them, and what they give: a vector over time.

export interface WheelShape {
  /** Positions in one cycle, a missing tooth counted. */
  positions: number;
  /** Shaft revolutions in one cycle. */
  revolutions: number;
  index: "none" | "missing-tooth" | "extra-edge";
  /** As the device is set: by how much an edge may stand beside its place, and the shaft change. */
  edgeTolerancePitches: number;
  accelerationMaxRevPerS2: number;
}

/** An angle over time; times in samples, angles in revolutions, speeds in revolutions a sample. */
export interface AngleOverTime {
  readonly firstAt: number;
  readonly lastAt: number;
  revAt(time: number): number;
  timeAt(rev: number): number;
  speedAt(time: number): number;
}

/** Shape: all lengths of time in `edges` count samples from the first sample. */
export interface BoxSignal {
  sampleRateHz: number;
  /** In the channel's own quantity, SI; finite. */
  samples: Float32Array | Float64Array;
  /** Ascending. */
  edges: Float64Array;
  wheel: WheelShape;
}

/**
 * The order's vector at some times: peak, phase lag −arg, positive where the peak comes after the
 * index; a series holds one unbroken stretch.
 */
export interface VectorSeries {
  /** In samples, ascending. */
  at: number[];
  re: number[];
  im: number[];
}

/** An empty series. */
export function emptySeries(): VectorSeries {
  return { at: [], re: [], im: [] };
}
