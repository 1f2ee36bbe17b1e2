// The side file of a stimulus: what one volt stands for, what comes when, and what must be answered.
import { closeSync, openSync, writeSync } from "node:fs";
import { type Expected, TRUTH_COLUMNS, type TruthRow } from "./expected.ts";
import type { SideFacts } from "./side-facts.ts";
import { STARTS, wordsOf } from "./side-words.ts";

/**
 * Version of the side file; a reader accepts its own major number only. 1.1: a hold, a ramp at the
 * end, words, filters, inputs, rms of the whole file.
 */
export const SIDE_VERSION = "1.1";

/** Writes the rows of the truth as they come, then the rest. */
export class SideFile {
  readonly #file: number;
  #isFirst = true;

  /** Errors: of the file system; a file that is there is not written over. */
  constructor(path: string, facts: SideFacts) {
    this.#file = openSync(path, "wx");
    const head = { stimulus: SIDE_VERSION, words: wordsOf(facts), ...facts, starts: STARTS };
    const text = JSON.stringify(head, undefined, 1).replace(/\n\}$/, "");
    this.#put(`${text},\n "truth": {\n  "columns": ${JSON.stringify(TRUTH_COLUMNS)},\n  "rows": [`);
  }

  #put(text: string): void {
    const bytes = Buffer.from(text);
    for (let at = 0; at < bytes.length;) at += writeSync(this.#file, bytes, at);
  }

  row(row: TruthRow): void {
    this.#put(`${this.#isFirst ? "" : ","}\n   ${JSON.stringify(row)}`);
    this.#isFirst = false;
  }

  end({ events, cautions, core }: Expected): void {
    const rest = JSON.stringify({ events, cautions, core }, undefined, 1).replace(/^\{\n/, "");
    this.#put(`\n  ]\n },\n${rest}\n`);
    closeSync(this.#file);
  }

  abandon(): void {
    closeSync(this.#file);
  }
}
