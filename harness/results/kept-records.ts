// The records of a case as they came, in a file of their own: what a comparison bit by bit needs.
import { closeSync, openSync, renameSync, rmSync, writeSync } from "node:fs";
import { join } from "node:path";
import { threadId } from "node:worker_threads";
import { unwritable } from "./output-folder.ts";
import { recordsPath } from "./results-folder.ts";

let files = 0;

export class KeptRecords {
  readonly #folder: string;
  readonly #path: string;
  #file: number | undefined;

  /** Errors: ResultsError. */
  constructor(folder: string) {
    this.#folder = folder;
    files += 1;
    this.#path = join(folder, "cases", `${process.pid}-${threadId}-${files}.records.part`);
    this.#file = this.#tried(() => openSync(this.#path, "w"));
  }

  #tried<T>(work: () => T): T {
    try {
      return work();
    } catch (error) {
      throw unwritable(this.#folder, error);
    }
  }

  take(records: Uint8Array): void {
    const file = this.#file;
    if (file === undefined) return;
    this.#tried(() => {
      for (let at = 0; at < records.byteLength;) at += writeSync(file, records, at);
    });
  }

  /** The file gets its case's name: from now on it is whole. */
  keepAs(id: string): void {
    this.#close();
    this.#tried(() => renameSync(this.#path, recordsPath(this.#folder, id)));
  }

  /** Leaves nothing where it was not kept. */
  end(): void {
    this.#close();
    rmSync(this.#path, { force: true });
  }

  #close(): void {
    if (this.#file !== undefined) closeSync(this.#file);
    this.#file = undefined;
  }
}
