// Framing by RFC 1055, with END at both ends, so that noise before a packet costs nothing.
import { SLIP_END, SLIP_ESC, SLIP_ESC_END, SLIP_ESC_ESC } from "../../shared/link.ts";

/** The packet as it goes on the line. */
export function slipEncode(packet: Uint8Array): Uint8Array {
  let escaped = 0;
  for (let i = 0; i < packet.length; i += 1) {
    if (packet[i] === SLIP_END || packet[i] === SLIP_ESC) escaped += 1;
  }
  const framed = new Uint8Array(packet.length + escaped + 2);
  framed[0] = SLIP_END;
  let at = 1;
  for (let i = 0; i < packet.length; i += 1) {
    const byte = packet[i]!;
    if (byte === SLIP_END || byte === SLIP_ESC) {
      framed[at] = SLIP_ESC;
      framed[at + 1] = byte === SLIP_END ? SLIP_ESC_END : SLIP_ESC_ESC;
      at += 2;
    } else {
      framed[at] = byte;
      at += 1;
    }
  }
  framed[at] = SLIP_END;
  return framed;
}
