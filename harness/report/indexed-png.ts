// A picture of indexed colours as a PNG (ISO/IEC 15948), stored without compression: the same bytes
// everywhere.
import crc32 from "crc/calculators/crc32";
import type { Colour } from "./colour-scale.ts";

const SIGNATURE = Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a);
/** A stored block of deflate (RFC 1951) holds so many bytes at most. */
const STORED_MAX = 0xffff;
const ADLER_MODULUS = 65_521;

function chunk(type: string, body: Uint8Array): Buffer {
  const typed = Buffer.concat([Buffer.from(type, "latin1"), body]);
  const length = Buffer.alloc(4);
  length.writeUInt32BE(body.length);
  const check = Buffer.alloc(4);
  check.writeUInt32BE(crc32(typed) >>> 0);
  return Buffer.concat([length, typed, check]);
}

/** The bytes in stored blocks, with head and check of RFC 1950. */
function stored(bytes: Uint8Array): Buffer {
  const parts: Uint8Array[] = [Uint8Array.of(0x78, 0x01)];
  for (let from = 0; from < bytes.length; from += STORED_MAX) {
    const some = bytes.subarray(from, from + STORED_MAX);
    const head = Buffer.alloc(5);
    head[0] = from + STORED_MAX >= bytes.length ? 1 : 0;
    head.writeUInt16LE(some.length, 1);
    head.writeUInt16LE(some.length ^ 0xffff, 3);
    parts.push(head, some);
  }
  let [a, b] = [1, 0];
  for (const byte of bytes) {
    a = (a + byte) % ADLER_MODULUS;
    b = (b + a) % ADLER_MODULUS;
  }
  const check = Buffer.alloc(4);
  check.writeUInt16BE(b);
  check.writeUInt16BE(a, 2);
  parts.push(check);
  return Buffer.concat(parts);
}

/**
 * The picture as bytes of a PNG file.
 *
 * Shape     `indexAt(x, y)` 0 to palette.length − 1, y downwards; index 0 is left clear
 */
export function indexedPng(
  width: number,
  height: number,
  palette: readonly Colour[],
  indexAt: (x: number, y: number) => number,
): Buffer {
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width);
  head.writeUInt32BE(height, 4);
  // Eight bits, indexed colours.
  head[8] = 8;
  head[9] = 3;
  const rows = new Uint8Array(height * (width + 1));
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) rows[y * (width + 1) + 1 + x] = indexAt(x, y);
  }
  return Buffer.concat([
    SIGNATURE,
    chunk("IHDR", head),
    chunk("PLTE", Uint8Array.from(palette.flat())),
    chunk("tRNS", Uint8Array.of(0)),
    chunk("IDAT", stored(rows)),
    chunk("IEND", new Uint8Array(0)),
  ]);
}
