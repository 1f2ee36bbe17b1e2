import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { makeScale, roundedUp, ticks } from "../../../harness/report/axis.ts";
import {
  bandPath,
  linePath,
  simplified,
  spansOf,
  stepPath,
  type Point,
} from "../../../harness/report/curve.ts";
import { evenNumber } from "../../kit/even-number.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const DEPARTURE_PX = 0.2;

/** Vertical distance of a point from the polyline through `kept`, ascending in x. */
function departure(point: Point, kept: Point[]): number {
  const after = kept.findIndex((one) => one.x >= point.x);
  const to = kept[Math.max(1, after)]!;
  const from = kept[Math.max(1, after) - 1]!;
  const share = (point.x - from.x) / (to.x - from.x);
  const away = Math.abs(from.y + share * (to.y - from.y) - point.y);
  return away * Math.cos(Math.atan2(to.y - from.y, to.x - from.x));
}

describe("curves", () => {
  it("[REP-001] a drawn curve leaves the true one by a fifth of a pixel at most", () => {
    const heights = fc.array(evenNumber(0, 150), { minLength: 2 });
    fc.assert(
      fc.property(heights, (values) => {
        const points = values.map((y, x) => ({ x, y }));
        const kept = simplified(points);
        expect(kept[0]).toEqual(points[0]);
        expect(kept.at(-1)).toEqual(points.at(-1));
        for (const one of points) expect(departure(one, kept)).toBeLessThan(DEPARTURE_PX + 1e-9);
      }),
      { seed: TEST_SEED },
    );
  });

  it("[REP-002] a straight line is two points however many values it has", () => {
    const points = Array.from({ length: 2000 }, (_, x) => ({ x, y: 3 + x / 7 }));
    expect(simplified(points)).toHaveLength(2);
  });

  it("[REP-003] a curve is broken where there is no value", () => {
    const hasValue = (i: number): boolean => i !== 2;
    const point = (i: number): Point => ({ x: i * 10, y: i * i });
    expect(linePath(5, hasValue, point)).toBe("M0 0L10 1M30 9L40 16");
    expect(
      bandPath(
        2,
        () => true,
        point,
        (i) => ({ x: i * 10, y: 9 }),
      ),
    ).toBe("M0 0L10 1L10 9L0 9Z");
    expect(stepPath(2, () => true, point)).toBe("M0 0L10 0L10 1");
  });

  it("[REP-004] stretches of equal values hold until the next and the last until the end", () => {
    expect(spansOf([1, 2, 3, 4], [0, 0, 2, 2], 9)).toEqual([
      { fromS: 1, untilS: 3, value: 0 },
      { fromS: 3, untilS: 9, value: 2 },
    ]);
    expect(spansOf([], [], 9)).toEqual([]);
  });
});

describe("axes", () => {
  it.each([
    [0, 8, 5, ["0", "2", "4", "6", "8"]],
    [0, 0.5, 5, ["0.0", "0.1", "0.2", "0.3", "0.4", "0.5"]],
    [-2, 2, 4, ["−2", "−1", "0", "1", "2"]],
    [0, 0.003, 3, ["0.000", "0.001", "0.002", "0.003"]],
  ])("[REP-005] from %s to %s, about %s ticks: %s", (low, high, count, texts) => {
    expect(ticks(makeScale(low, high, 0, 100), count).map((one) => one.text)).toEqual(texts);
  });

  it("[REP-006] the top of an axis is a round number at or above the value", () => {
    expect([7, 6250, 0.33, 0, 1].map(roundedUp)).toEqual([8, 8000, 0.4, 1, 1]);
  });
});
