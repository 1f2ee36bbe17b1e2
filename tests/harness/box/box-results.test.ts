// What was decided about a box, as a result tells it.
import { describe, expect, it } from "vitest";
import { CAUTION_OFF, CAUTION_ON, NO_COMPUTED_DATA, VALID } from "../../../shared/units.ts";
import { type BoxRow, boxCautions, boxFilter } from "../../../harness/box/box-results.ts";
import { boxScene } from "../../kit/simulated-box.ts";

const SCENE = boxScene("steps", ["{ at: 0 s, amplitude: 0.8 in/s pk }"], { duration: "1 s" });

const row = (timeS: number, one: Partial<BoxRow> = {}): BoxRow => ({
  timeS,
  shown: 2,
  expected: 2,
  accuracy: 0.16,
  speedRevPerS: 40,
  cautionState: CAUTION_OFF,
  cautionAllowed: 2,
  saysCaution: true,
  validity: VALID,
  ...one,
});

describe("a box in a result", () => {
  it("[BOX-087] of ten hours at 8 Hz is told as one of a minute is", () => {
    const rows = Array.from({ length: 288_000 }, (_, i) => row(i / 8, { shown: 1 + (i % 30) / 10 }));
    const told = boxFilter(SCENE, 0, rows);
    expect(told.shownRange).toEqual({ least: 1, most: 3.9 });
    expect(told.toleranceShare).toBeCloseTo(0.08, 12);
    expect(told.trace.timeS).toHaveLength(2000);
  });

  it("[BOX-088] ranges over the numbers that were shown as valid, and no others", () => {
    const rows = [row(0), row(1, { shown: 9.9, validity: NO_COMPUTED_DATA }), row(2, { shown: 3 })];
    const { shownRange, trace } = boxFilter(SCENE, 0, rows);
    expect(shownRange).toEqual({ least: 2, most: 3 });
    expect(trace.shown).toEqual([2, -1, 3]);
  });

  it("[BOX-089] has no change of a caution where a reading does not say it", () => {
    const [isOn, unsaid] = [{ cautionState: CAUTION_ON }, { saysCaution: false }];
    const rows = [row(0), row(1, isOn), row(2, unsaid), row(3, isOn), row(4, unsaid), row(5)];
    const told = boxCautions("fan", 0, rows).map(({ name, timeS }) => [name, timeS]);
    expect(told).toEqual([
      ["caution-on", 1],
      ["caution-off", 5],
    ]);
  });
});
