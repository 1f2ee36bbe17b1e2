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
function firstWrongByte(bytes: Uint8Array): number {
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

/** Offset of the first byte that no text holds: a zero byte, or no UTF-8; −1 where there is none. */
export function firstUnreadableByte(bytes: Uint8Array): number {
  const zero = bytes.indexOf(0);
  const wrong = firstWrongByte(bytes);
  return zero < 0 || (wrong >= 0 && wrong < zero) ? wrong : zero;
}

/**
 * The text that bytes of a file hold, without a byte order mark at its start.
 *
 * Shape     `start` is where in the file the bytes start: line from 1, byte from 0
 * Errors    InputError with line, column and byte: UTF-16, a byte that is no UTF-8, a zero byte
 */
export function utf8Text(file: string, bytes: Uint8Array, start = { line: 1, byte: 0 }): string {
  const at = firstUnreadableByte(bytes);
  if (at < 0) return DECODER.decode(bytes);
  if (start.byte === 0 && isUtf16(bytes)) {
    const message = "is not a text in UTF-8 but in UTF-16";
    throw new InputError({ file, line: 1, column: 1, byte: 0, message });
  }
  const before = bytes.subarray(0, at);
  const column = DECODER.decode(before.subarray(before.lastIndexOf(LINE_END) + 1)).length + 1;
  const found = `0x${bytes[at]!.toString(16).padStart(2, "0")}`;
  const message =
    bytes[at] === 0
      ? "is no text: a zero byte stands here"
      : `is not a text in UTF-8: byte ${found} stands here`;
  const line = start.line + lineEnds(before);
  throw new InputError({ file, line, column, byte: start.byte + at, message });
}

/** Line ends in some bytes. */
function lineEnds(bytes: Uint8Array): number {
  let count = 0;
  for (let at = bytes.indexOf(LINE_END); at >= 0; at = bytes.indexOf(LINE_END, at + 1)) count += 1;
  return count;
}
