// Bytes of a text file as text; what is no UTF-8 is told by its place.
import { isUtf8 } from "node:buffer";
import { InputError } from "./input-error.ts";

const LINE_END = 10;
const DECODER = new TextDecoder("utf-8", { fatal: true });

/** Bytes of the character that a byte starts; 0 where it starts none. */
function characterBytes(first: number): number {
  if (first < 0x80) return 1;
  if (first < 0xc2) return 0;
  if (first < 0xe0) return 2;
  if (first < 0xf0) return 3;
  return first < 0xf5 ? 4 : 0;
}

/** Offset of the first byte that is no UTF-8; −1 where there is none. */
export function firstWrongByte(bytes: Uint8Array): number {
  if (isUtf8(bytes)) return -1;
  let at = 0;
  while (at < bytes.length) {
    const count = characterBytes(bytes[at]!);
    const isWhole = count === 1 || (count > 1 && isUtf8(bytes.subarray(at, at + count)));
    if (!isWhole || at + count > bytes.length) return at;
    at += count;
  }
  return -1;
}

function isUtf16(bytes: Uint8Array): boolean {
  const start = (bytes[0]! << 8) | bytes[1]!;
  return bytes.length >= 2 && (start === 0xfffe || start === 0xfeff);
}

/**
 * The text that bytes of a file hold, without a byte order mark at its start.
 *
 * Shape     `line` is the line that the bytes start on, from 1
 * Errors    InputError with line, column and byte: UTF-16, a byte that is no UTF-8, a zero byte
 */
export function utf8Text(file: string, bytes: Uint8Array, line = 1): string {
  const zero = bytes.indexOf(0);
  const wrong = firstWrongByte(bytes);
  if (zero < 0 && wrong < 0) return DECODER.decode(bytes);
  if (line === 1 && isUtf16(bytes)) {
    const message = "is not a text in UTF-8 but in UTF-16";
    throw new InputError({ file, line: 1, column: 1, byte: 0, message });
  }
  const at = zero < 0 || (wrong >= 0 && wrong < zero) ? wrong : zero;
  const before = bytes.subarray(0, at);
  const start = before.lastIndexOf(LINE_END) + 1;
  const column = DECODER.decode(before.subarray(start)).length + 1;
  const found = `0x${bytes[at]!.toString(16).padStart(2, "0")}`;
  const message =
    at === zero
      ? "is no text: a zero byte stands here"
      : `is not a text in UTF-8: byte ${found} stands here`;
  throw new InputError({ file, line: line + lineEnds(before), column, byte: at, message });
}

/** Line ends in some bytes. */
export function lineEnds(bytes: Uint8Array): number {
  let count = 0;
  for (let at = bytes.indexOf(LINE_END); at >= 0; at = bytes.indexOf(LINE_END, at + 1)) count += 1;
  return count;
}
