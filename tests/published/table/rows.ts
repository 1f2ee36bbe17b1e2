// All check values in one table.
import { ALERT_ROWS, TREND_ROWS } from "./alerts-and-trends.ts";
import { FILTER_ROWS, ORDER_ROWS, TACHOMETER_ROWS, WINDOW_ROWS } from "./filters-and-orders.ts";
import {
  ATMOSPHERE_ROWS,
  DIGITAL_ROWS,
  INSTRUMENT_ROWS,
  PRACTICE_ROWS,
} from "./numbers-and-practice.ts";
import type { Row } from "./row.ts";
import { BALANCE_ROWS, PASSAGE_ROWS, RESPONSE_ROWS, UNIT_ROWS } from "./units-and-rotors.ts";

export const ROWS: readonly Row[] = [
  ...UNIT_ROWS,
  ...BALANCE_ROWS,
  ...RESPONSE_ROWS,
  ...PASSAGE_ROWS,
  ...FILTER_ROWS,
  ...WINDOW_ROWS,
  ...ORDER_ROWS,
  ...TACHOMETER_ROWS,
  ...ALERT_ROWS,
  ...TREND_ROWS,
  ...DIGITAL_ROWS,
  ...INSTRUMENT_ROWS,
  ...ATMOSPHERE_ROWS,
  ...PRACTICE_ROWS,
];

/** Ids in each section. */
export const SECTION_COUNTS: Readonly<Record<string, number>> = {
  U: 21,
  B: 16,
  R: 13,
  S: 11,
  F: 26,
  W: 11,
  O: 11,
  T: 11,
  A: 27,
  Q: 17,
  D: 39,
  I: 9,
  E: 6,
  P: 10,
};
