// A port with a tap on it: sees each packet, and may keep or change it. And a device by script.
import { Deframer } from "../../host/link/deframer.ts";
import { type Head, bodyOf, decodeHead, encodePacket } from "../../host/link/packet.ts";
import type { BytePort } from "../../host/link/port.ts";
import { slipEncode } from "../../host/link/slip.ts";

export interface Packet {
  head: Head;
  body: Uint8Array;
  /** Bytes on the line. */
  framedBytes: number;
}

export function packetsOf(deframer: Deframer, bytes: Uint8Array): Packet[] {
  const packets: Packet[] = [];
  deframer.push(bytes);
  for (let verdict = deframer.pull(); verdict !== "needs more"; verdict = deframer.pull()) {
    if (verdict !== "whole") continue;
    const packet = deframer.packet().slice();
    const head = decodeHead(packet);
    const body = bodyOf(packet);
    packets.push({ head, body, framedBytes: framedOf({ head, body }).byteLength });
  }
  return packets;
}

export function framedOf({ head, body }: Omit<Packet, "framedBytes">): Uint8Array {
  return slipEncode(encodePacket(head, body));
}

export interface Tap {
  /** Called for each packet to the device, counted from 0; false keeps it. */
  onSent?: (packet: Packet, count: number) => boolean | void;
  /** Called for each packet to the host, counted from 0; false keeps it, it may be changed. */
  onAnswer?: (packet: Packet, count: number) => boolean | void;
}

/** The port as the client sees it. */
export function tapped(port: BytePort, tap: Tap): BytePort {
  const out = new Deframer();
  const back = new Deframer();
  let sent = 0;
  let answered = 0;
  return {
    open: () => port.open(),
    close: () => port.close(),
    onClosed: (take) => port.onClosed(take),
    write(bytes) {
      for (const packet of packetsOf(out, bytes)) {
        if (tap.onSent?.(packet, sent++) !== false) port.write(framedOf(packet));
      }
    },
    onBytes(take) {
      port.onBytes((bytes) => {
        for (const packet of packetsOf(back, bytes)) {
          if (tap.onAnswer?.(packet, answered++) !== false) take(framedOf(packet));
        }
      });
    },
  };
}

/** A device that answers by a script: what it gives goes on the line, as it is. */
export async function scriptedDevice(
  port: BytePort,
  answer: (asked: Packet, count: number) => Uint8Array[],
): Promise<void> {
  const deframer = new Deframer();
  let count = 0;
  port.onBytes((bytes) => {
    for (const asked of packetsOf(deframer, bytes)) {
      for (const frame of answer(asked, count++)) port.write(frame);
    }
  });
  port.onClosed(() => {});
  await port.open();
}
