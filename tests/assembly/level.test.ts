import { describe, expect, test } from "vitest";
import * as L from "../../shared/layout.ts";
import { SOURCE_GREATEST, SOURCE_OWN, SOURCE_SUBSTITUTE } from "../../shared/units.ts";
import { openStage, STAGE_BUILDS, type Field, writeFields } from "./kit/stage.ts";

const f32 = Math.fround;
const HELD = L.STATUS_HELD;
const BLANK = L.STATUS_BLANK;

describe.each(STAGE_BUILDS)("shown number, %s build", async (build) => {
  const stage = await openStage(build);
  const { run, view } = stage;
  const configure = (fields: Field[]): void => {
    writeFields(view, run.addressDisplay(), [
      [L.DISPLAY_SOURCE, "u32", SOURCE_OWN],
      [L.DISPLAY_SCALE_COUNT, "u32", 1],
      [L.DISPLAY_SMOOTHING, "f32", 1],
      [L.DISPLAY_STEP_INVERSE, "f32", 10],
      [L.DISPLAY_COUNTS_MAX, "i32", 100],
      [L.DISPLAY_HOLD_STEPS, "u32", 2],
      [L.DISPLAY_SCALE, "f32", 0],
      [L.DISPLAY_SCALE + 4, "f32", 1],
      ...fields,
    ]);
    run.stageReset();
  };
  const scaleRows = (...rows: [number, number][]): Field[] => [
    [L.DISPLAY_SCALE_COUNT, "u32", rows.length],
    ...rows.flatMap(([speed, factor], i): Field[] => [
      [L.DISPLAY_SCALE + 8 * i, "f32", speed],
      [L.DISPLAY_SCALE + 8 * i + 4, "f32", factor],
    ]),
  ];

  // Check value P-03 decided: the count is compared, so 3.95 on a display of 0.1 reads 4.0 and is at
  // the level. Ties go upward. All values of the first rows are exact in binary.
  test.each([
    [3.9375, 8, 32],
    [3.9374, 8, 31],
    [4.0, 8, 32],
    [0.0625, 8, 1],
    [0.0624, 8, 0],
    [3.949, 10, 39],
    [3.951, 10, 40],
  ])("[LEVEL-001] %d in steps of 1/%d shows %i counts: nearest, halves upward", (v, inverse, n) => {
    expect(run.numberCounts(v, inverse, 1000)).toBe(n);
  });

  test("[LEVEL-002] the caution level's own tie: half a step below it reads the level", () => {
    // 5.0 in steps of 0.125: 40 counts; the tie stands at 39.5 counts exactly.
    const tie = 39.5 / 8;
    expect(run.numberCounts(tie, 8, 1000)).toBe(40);
    expect(run.numberCounts(tie - 2 ** -21, 8, 1000)).toBe(39);
  });

  test.each([
    [99.94, 999],
    [1e30, 1000],
    [Infinity, 1000],
    [-1, 0],
    [NaN, 0],
  ])("[LEVEL-003] %d stays inside 0 … the top of the scale", (value, counts) => {
    expect(run.numberCounts(value, 10, 1000)).toBe(counts);
  });

  test("[LEVEL-004] the scale runs straight between its rows and is held at the ends", () => {
    configure(scaleRows([10, 2], [20, 4], [40, 1]));
    const found = [0, 10, 12.5, 15, 20, 30, 40, 1000].map((speed) => run.stageScale(speed));
    expect(found).toEqual([2, 2, 2.5, 3, 4, 2.5, 1, 1]);
    configure(scaleRows([10, 3]));
    expect([0, 10, 99].map((speed) => run.stageScale(speed))).toEqual([3, 3, 3]);
  });

  test("[LEVEL-005] smoothing starts at the first value and closes a share of the rest each step", () => {
    configure([
      [L.DISPLAY_SMOOTHING, "f32", 0.25],
      [L.DISPLAY_STEP_INVERSE, "f32", 1],
    ]);
    // 16, then 16 + (80 − 16)/4 = 32, 44, 53.
    expect([16, 80, 80, 80].map((value) => run.stageNumber(1, value))).toEqual([16, 32, 44, 53]);
  });

  test("[LEVEL-006] smoothing is f32, in the order written", () => {
    configure([
      [L.DISPLAY_SMOOTHING, "f32", 0.3],
      [L.DISPLAY_COUNTS_MAX, "i32", 1_000_000],
      [L.DISPLAY_STEP_INVERSE, "f32", 1000],
    ]);
    let smoothed = 0;
    for (let i = 0; i < 50; i++) {
      const value = f32(3 + (i % 7) * 0.37);
      const share = f32(0.3);
      smoothed = i === 0 ? value : f32(smoothed + f32(share * f32(value - smoothed)));
      const counts = Math.floor(f32(f32(smoothed * 1000) + 0.5));
      expect(run.stageNumber(1, value)).toBe(counts);
    }
  });

  test("[LEVEL-007] an invalid number is held and marked for the hold time, then blank", () => {
    configure([]);
    const steps = [run.stageNumber(1, 4)];
    const marks = [run.stageNumberMarks()];
    for (let i = 0; i < 4; i++) {
      steps.push(run.stageNumber(0, 0));
      marks.push(run.stageNumberMarks());
    }
    expect(steps).toEqual([40, 40, 40, 0, 0]);
    expect(marks).toEqual([0, HELD, HELD, BLANK, BLANK]);
  });

  test("[LEVEL-008] a display that never had a number is blank from its first step", () => {
    configure([]);
    expect([run.stageNumber(0, 0), run.stageNumberMarks()]).toEqual([0, BLANK]);
  });

  test("[LEVEL-009] a hold time of 0 blanks at once; what was blanked is not held again", () => {
    configure([[L.DISPLAY_HOLD_STEPS, "u32", 0]]);
    run.stageNumber(1, 4);
    expect([run.stageNumber(0, 0), run.stageNumberMarks()]).toEqual([0, BLANK]);
    expect([run.stageNumber(0, 0), run.stageNumberMarks()]).toEqual([0, BLANK]);
  });

  test("[LEVEL-010] smoothing starts anew when the number is valid again, from held or blank", () => {
    configure([[L.DISPLAY_SMOOTHING, "f32", 0.25]]);
    run.stageNumber(1, 2);
    run.stageNumber(0, 0);
    expect(run.stageNumber(1, 8)).toBe(80);
    for (let i = 0; i < 5; i++) run.stageNumber(0, 0);
    expect(run.stageNumber(1, 1)).toBe(10);
    expect(run.stageNumberMarks()).toBe(0);
  });

  test("[LEVEL-011] the greatest is taken over the valid sources, each at its own speed", () => {
    configure([
      [L.DISPLAY_SOURCE, "u32", SOURCE_GREATEST],
      [L.DISPLAY_SOURCES, "u32", 0b1101],
      ...scaleRows([10, 1], [20, 2]),
    ]);
    expect(run.stageMeasured(0, 3, 20)).toBe(6);
    run.stageMeasured(1, 99, 20);
    expect(run.stageMeasured(2, 5, 10)).toBe(5);
    run.stageMeasured(3, 5, 10);
    expect(run.stageSource(0, 4, 0b1111)).toBe(0);
    expect(run.stageSource(0, 4, 0b1110)).toBe(2); // the lowest index among equals
    expect(run.stageSource(0, 4, 0b1000)).toBe(3);
    expect(run.stageSource(0, 4, 0b0010)).toBe(-1); // not one of the sources
  });

  test("[LEVEL-012] greatest of sources that all read 0 is the first of them", () => {
    configure([
      [L.DISPLAY_SOURCE, "u32", SOURCE_GREATEST],
      [L.DISPLAY_SOURCES, "u32", 0b110],
    ]);
    for (let f = 0; f < 3; f++) run.stageMeasured(f, 0, 10);
    expect(run.stageSource(0, 3, 0b111)).toBe(1);
  });

  test("[LEVEL-013] a substitute serves only while the filter itself is not valid", () => {
    configure([
      [L.DISPLAY_SOURCE, "u32", SOURCE_SUBSTITUTE],
      [L.DISPLAY_SOURCES, "u32", 2],
    ]);
    const serving = [0b101, 0b001, 0b100, 0b010].map((valid) => run.stageSource(0, 3, valid));
    expect(serving).toEqual([0, 0, 2, -1]);
  });

  test("[LEVEL-014] without a source of its own kind a display shows its own filter or nothing", () => {
    configure([]);
    expect([0b10, 0b01].map((valid) => run.stageSource(1, 2, valid))).toEqual([1, -1]);
  });

  test("[LEVEL-015] a level whose value goes beyond f32 shows the top of the scale", () => {
    configure(scaleRows([0, 1000]));
    const value = run.stageMeasured(0, 3e38, 10);
    expect(value).toBe(f32(3.4028234663852886e38));
    expect([run.stageNumber(1, value), run.stageNumber(1, value)]).toEqual([100, 100]);
  });

  test("[LEVEL-016] a number that is long gone stays blank though its steps can be counted no more", () => {
    configure([]);
    run.stageNumber(1, 3);
    view.setUint32(run.addressInvalidSteps(), 2 ** 32 - 1, true);
    expect(run.stageNumber(0, 0)).toBe(0);
    expect(run.stageNumberMarks()).toBe(BLANK);
  });
});
