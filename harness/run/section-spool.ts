// Sections of the report wait in a file until all are there, so that memory does not grow with the
// number of cases; they are read back in the order of the summary.
import { closeSync, openSync, readSync, rmSync, writeSync } from "node:fs";

export class SectionSpool {
  readonly #path: string;
  readonly #file: number;
  readonly #places = new Map<string, { offset: number; length: number }>();
  #end = 0;

  constructor(path: string) {
    this.#path = path;
    this.#file = openSync(path, "w+");
  }

  add(id: string, section: string): void {
    const bytes = Buffer.from(section);
    for (let done = 0; done < bytes.length;) {
      done += writeSync(this.#file, bytes, done, bytes.length - done, this.#end + done);
    }
    this.#places.set(id, { offset: this.#end, length: bytes.length });
    this.#end += bytes.length;
  }

  /** Whether the case has a section. */
  has(id: string): boolean {
    return (this.#places.get(id)?.length ?? 0) > 0;
  }

  read(id: string): string {
    const place = this.#places.get(id);
    if (place === undefined) throw new Error(`no section for case ${id}`);
    const bytes = Buffer.alloc(place.length);
    for (let done = 0; done < bytes.length;) {
      const count = readSync(this.#file, bytes, done, bytes.length - done, place.offset + done);
      if (count === 0) throw new Error(`the section of case ${id} was cut short`);
      done += count;
    }
    return bytes.toString();
  }

  /** Closes and removes the file. */
  remove(): void {
    closeSync(this.#file);
    rmSync(this.#path, { force: true });
  }
}
