// An answer on its way to the line. Its first part is written at ANSWER_HEAD; what follows
// (configuration, records, counters) is sent from where it lies, so that no copy needs room. Nothing
// changes while an answer is on its way: the next byte is taken after its last.
import {
  ANSWER_HEAD_BYTES_MAX, PACKET_ACKNOWLEDGED, PACKET_ANSWER, PACKET_CHECK_BYTES, PACKET_HEAD_BYTES,
  PACKET_LENGTH, PACKET_SEQUENCE, PACKET_TYPE, SLIP_END, SLIP_ESC, SLIP_ESC_END, SLIP_ESC_ESC,
} from "../../shared/link.ts";
import { CRC_START, crcStep } from "../crc.ts";
import { ANSWER_HEAD } from "../memory.ts";

/** Where an answer's body begins. */
export const ANSWER_BODY: usize = ANSWER_HEAD + PACKET_HEAD_BYTES;

let headBytes: i32 = 0; // of head and first part
let tailAt: usize = 0;
let tailBytes: i32 = 0;
let sent: i32 = -1; // bytes of the packet that went; -1: the END in front is to go
let remainder: u32 = CRC_START;
let second: i32 = -1; // the second byte of an escape that is half sent
let isOnItsWay: bool = false;

/** No answer is on its way. */
export function answerReset(): void {
  isOnItsWay = false;
  second = -1;
}

export function answerIsOnItsWay(): bool {
  return isOnItsWay;
}

/**
 * Starts an answer.
 *
 * Shape     `bodyBytes` at ANSWER_BODY, then `bytes` at `address`
 */
export function answerStart(
  type: u32, sequence: u32, expected: u32, bodyBytes: i32, address: usize, bytes: i32,
): void {
  assert(!isOnItsWay && bodyBytes + PACKET_HEAD_BYTES <= ANSWER_HEAD_BYTES_MAX);
  store<u8>(ANSWER_HEAD + PACKET_TYPE, <u8>(type | PACKET_ANSWER));
  store<u8>(ANSWER_HEAD + PACKET_TYPE + 1, 0);
  store<u16>(ANSWER_HEAD + PACKET_SEQUENCE, <u16>sequence);
  store<u16>(ANSWER_HEAD + PACKET_LENGTH, <u16>(bodyBytes + bytes));
  store<u16>(ANSWER_HEAD + PACKET_ACKNOWLEDGED, <u16>expected);
  headBytes = PACKET_HEAD_BYTES + bodyBytes;
  tailAt = address;
  tailBytes = bytes;
  sent = -1;
  remainder = CRC_START;
  second = -1;
  isOnItsWay = true;
}

/** The next byte for the line, or −1 where there is none. */
export function answerGive(): i32 {
  if (!isOnItsWay) return -1;
  if (second >= 0) {
    const byte = second;
    second = -1;
    return byte;
  }
  if (sent < 0) {
    sent = 0;
    return SLIP_END;
  }
  if (sent == headBytes + tailBytes + PACKET_CHECK_BYTES) {
    isOnItsWay = false;
    return SLIP_END;
  }
  const byte = packetByte();
  sent += 1;
  if (byte == SLIP_END) second = SLIP_ESC_END;
  else if (byte == SLIP_ESC) second = SLIP_ESC_ESC;
  else return byte;
  return SLIP_ESC;
}

/** The byte of the packet that goes next; the check follows the body. */
function packetByte(): i32 {
  const inTail = sent - headBytes;
  const inCheck = inTail - tailBytes;
  if (inCheck >= 0) return <i32>(~remainder >> (8 * inCheck) & 0xff);
  const byte: u32 = inTail < 0
    ? <u32>load<u8>(ANSWER_HEAD + sent)
    : <u32>load<u8>(tailAt + inTail);
  remainder = crcStep(remainder, byte);
  return <i32>byte;
}
