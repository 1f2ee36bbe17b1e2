// Inputs from outside as bits of a block's header.
import {
  INPUT_ACKNOWLEDGE,
  INPUT_INHIBIT,
  INPUT_RUNNING,
  INPUT_TEST,
} from "../../shared/layout.ts";
import type { InputRow } from "../scene/scene.ts";
import { sampleFrom } from "./sample-clock.ts";

function bitsOf(row: InputRow): number {
  const test = row.test ? 1 << INPUT_TEST : 0;
  const displays =
    ((row.inhibit & 0xff) << INPUT_INHIBIT) | ((row.acknowledge & 0xff) << INPUT_ACKNOWLEDGE);
  return displays | ((row.running & 3) << INPUT_RUNNING) | test;
}

/** Rows in force, by sample. */
export class InputCursor {
  readonly #rows: { fromSample: number; bits: number }[];
  #row = 0;

  constructor(rows: readonly InputRow[], sampleRateHz: number) {
    this.#rows = [{ fromSample: 0, bits: 0 }];
    for (const row of rows) {
      const fromSample = sampleFrom(row.timeS, sampleRateHz);
      const last = this.#rows.at(-1)!;
      if (fromSample < last.fromSample) throw new Error("input rows must ascend in time");
      if (fromSample === last.fromSample) this.#rows.pop();
      this.#rows.push({ fromSample, bits: bitsOf(row) });
    }
  }

  /** The rows of samples first … first + count − 1; the first stands at `first`. */
  rowsOf(first: number, count: number): { fromSample: number; bits: number }[] {
    while ((this.#rows[this.#row + 1]?.fromSample ?? Infinity) <= first) this.#row += 1;
    const found = [{ fromSample: first, bits: this.#rows[this.#row]!.bits }];
    for (let i = this.#row + 1; i < this.#rows.length; i += 1) {
      if (this.#rows[i]!.fromSample >= first + count) break;
      found.push({ ...this.#rows[i]! });
    }
    return found;
  }
}
