// The built-in core with one function that does something else, e.g. never comes back: bytes of its
// sections edited by the binary format (WebAssembly Core Specification 1.0, W3C 2019, chapter 5).
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { ROOT } from "../repo/source-files.ts";

const SECTION_EXPORT = 7;
const SECTION_CODE = 10;
const KIND_FUNCTION = 0;

/** No locals; a loop that begins anew; what follows it is never reached. */
export const ENDLESS = [0x00, 0x03, 0x40, 0x0c, 0x00, 0x0b, 0x00, 0x0b];

/** No locals; i32.const of a small number, 0 to 63. */
export const giving = (value: number): number[] => [0x00, 0x41, value, 0x0b];

class Bytes {
  at: number;
  readonly #bytes: Uint8Array;
  constructor(bytes: Uint8Array, at = 0) {
    this.#bytes = bytes;
    this.at = at;
  }

  byte(): number {
    return this.#bytes[this.at++]!;
  }

  /** LEB128, unsigned. */
  number(): number {
    let value = 0;
    for (let shift = 0; ; shift += 7) {
      const byte = this.byte();
      value += (byte & 0x7f) * 2 ** shift;
      if (byte < 0x80) return value;
    }
  }

  take(count: number): Buffer {
    this.at += count;
    return Buffer.from(this.#bytes.subarray(this.at - count, this.at));
  }
}

/** LEB128, signed, of a number that is not negative. */
function signedLeb(value: number): number[] {
  return value < 0x40 ? [value] : [(value & 0x7f) | 0x80, ...signedLeb(value >>> 7)];
}

/** The body with these instructions before its own first one. */
function begun(own: Buffer, first: readonly number[]): number[] {
  const bytes = new Bytes(own);
  for (let left = bytes.number(); left > 0; left -= 1) {
    bytes.number();
    bytes.byte();
  }
  return [...own.subarray(0, bytes.at), ...first, ...own.subarray(bytes.at)];
}

/** The body, which first loops without end where the word at an address is at least so much. */
export const endlessFrom =
  (address: number, least: number) =>
  (own: Buffer): number[] =>
    begun(
      own,
      [
        [0x41, ...signedLeb(address), 0x28, 2, 0],
        [0x41, ...signedLeb(least), 0x4f],
        // if; loop; br 0; end; end
        [0x04, 0x40, 0x03, 0x40, 0x0c, 0x00, 0x0b, 0x0b],
      ].flat(),
    );

/** The body, which first asks for so many more pages of memory. */
export const growing =
  (pages: number) =>
  (own: Buffer): number[] =>
    begun(own, [0x41, pages, 0x40, 0, 0x1a]);

function leb(value: number): number[] {
  return value < 0x80 ? [value] : [(value & 0x7f) | 0x80, ...leb(value >>> 7)];
}

/** Index of an exported function; without imports it is also its place among the bodies. */
function exportedIndex(section: Buffer, name: string): number {
  const bytes = new Bytes(section);
  for (let left = bytes.number(); left > 0; left -= 1) {
    const found = bytes.take(bytes.number()).toString();
    const kind = bytes.byte();
    const index = bytes.number();
    if (found === name && kind === KIND_FUNCTION) return index;
  }
  throw new Error(`no function "${name}" is exported`);
}

/** What stands in a body's place, or what makes it of the body. */
type Body = readonly number[] | ((own: Buffer) => readonly number[]);

function replacedBody(section: Buffer, index: number, body: Body): Buffer {
  const bytes = new Bytes(section);
  const count = bytes.number();
  const parts: Buffer[] = [Buffer.from(leb(count))];
  for (let i = 0; i < count; i += 1) {
    const own = bytes.take(bytes.number());
    const one = i === index ? Buffer.from(typeof body === "function" ? body(own) : body) : own;
    parts.push(Buffer.from(leb(one.length)), one);
  }
  return Buffer.concat(parts);
}

/** The release core in which an exported function has another body. */
export function changedCore(name: string, body: Body): Buffer {
  const wasm = readFileSync(join(ROOT, "build", "core", "release.wasm"));
  const bytes = new Bytes(wasm);
  const parts: Buffer[] = [bytes.take(8)];
  let index = -1;
  while (bytes.at < wasm.length) {
    const id = bytes.byte();
    let section = bytes.take(bytes.number());
    if (id === SECTION_EXPORT) index = exportedIndex(section, name);
    if (id === SECTION_CODE) section = replacedBody(section, index, body);
    parts.push(Buffer.from([id, ...leb(section.length)]), section);
  }
  return Buffer.concat(parts);
}
