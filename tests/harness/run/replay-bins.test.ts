import { describe, expect, it } from "vitest";
import { levelsBySpeed, speedBinWidth } from "../../../harness/run/speed-bins.ts";

describe("levels by speed", () => {
  it("[REPLAY-040] bins lie about multiples of their width and hold their lower edge", () => {
    const speeds = [95, 104.999, 105, 100, 114.999, 115, 140];
    const levels = [1, 2, 3, 6, 5, 7, 9];
    const bins = levelsBySpeed(levels, speeds, 10);
    expect(bins.map(({ from, until, count }) => [from, until, count])).toEqual([
      [95, 105, 3],
      [105, 115, 2],
      [115, 125, 1],
      [135, 145, 1],
    ]);
    // 1, 2, 6 by hand.
    expect(bins[0]).toMatchObject({ mean: 3, median: 2, greatest: 6 });
    expect(bins[0]!.standardDeviation).toBeCloseTo(Math.sqrt(7), 12);
    expect(bins[1]).toMatchObject({ mean: 4, median: 4, greatest: 5 });
    expect(levelsBySpeed([1], [2], 10)[0]).toMatchObject({ from: 0, until: 5, count: 1 });
    expect(levelsBySpeed([], [], 10)).toEqual([]);
  });

  it.each([
    [600, 6000, 500],
    [1199, 1201, 20],
    [0.0023, 0.00234, 0.00005],
    [0, 0, 1],
  ])("[REPLAY-040] speeds from %f to %f are told in bins of %f", (least, most, width) => {
    expect(speedBinWidth(least, most) / width).toBeCloseTo(1, 12);
  });
});
