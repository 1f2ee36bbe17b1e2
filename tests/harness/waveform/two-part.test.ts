import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { speedPieces, stateInPiece } from "../../../harness/waveform/shaft-angle.ts";
import {
  add,
  divide,
  fractionPart,
  multiply,
  ratio,
  twoPart,
  twoProduct,
  twoSum,
  wholePart,
} from "../../../harness/waveform/two-part.ts";
import { shaftMotion } from "../../kit/scene-builder.ts";
import { TEST_SEED } from "../../kit/seed.ts";
import { ratioAdd, ratioDivide, ratioMultiply, ratioOf, ratioToNumber } from "./ratio.ts";
import type { Ratio } from "./ratio.ts";

const value = fc.double({ min: -1e9, max: 1e9, noNaN: true }).filter((x) => Math.abs(x) > 1e-9);

function exact(x: { hi: number; lo: number }): Ratio {
  return ratioAdd(ratioOf(x.hi), ratioOf(x.lo));
}

function relativeMiss(found: Ratio, right: Ratio): number {
  if (right.top === 0n) return Math.abs(ratioToNumber(found));
  const miss = ratioAdd(found, { top: -right.top, bottom: right.bottom });
  return Math.abs(ratioToNumber(ratioDivide(miss, right)));
}

describe("two-part numbers", () => {
  it("[WAVE-010] sums and products of two f64 are exact", () => {
    fc.assert(
      fc.property(value, value, (a, b) => {
        expect(relativeMiss(exact(twoSum(a, b)), ratioAdd(ratioOf(a), ratioOf(b)))).toBe(0);
        const product = ratioMultiply(ratioOf(a), ratioOf(b));
        expect(relativeMiss(exact(twoProduct(a, b)), product)).toBe(0);
      }),
      { seed: TEST_SEED },
    );
  });

  it("[WAVE-011] sums of one sign, products and quotients hold 30 digits", () => {
    fc.assert(
      fc.property(value, value, value, (a, b, c) => {
        const x = ratio(Math.abs(a), Math.abs(c));
        const y = multiply(twoPart(Math.abs(b)), ratio(1, 3));
        const sum = ratioAdd(exact(x), exact(y));
        expect(relativeMiss(exact(add(x, y)), sum)).toBeLessThan(1e-30);
        const product = ratioMultiply(exact(x), exact(y));
        expect(relativeMiss(exact(multiply(x, y)), product)).toBeLessThan(1e-30);
        const quotient = ratioDivide(exact(x), exact(y));
        expect(relativeMiss(exact(divide(x, y)), quotient)).toBeLessThan(1e-30);
      }),
      { seed: TEST_SEED },
    );
  });

  it("[WAVE-012] whole part and fraction belong together, at a whole number too", () => {
    for (const x of [twoSum(5, -1e-20), twoSum(5, 1e-20), twoPart(-0.25), twoPart(7)]) {
      const whole = wholePart(x);
      const part = fractionPart(x);
      expect(part).toBeGreaterThanOrEqual(0);
      expect(part).toBeLessThanOrEqual(1);
      expect(whole + part).toBe(x.hi + x.lo);
    }
    expect(wholePart(twoSum(5, -1e-20))).toBe(4);
    expect(wholePart(twoSum(5, 1e-20))).toBe(5);
  });

  it("[WAVE-013] the angle is exact to 1e-9 revolutions after ten hours", () => {
    const speed = [
      { timeS: 0, revPerS: 13.7 },
      { timeS: 61.3, revPerS: 399.9 },
      { timeS: 12_345.6, revPerS: 387.1 },
      { timeS: 12_345.6, revPerS: 101.3 },
      { timeS: 30_000.1, revPerS: 333.3 },
    ];
    const pieces = speedPieces(shaftMotion({ speed, startAngleRev: 0.1 }));
    const rateHz = 12_800;
    let worst = 0;
    for (const sample of [1, 999_999, 150_000_001, 400_000_003, 36_000 * rateHz - 1]) {
      const time = { top: BigInt(sample), bottom: BigInt(rateHz) };
      const right = exactAngle(speed, 0.1, time);
      const piece = pieces.findLast((one) => one.startS <= sample / rateHz)!;
      const found = exact(stateInPiece(piece, ratio(sample, rateHz)).rev);
      const miss = ratioAdd(found, { top: -right.top, bottom: right.bottom });
      worst = Math.max(worst, Math.abs(ratioToNumber(miss)));
    }
    // 1.3e7 revolutions at 2^-104: far inside 1e-9.
    expect(worst).toBeLessThan(1e-20);
  });
});

/** The integral of the speed rows in whole-number arithmetic. */
function exactAngle(
  speed: { timeS: number; revPerS: number }[],
  startRev: number,
  time: Ratio,
): Ratio {
  const minus = (x: Ratio, y: Ratio): Ratio => ratioAdd(x, { top: -y.top, bottom: y.bottom });
  const half = { top: 1n, bottom: 2n };
  let rev = ratioOf(startRev);
  for (const [i, row] of speed.entries()) {
    const next = speed[i + 1];
    const from = ratioOf(row.timeS);
    const since = minus(time, from);
    if (ratioToNumber(since) <= 0) break;
    if (next === undefined) {
      rev = ratioAdd(rev, ratioMultiply(ratioOf(row.revPerS), since));
      continue;
    }
    const length = minus(ratioOf(next.timeS), from);
    if (length.top === 0n) continue;
    const isWhole = ratioToNumber(minus(since, length)) >= 0;
    const part = isWhole ? length : since;
    const slope = ratioDivide(minus(ratioOf(next.revPerS), ratioOf(row.revPerS)), length);
    const mean = ratioAdd(ratioOf(row.revPerS), ratioMultiply(ratioMultiply(slope, part), half));
    rev = ratioAdd(rev, ratioMultiply(mean, part));
    if (!isWhole) break;
  }
  return rev;
}
