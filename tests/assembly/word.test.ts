// ARINC 429 words. Expected words: check values D-20 … D-31; layout vectors as published, the rest
// computed by hand from the definition. Labels are examples of bit order, not of a use.
import { describe, expect, test } from "vitest";
import * as L from "../../shared/layout.ts";
import { FAILURE, FUNCTIONAL_TEST, NO_COMPUTED_DATA, VALID } from "../../shared/units.ts";
import { openStage, STAGE_BUILDS, writeFields } from "./kit/stage.ts";

function onesOf(word: number): number {
  let ones = 0;
  for (let bit = 0; bit < 32; bit++) ones += (word >>> bit) & 1;
  return ones;
}

describe.each(STAGE_BUILDS)("output word, %s build", async (build) => {
  const { run, view } = await openStage(build);
  const compose = (label: number, bits: number, counts: number, validity = VALID): number =>
    run.wordCompose(label, 0, bits, counts, validity) >>> 0;
  const configure = (bits: number, stepInverse: number, wordInverse: number): void => {
    writeFields(view, run.addressDisplay(), [
      [L.DISPLAY_STEP_INVERSE, "f32", stepInverse],
      [L.DISPLAY_WORD_LABEL, "u32", 0o346],
      [L.DISPLAY_WORD_SDI, "u32", 0],
      [L.DISPLAY_WORD_BITS, "u32", bits],
      [L.DISPLAY_WORD_INVERSE, "f32", wordInverse],
    ]);
  };

  test.each([
    ["D-20 normal operation", VALID, 0b11],
    ["D-20 no computed data", NO_COMPUTED_DATA, 0b01],
    ["D-20 functional test", FUNCTIONAL_TEST, 0b10],
    ["D-20 failure warning", FAILURE, 0b00],
    ["a validity that is not known reads failure", 99, 0b00],
  ])("[WORD-001] sign/status matrix: %s", (_name, validity, matrix) => {
    expect((compose(0o346, 10, 512, validity) >>> 29) & 3).toBe(matrix);
  });

  test.each([
    [0o203, 0xc1],
    [0o205, 0xa1],
    [0o377, 0xff],
    [0o001, 0x80],
    [0o012, 0x50],
    [0x6a, 0x56],
  ])("[WORD-002] label %i stands with its bits reversed (D-24)", (label, reversed) => {
    expect(run.labelReversed(label)).toBe(reversed);
    expect(run.labelReversed(reversed)).toBe(label);
  });

  test.each([
    ["D-23 layout vector", 0o012, 18, 2000, VALID, 0xe01f4050],
    ["D-26 2.5 of range 8", 0o346, 10, 320, VALID, 0x65000067],
    ["D-26 4.0", 0o346, 10, 512, VALID, 0xe8000067],
    ["D-26 3.9", 0o346, 10, 499, VALID, 0xe7cc0067],
    ["D-26 −1.0", 0o346, 10, -128, VALID, 0x7e000067],
    ["D-27 4.0 no computed data", 0o346, 10, 512, NO_COMPUTED_DATA, 0x28000067],
    ["D-27 4.0 failure warning", 0o346, 10, 512, FAILURE, 0x88000067],
    ["D-28 4.0 of range 10.24", 0o135, 10, 400, VALID, 0xe64000ba],
    ["D-29 25,000", 0o203, 17, 25_000, VALID, 0x630d40c1],
    ["D-29 −1,000", 0o203, 17, -1000, VALID, 0x7fe0c0c1],
  ])("[WORD-003] %s", (_name, label, bits, counts, validity, word) => {
    expect(compose(label, bits, counts, validity).toString(16)).toBe(word.toString(16));
  });

  test("[WORD-004] every word has an odd number of ones (D-25)", () => {
    // The rule itself, on the published words.
    expect([0x00000000, 0xf03ccccc, 0x00000001].map((word) => onesOf(word) % 2)).toEqual([0, 0, 1]);
    for (let counts = -1024; counts < 1024; counts += 7) {
      for (const validity of [VALID, NO_COMPUTED_DATA, FAILURE, FUNCTIONAL_TEST]) {
        expect(onesOf(compose(counts & 0xff, 10, counts, validity)) % 2).toBe(1);
      }
    }
  });

  test("[WORD-005] an angle of −135° has the 13 bits of 225°, 0x1400 (D-30)", () => {
    expect((compose(0, 12, -135 * (4096 / 180)) >>> 16) & 0x1fff).toBe(0x1400);
  });

  test("[WORD-006] data run from the most negative to one step below the positive (D-31)", () => {
    const counts = (word: number): number => ((word >>> 28) & 1 ? -16 : 0) + ((word >>> 24) & 15);
    expect(counts(compose(0, 4, 1000))).toBe(15); // step 0.25, range 4: 3.75
    expect(counts(compose(0, 4, 15))).toBe(15);
    expect(counts(compose(0, 4, -1000))).toBe(-16); // −4
    for (let one = -16; one <= 15; one++) expect(counts(compose(0, 4, one))).toBe(one);
  });

  test("[WORD-007] the source/destination bits stand in 9 and 10", () => {
    expect(run.wordCompose(0, 3, 18, 0, FAILURE) & 0x300).toBe(0x300);
    expect(run.wordCompose(0, 1, 18, 0, FAILURE) & 0x300).toBe(0x100);
  });

  // Check value P-04: 3.9 reads back 3.8984375, 4.0 exactly; nothing under the level reads 4.0.
  test("[WORD-008] the word carries the shown number: 3.9 reads 3.8984375, 4.0 exactly (P-04)", () => {
    configure(10, 10, 128);
    const read = (shown: number): number => ((run.stageWord(shown, VALID) >>> 18) & 0x3ff) / 128;
    expect(read(39)).toBe(3.8984375);
    expect(read(40)).toBe(4);
    for (let shown = 0; shown < 40; shown++) expect(read(shown)).toBeLessThan(4);
    expect(run.stageWord(40, VALID) >>> 0).toBe(0xe8000067);
  });

  test("[WORD-009] a number above the word's range stays at its top", () => {
    configure(10, 10, 128);
    expect((run.stageWord(2_000_000_000, VALID) >>> 18) & 0x7ff).toBe(0x3ff);
  });

  test("[WORD-010] a display without a word sends 0", () => {
    configure(0, 10, 128);
    expect(run.stageWord(40, VALID)).toBe(0);
  });
});
