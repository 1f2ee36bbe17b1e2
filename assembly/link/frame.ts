// Bytes from the line to packets: RFC 1055 with END at both ends. A body is stored only where its
// length fits, byte by byte where a block lies; what is wrong is dropped up to the next END, counted
// by its kind, and left to the host to send again.
import {
  CRC_RESIDUE, LINK_COUNTER_BAD_CHECK, LINK_COUNTER_BAD_FORM, LINK_COUNTER_TOO_LONG,
  PACKET_BODY_MAX, PACKET_CHECK_BYTES, PACKET_HEAD_BYTES, PACKET_LENGTH, SLIP_END, SLIP_ESC,
  SLIP_ESC_END, SLIP_ESC_ESC,
} from "../../shared/link.ts";
import { CRC_START, crcStep } from "../crc.ts";
import { INPUT, LINK_STATE } from "../memory.ts";
import { linkCount } from "./link-counters.ts";

/** Where the head of the packet in hand stands; its body stands at INPUT. */
export const PACKET_HEAD: usize = LINK_STATE;

let taken: i32 = 0; // bytes of the packet so far
let length: i32 = 0; // of its body, once the head is whole
let remainder: u32 = CRC_START;
let isEscaped: bool = false;
let isDropped: bool = false; // up to the next END

/** Waits for the first byte of a packet. */
export function frameReset(): void {
  taken = 0;
  length = 0;
  remainder = CRC_START;
  isEscaped = false;
  isDropped = false;
}

/**
 * Takes one byte from the line.
 *
 * Effect    true where it ended a whole packet: head at PACKET_HEAD, body at INPUT
 */
export function frameTake(byte: u32): bool {
  if (byte == SLIP_END) return frameEnd();
  if (isDropped) return false;
  if (isEscaped) {
    isEscaped = false;
    if (byte == SLIP_ESC_END) byte = SLIP_END;
    else if (byte == SLIP_ESC_ESC) byte = SLIP_ESC;
    else {
      frameDrop(LINK_COUNTER_BAD_FORM);
      return false;
    }
  } else if (byte == SLIP_ESC) {
    isEscaped = true;
    return false;
  }
  byteTake(byte);
  return false;
}

function frameDrop(counter: i32): void {
  linkCount(counter);
  isDropped = true;
}

/** Stores a byte of the packet; the size was looked at before. */
function byteTake(byte: u32): void {
  const inBody = taken - PACKET_HEAD_BYTES;
  if (inBody >= length + PACKET_CHECK_BYTES) {
    frameDrop(LINK_COUNTER_TOO_LONG);
    return;
  }
  if (inBody < 0) store<u8>(PACKET_HEAD + taken, <u8>byte);
  else if (inBody < length) store<u8>(INPUT + inBody, <u8>byte);
  remainder = crcStep(remainder, byte);
  taken += 1;
  if (taken == PACKET_HEAD_BYTES) {
    length = <i32>load<u16>(PACKET_HEAD + PACKET_LENGTH);
    if (length > PACKET_BODY_MAX) frameDrop(LINK_COUNTER_TOO_LONG);
  }
}

function frameEnd(): bool {
  const isPacket = taken == PACKET_HEAD_BYTES + length + PACKET_CHECK_BYTES;
  let isWhole = false;
  // Between the END of one packet and that of the next stands nothing: no fault.
  if (!isDropped && (taken > 0 || isEscaped)) {
    if (!isPacket || isEscaped) linkCount(LINK_COUNTER_BAD_FORM);
    else if (~remainder != CRC_RESIDUE) linkCount(LINK_COUNTER_BAD_CHECK);
    else isWhole = true;
  }
  frameReset();
  return isWhole;
}
