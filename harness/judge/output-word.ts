// The output word, composed anew from what a record shows: the judge's own reading of the layout.
// Source: ARINC 429 part 1, binary number, read from public descriptions.
import { FUNCTIONAL_TEST, NO_COMPUTED_DATA, VALID } from "../../shared/units.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import type { DisplayProfile } from "../scene/scene.ts";

/** Counts so near a half may be rounded either way: single precision of a quotient and a product. */
const HALF_SHARE = 2 ** -21;

/** Sign/status matrix, bits 31 and 30; all else is a failure warning, 00. */
const MATRIX = new Map([
  [VALID, "11"],
  [NO_COMPUTED_DATA, "01"],
  [FUNCTIONAL_TEST, "10"],
]);

function binary(value: number, digits: number): string {
  return value.toString(2).padStart(digits, "0");
}

/** Written from bit 32 down to bit 1, as the layout is drawn. */
function compose(word: NonNullable<DisplayProfile["word"]>, counts: number, validity: number) {
  const data = binary(counts, word.bits).padEnd(18, "0");
  const label = binary(word.label, 8).split("").toReversed().join("");
  const rest = `${MATRIX.get(validity) ?? "00"}0${data}${binary(word.sdi, 2)}${label}`;
  const oneCount = rest.replaceAll("0", "").length;
  return parseInt(`${oneCount % 2 === 0 ? "1" : "0"}${rest}`, 2);
}

/** The words that are right for what a record shows; two where the counts lie at a half. */
export function outputWords(record: LevelRecord, display: DisplayProfile): number[] {
  const { word, step } = display;
  if (word === undefined) return [0];
  const counts = (record.shownCounts * step) / word.resolution;
  const near = HALF_SHARE * Math.max(1, counts);
  const most = 2 ** word.bits - 1;
  const rounded = [counts - near, counts + near].map((one) =>
    Math.min(most, Math.max(0, Math.floor(one + 0.5))),
  );
  return [...new Set(rounded)].map((one) => compose(word, one, record.validity));
}
