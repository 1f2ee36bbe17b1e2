// CRC-32/ISO-HDLC, a nibble at a time: sixteen remainders are less room than 256 and less work than
// eight shifts a byte.
import { CRC_POLYNOMIAL_REFLECTED } from "../shared/link.ts";

/** Remainders of the sixteen nibbles: four shifts of each by the reflected polynomial. */
const NIBBLES: usize = memory.data<u32>([
  0x00000000, 0x1db71064, 0x3b6e20c8, 0x26d930ac, 0x76dc4190, 0x6b6b51f4, 0x4db26158, 0x5005713c,
  0xedb88320, 0xf00f9344, 0xd6d6a3e8, 0xcb61b38c, 0x9b64c2b0, 0x86d3d2d4, 0xa00ae278, 0xbdbdf21c,
]);
if (CRC_POLYNOMIAL_REFLECTED != 0xedb88320) ERROR("the table is another polynomial's");

/** The remainder before the first byte. */
export const CRC_START: u32 = 0xffffffff;

/** The remainder after one more byte; inverted, it is the check value. */
export function crcStep(remainder: u32, byte: u32): u32 {
  remainder ^= byte;
  remainder = (remainder >> 4) ^ load<u32>(NIBBLES + ((remainder & 15) << 2));
  return (remainder >> 4) ^ load<u32>(NIBBLES + ((remainder & 15) << 2));
}

/**
 * CRC-32 of `length` bytes at `address`.
 *
 * Source    CRC-32/ISO-HDLC, the code of RFC 1952 section 8: "123456789" gives 0xcbf43926
 */
export function crcOf(address: usize, length: i32): u32 {
  let remainder: u32 = CRC_START;
  for (let i: i32 = 0; i < length; i++) remainder = crcStep(remainder, <u32>load<u8>(address + i));
  return ~remainder;
}
