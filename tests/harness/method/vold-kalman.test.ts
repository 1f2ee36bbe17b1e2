// Check values O-08 to O-10 (J. Tuma, ICSV 2005; expressions of orders 1 and 2 in Feldbauer &
// Hoeldrich, DAFx-2000); answers in closed form otherwise.
import { describe, expect, it } from "vitest";
import { decimatedVector } from "../../../harness/method/decimated-vector.ts";
import { shaftAngles } from "../../../harness/method/shaft-angle.ts";
import {
  filterGain,
  type PoleCount,
  roundingShare,
  smoothWeight,
  solveSmooth,
  voldKalman,
} from "../../../harness/method/vold-kalman.ts";
import { knownSignal } from "../../kit/known-signal.ts";

const POLES: readonly PoleCount[] = [1, 2, 3];
const STEADY = { startRev: 0.3, speed: 0.005, acceleration: 0 };
const LAG = 1.1;

/** Gauss elimination of the whole matrix: the definition, without a band. */
function solvedWhole(matrix: number[][], side: number[]): number[] {
  const rows = matrix.map((row, i) => [...row, side[i]!]);
  const count = rows.length;
  for (let i = 0; i < count; i += 1) {
    for (let j = i + 1; j < count; j += 1) {
      const share = rows[j]![i]! / rows[i]![i]!;
      for (let k = i; k <= count; k += 1) rows[j]![k]! -= share * rows[i]![k]!;
    }
  }
  const solution = Array.from({ length: count }, () => 0);
  for (let i = count - 1; i >= 0; i -= 1) {
    let sum = rows[i]![count]!;
    for (let k = i + 1; k < count; k += 1) sum -= rows[i]![k]! * solution[k]!;
    solution[i] = sum / rows[i]![i]!;
  }
  return solution;
}

describe("weight of smoothness", () => {
  it.each([
    [0.01, 1, 20.487083826],
    [0.01, 2, 652.150950399],
    [0.01, 3, 20759.463167794],
    [0.02, 1, 10.244805789],
    [0.02, 2, 163.077972167],
    [0.02, 3, 2595.89352428],
  ] as const)("[METH-030] is O-08's: width %f, %i poles", (width, poles, expected) => {
    expect(Math.abs(smoothWeight(width, poles) / expected - 1)).toBeLessThan(1e-9);
  });

  it.each([1e-3, 1e-5, 1e-7])(
    "[METH-031] keeps its digits where cosine sums cancel: %f",
    (width) => {
      // O-09: 0.643594253/(πB/fs)^p; its next term is p·w²/24.
      for (const poles of POLES) {
        const w = Math.PI * width;
        const expected = (Math.sqrt(Math.SQRT2 - 1) / w ** poles) * (1 + (poles * w * w) / 24);
        expect(Math.abs(smoothWeight(width, poles) / expected - 1)).toBeLessThan(1e-11);
      }
      // O-10: at 0.001 the right one of two poles; the cosine sums give 65209.92.
      if (width === 1e-3) expect(smoothWeight(width, 2)).toBeCloseTo(65209.7851, 3);
    },
  );

  it("[METH-032] leaves 1/√2 of what lies half the width off", () => {
    for (const poles of POLES) expect(filterGain(0.01, 0.02, poles)).toBeCloseTo(Math.SQRT1_2, 12);
  });
});

describe("banded system", () => {
  it.each(POLES)("[METH-033] equals elimination of the whole matrix, %i poles", (poles) => {
    const count = 40;
    const square = smoothWeight(0.05, poles) ** 2;
    const difference = { 1: [1, -1], 2: [1, -2, 1], 3: [1, -3, 3, -1] }[poles];
    const matrix = Array.from({ length: count }, (_, i) =>
      Array.from({ length: count }, (__, j) => (i === j ? 1 : 0)),
    );
    for (let row = 0; row + poles < count; row += 1) {
      for (let a = 0; a <= poles; a += 1) {
        for (let b = 0; b <= poles; b += 1) {
          matrix[row + a]![row + b]! += square * difference[a]! * difference[b]!;
        }
      }
    }
    const side = Array.from({ length: count }, (_, i) => Math.sin(i * i));
    const other = side.map((one, i) => one * Math.cos(i));
    const [re, im] = [Float64Array.from(side), Float64Array.from(other)];
    solveSmooth(re, im, 0.05, poles);
    for (const [i, one] of solvedWhole(matrix, side).entries()) expect(re[i]).toBeCloseTo(one, 8);
    for (const [i, one] of solvedWhole(matrix, other).entries()) expect(im[i]).toBeCloseTo(one, 8);
  });

  it.each(POLES)("[METH-034] passes a turning vector as its gain says, %i poles", (poles) => {
    const [width, count] = [0.02, 4000];
    for (const off of [0.003, 0.01, 0.02, 0.06]) {
      const re = Float64Array.from({ length: count }, (_, i) => Math.cos(2 * Math.PI * off * i));
      const im = Float64Array.from({ length: count }, (_, i) => Math.sin(2 * Math.PI * off * i));
      solveSmooth(re, im, width, poles);
      // Far from the ends, whose share has died out by then.
      for (let i = 1500; i < 2500; i += 1) {
        expect(Math.hypot(re[i]!, im[i]!)).toBeCloseTo(filterGain(off, width, poles), 6);
      }
    }
  });

  it("[METH-035] refuses a width that rounding would spoil, and says which", () => {
    expect(roundingShare(1e-4, 3)).toBeGreaterThan(1);
    const side = new Float64Array(10);
    expect(() => solveSmooth(side, side, 1e-4, 3)).toThrow(/0\.0001 of the rate with 3 poles/);
  });

  it("[METH-036] fewer values than poles are left as they are", () => {
    const side = Float64Array.of(1, 2);
    solveSmooth(side, side, 0.1, 3);
    expect([...side]).toEqual([1, 2]);
  });
});

describe("Vold-Kalman filter", () => {
  it.each(POLES)("[METH-037] gives amplitude and phase lag in a ramp, %i poles", (poles) => {
    const ramp = { ...STEADY, acceleration: 10 / 12_800 ** 2 };
    const parts = [
      { order: 1, amplitude: () => 2, lagRad: LAG },
      { order: 2, amplitude: () => 20, lagRad: 0.4 },
    ];
    const signal = knownSignal(ramp, parts, 80_000);
    const fullWidth = 4 / 12_800;
    const [angle] = shaftAngles(signal);
    const { at, re, im } = voldKalman(signal, angle!, { order: 1, poles, fullWidth });
    expect(at.length).toBeGreaterThan(300);
    // What is left of the companion, 64 Hz off at the least, at the thinned rate of 200 Hz, and of
    // the order's own image 128 Hz off, which the thinning puts at 72.
    const pass = (hertz: number): number => filterGain(hertz / 200, 64 * fullWidth, poles);
    const left = 20 * pass(64) + 2 * pass(72);
    for (const [i, one] of re.entries()) {
      const error = Math.hypot(one - 2 * Math.cos(LAG), im[i]! + 2 * Math.sin(LAG));
      expect(error).toBeLessThan(left + 20 * 1e-4);
    }
  });

  it("[METH-038] a step of amplitude stands where it was: no lag, as far ahead as behind", () => {
    // A high order, whose image lies too far off to show.
    const parts = [{ order: 20, amplitude: (at: number) => (at < 20_000 ? 1 : 2), lagRad: 0 }];
    const signal = knownSignal(STEADY, parts, 40_000);
    const plan = { order: 20, poles: 2 as const, fullWidth: 4 / 12_800 };
    const { at, re } = voldKalman(signal, shaftAngles(signal)[0]!, plan);
    const value = (time: number): number => {
      const i = at.findIndex((one) => one > time);
      const share = (time - at[i - 1]!) / (at[i]! - at[i - 1]!);
      return re[i - 1]! + share * (re[i]! - re[i - 1]!);
    };
    expect(value(20_000)).toBeCloseTo(1.5, 2);
    for (const off of [500, 1000, 2000]) {
      expect(value(20_000 - off) + value(20_000 + off)).toBeCloseTo(3, 2);
    }
  });

  it("[METH-039] a run that is too short for the width gives nothing", () => {
    const signal = knownSignal(STEADY, [{ order: 1, amplitude: () => 1, lagRad: 0 }], 20_000);
    const plan = { order: 1, poles: 2 as const, fullWidth: 4 / 12_800 };
    expect(voldKalman(signal, shaftAngles(signal)[0]!, plan).at).toEqual([]);
  });

  it("[METH-040] the thinning before it loses 1e-4 at most up to a tenth of its rate", () => {
    const step = 40;
    for (const share of [0.02, 0.06, 0.1]) {
      const off = share / step;
      const parts = [{ order: 20 + off / STEADY.speed, amplitude: () => 1, lagRad: 0 }];
      const signal = knownSignal(STEADY, parts, 20_000);
      const { re, im } = decimatedVector(signal, shaftAngles(signal)[0]!, 20, step);
      for (const [i, one] of re.entries()) {
        expect(Math.abs(Math.hypot(one, im[i]!) - 1)).toBeLessThan(1e-4);
      }
    }
  });
});
