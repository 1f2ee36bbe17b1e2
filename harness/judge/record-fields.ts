// Fields of a level record that are right or wrong by themselves: what the truth, and the record's
// own other fields, say of them.
import { FLAG_COMPUTED } from "../../shared/layout.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import type { StepTruth } from "../truth/types.ts";

type Certainty = NonNullable<StepTruth["record"]>["isComputed"];

/** What is wrong, one clause each. */
export function fieldFaults(record: LevelRecord, truth: StepTruth): string[] {
  const expected = truth.record;
  if (expected === undefined) return [];
  const faults: string[] = [];
  const flag = (bit: number, should: Certainty, what: string): void => {
    const isSet = (record.flags & bit) !== 0;
    if (should === "maybe" || isSet === (should === "yes")) return;
    faults.push(`"${what}" is ${isSet ? "set, should not be" : "not set, should be"}`);
  };
  flag(FLAG_COMPUTED, expected.isComputed, "computed");
  return faults;
}
