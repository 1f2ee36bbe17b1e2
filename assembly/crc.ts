// CRC-32/ISO-HDLC, bit by bit: it is asked once a configuration, and a table would take room.
import { CRC_POLYNOMIAL_REFLECTED } from "../shared/link.ts";

/** The remainder of one nibble, without a table. */
function crcNibble(remainder: u32): u32 {
  for (let bit: i32 = 0; bit < 4; bit++) {
    const mask: u32 = 0 - (remainder & 1);
    remainder = (remainder >> 1) ^ (CRC_POLYNOMIAL_REFLECTED & mask);
  }
  return remainder;
}

/**
 * CRC-32 of `length` bytes at `address`.
 *
 * Source    CRC-32/ISO-HDLC, the code of RFC 1952 section 8: "123456789" gives 0xcbf43926
 */
export function crcOf(address: usize, length: i32): u32 {
  let remainder: u32 = 0xffffffff;
  for (let i: i32 = 0; i < length; i++) {
    remainder ^= <u32>load<u8>(address + i);
    remainder = crcNibble(crcNibble(remainder));
  }
  return ~remainder;
}
