// Bytes from the line to packets, in one buffer that never grows. A piece is read once, byte by
// byte; what is wrong is dropped up to the next END and counted by its kind.
import crc32 from "crc/calculators/crc32";
import {
  PACKET_BODY_MAX,
  PACKET_CHECK_BYTES,
  PACKET_HEAD_BYTES,
  PACKET_LENGTH,
  SLIP_END,
  SLIP_ESC,
  SLIP_ESC_END,
  SLIP_ESC_ESC,
} from "../../shared/link.ts";

/** What a look at the line gives: a packet, a wish for more bytes, or why a packet was dropped. */
export type Verdict = "whole" | "needs more" | "bad form" | "too long" | "bad check";

const NONE = new Uint8Array(0);

/** Bounded: holds one packet and a reference to the piece in hand. */
export class Deframer {
  /** How often each verdict was given. */
  readonly counts: Record<Verdict, number> = {
    whole: 0,
    "needs more": 0,
    "bad form": 0,
    "too long": 0,
    "bad check": 0,
  };
  readonly #packet = new Uint8Array(PACKET_HEAD_BYTES + PACKET_BODY_MAX + PACKET_CHECK_BYTES);
  #piece: Uint8Array = NONE;
  #at = 0;
  #taken = 0;
  #packetBytes = PACKET_HEAD_BYTES + PACKET_CHECK_BYTES;
  #isEscaped = false;
  #isDropped = false;

  /** Hands over the next bytes of the line; the piece before must be used up. */
  push(piece: Uint8Array): void {
    if (this.#at < this.#piece.length) throw new Error("the piece before is not used up");
    this.#piece = piece;
    this.#at = 0;
  }

  /** Head and body of the packet that was whole; a view, valid until the next pull. */
  packet(): Uint8Array {
    return this.#packet.subarray(0, this.#packetBytes - PACKET_CHECK_BYTES);
  }

  /** Reads up to the next verdict; "needs more" where the piece is used up. */
  pull(): Verdict {
    const verdict = this.#read();
    this.counts[verdict] += 1;
    return verdict;
  }

  #read(): Verdict {
    while (this.#at < this.#piece.length) {
      const byte = this.#piece[this.#at]!;
      this.#at += 1;
      if (byte === SLIP_END) {
        const verdict = this.#end();
        if (verdict !== "needs more") return verdict;
      } else if (!this.#isDropped) {
        const verdict = this.#take(byte);
        if (verdict !== "needs more") {
          this.#isDropped = true;
          return verdict;
        }
      }
    }
    this.#piece = NONE;
    this.#at = 0;
    return "needs more";
  }

  #take(raw: number): Verdict {
    let byte = raw;
    if (this.#isEscaped) {
      this.#isEscaped = false;
      if (byte === SLIP_ESC_END) byte = SLIP_END;
      else if (byte === SLIP_ESC_ESC) byte = SLIP_ESC;
      else return "bad form";
    } else if (byte === SLIP_ESC) {
      this.#isEscaped = true;
      return "needs more";
    }
    if (this.#taken === 0) this.#packetBytes = PACKET_HEAD_BYTES + PACKET_CHECK_BYTES;
    if (this.#taken >= this.#packetBytes) return "too long";
    this.#packet[this.#taken] = byte;
    this.#taken += 1;
    if (this.#taken === PACKET_HEAD_BYTES) {
      const length = this.#packet[PACKET_LENGTH]! | (this.#packet[PACKET_LENGTH + 1]! << 8);
      if (length > PACKET_BODY_MAX) return "too long";
      this.#packetBytes += length;
    }
    return "needs more";
  }

  /** An END: what stands before it is a packet, wrong, or nothing at all. */
  #end(): Verdict {
    const taken = this.#taken;
    const isSomething = !this.#isDropped && (taken > 0 || this.#isEscaped);
    const isFormed = !this.#isEscaped && taken > 0 && taken === this.#packetBytes;
    this.#taken = 0;
    this.#isEscaped = false;
    this.#isDropped = false;
    if (!isSomething) return "needs more";
    if (!isFormed) return "bad form";
    const end = taken - PACKET_CHECK_BYTES;
    const view = new DataView(this.#packet.buffer);
    const check = crc32(this.#packet.subarray(0, end)) >>> 0;
    return view.getUint32(end, true) === check ? "whole" : "bad check";
  }
}
