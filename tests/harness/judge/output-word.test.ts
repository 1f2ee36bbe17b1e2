// The judge's own reading of the output word. Published values: D-26 to D-28 of the check values,
// computed from the layout of ARINC 429 part 1 (read from public descriptions).
import { describe, expect, it } from "vitest";
import { outputWords } from "../../../harness/judge/output-word.ts";
import { fieldFaults } from "../../../harness/judge/record-fields.ts";
import type { LevelRecord } from "../../../host/record-types.ts";
import type { DisplayProfile } from "../../../harness/scene/scene.ts";
import * as U from "../../../shared/units.ts";
import { filterProfile } from "../../kit/scene-builder.ts";
import { CLIMB, cautionScene } from "./caution-flight.ts";
import { fly } from "./fake-flight.ts";

const RECORD = fly(cautionScene(), CLIMB).records.find((one) => one.kind === "level")!;

function display(over: Partial<NonNullable<DisplayProfile["word"]>> = {}): DisplayProfile {
  const word = { label: 0o346, sdi: 0, bits: 10, resolution: 2 ** -7, ...over };
  return { ...filterProfile().display, step: 0.1, word };
}

function words(shownCounts: number, validity: number, one = display()): number[] {
  return outputWords({ ...(RECORD as LevelRecord), shownCounts, validity }, one);
}

describe("the output word that a record must carry", () => {
  it("[JUDGE-090] is that of the published layout", () => {
    expect(words(25, U.VALID)).toEqual([0x65000067]);
    expect(words(40, U.VALID)).toEqual([0xe8000067]);
    expect(words(39, U.VALID)).toEqual([0xe7cc0067]);
    expect(words(40, U.NO_COMPUTED_DATA)).toEqual([0x28000067]);
    expect(words(40, U.FAILURE)).toEqual([0x88000067]);
    expect(words(40, U.VALID, display({ label: 0o135, resolution: 0.01 }))).toEqual([0xe64000ba]);
  });

  it("[JUDGE-091] may be either of two at a half, holds at its top, and is 0 without a label", () => {
    // 0.1 over 0.2 is half a count.
    const half = words(1, U.VALID, display({ resolution: 0.2 }));
    expect(half).toHaveLength(2);
    const [top] = words(1000, U.VALID, display({ bits: 3 }));
    expect((top! >>> 25) & 7).toBe(7);
    expect(words(40, U.VALID, filterProfile().display)).toEqual([0]);
  });
});

describe("fields that contradict each other", () => {
  const record = RECORD as LevelRecord;
  const truth = fly(cautionScene(), CLIMB).truth().step(0, 1);
  const faults = (over: Partial<LevelRecord>): string[] =>
    fieldFaults({ ...record, ...over }, filterProfile(), truth);

  it("[JUDGE-092] are told one by one", () => {
    expect(faults({})).toEqual([]);
    expect(faults({ re: record.re * 1.00001, im: record.im * 1.00001 })[0]).toContain("vector is");
    expect(faults({ word: 1 })[0]).toContain("output word is 00000001, expected 00000000");
    expect(faults({ flags: record.flags ^ 1 })).toEqual(['"bridged" is set, should not be']);
    expect(faults({ flags: record.flags ^ 2 })).toEqual(['"phase relative" is set, should not be']);
    expect(faults({ flags: record.flags ^ 4 })).toEqual(['"integration" is set, should not be']);
    expect(faults({ flags: record.flags ^ 16 })).toEqual([
      "a valid number, but not settled",
      '"settled" is not set, should be',
    ]);
    expect(faults({ ageTicks: 99 })).toEqual(["age in ticks reads 99, expected 100 to 100"]);
    expect(faults({ revolution: 9 })).toEqual(["revolution reads 9, expected 8"]);
    const far = faults({ integrationDistance: 1, flags: record.flags | 4 });
    expect(far).toEqual(["integration distance reads 1, expected 0 to 0"]);
    expect(faults({ flags: 0 })).toContain("no level is computed, but fields of one are set");
  });
});
