// The golden values of both reference libraries as the tests read them, and how they compare.
import { readFileSync } from "node:fs";
import { expect } from "vitest";

export type Pair = [re: number, im: number];

export interface SciPy {
  made: string;
  by: Record<string, string>;
  butterworth: {
    kind: "low" | "high";
    order: number;
    cornerHz: number;
    hz: number[];
    values: Pair[];
  }[];
  trackingFilter: {
    h: number;
    turns: number[];
    gains: number[];
    noiseCycles: number;
    widthCycles: number;
    delayCycles: number;
  }[];
  steps: { x: number[]; one: number[]; both: number[]; left: number[]; after: number[] };
  windows: {
    turns: number[];
    triangle: number[];
    hannSquares: number;
    line: {
      length: number;
      seed: number;
      cyclesPerSample: number;
      amplitude: number;
      near: number;
      span: number;
    };
    halves: Line[];
    whole: Line;
  };
  functions: {
    x: number[];
    sphericalBessel: number[][];
    legendreNodes: number[];
    legendreWeights: number[];
    revolutions: number[];
    sines: number[];
    numbers: number[];
    logarithms: number[];
    exponents: number[];
    exponentials: number[];
  };
  ramp: {
    fromRevPerS: number;
    revPerS2: number;
    durationS: number;
    startRev: number;
    amplitudePk: number;
    lagRad: number;
    toneHz: number;
    tonePk: number;
    toneLagRad: number;
    widthHz: number;
    rateHz: number;
    rows: { closesS: number; vector: Pair; level: Pair; resampled: Pair }[];
  };
  dwell: { revPerS: number; startRev: number; middles: number[]; vectors: Pair[] };
  motion: {
    timeS: number[];
    revPerS: number[];
    startRev: number;
    rippleOrder: number;
    rippleRev: number;
    times: number[];
    angles: number[];
    revolutions: number[];
    reached: number[];
    scale: { speeds: number[]; factors: number[] };
    asked: number[];
    scaled: number[];
  };
  statistics: {
    looks: [durationS: number, bandwidthHz: number, trackers: number][];
    factors: number[];
    normalEdges: number[];
    waitEdges: number[];
    chiSquareMost: number;
    zigguratTail: number;
    zigguratArea: number;
    rectangular: number;
  };
  rotor: {
    naturalHz: number;
    zeta: number;
    fromRevPerS: number;
    toRevPerS: number;
    durationS: number;
    times: number[];
    displacements: Pair[];
    velocities: Pair[];
  };
}

interface Line {
  cyclesPerSample: number;
  powerRatio: number;
  powerRatioNeeded: number;
}

function read(name: string): unknown {
  return JSON.parse(readFileSync(new URL(name, import.meta.url), "utf8")) as unknown;
}

export const SCIPY = read("scipy.json") as SciPy;
export const OCTAVE = read("octave.json") as Record<string, unknown> & {
  made: string;
  by: Record<string, string>;
};

/** Unit roundoff of f64 and of f32. */
export const F64 = 2 ** -53;
export const F32 = 2 ** -24;

/** Within an amount; NaN is not. */
export function nearBy(found: number, wanted: number, amount: number, what = ""): void {
  expect(Math.abs(found - wanted), `${what} ${found} against ${wanted}`).toBeLessThanOrEqual(
    amount,
  );
}

/** Within a share of what is wanted. */
export function near(found: number, wanted: number, share: number, what = ""): void {
  nearBy(found, wanted, share * Math.abs(wanted), what);
}

/** Complex values within an amount of each other. */
export function nearPair(
  found: { re: number; im: number },
  [re, im]: Pair,
  amount: number,
  what = "",
): void {
  const apart = Math.hypot(found.re - re, found.im - im);
  expect(apart, `${what} ${found.re}, ${found.im} against ${re}, ${im}`).toBeLessThanOrEqual(
    amount,
  );
}
