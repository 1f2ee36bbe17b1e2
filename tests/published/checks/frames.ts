// Frames of RFC 1055 on the line: the host's encoder and bounded decoder, and the device's own.
import { expect } from "vitest";
import * as LINK from "../../../shared/link.ts";
import { Deframer } from "../../../host/link/deframer.ts";
import type { Verdict } from "../../../host/link/deframer.ts";
import { encodePacket } from "../../../host/link/packet.ts";
import { slipEncode } from "../../../host/link/slip.ts";
import { BUILDS } from "../../assembly/kit/core-run.ts";
import { answerOf, DeviceLine, framed, helloBody, packetOf } from "../../assembly/kit/link-line.ts";
import { check } from "../check.ts";

const encode = (bytes: readonly number[]): number[] => [...slipEncode(Uint8Array.from(bytes))];
const hex = (text: string): number[] => text.split(" ").map((byte) => Number.parseInt(byte, 16));

/** What the decoder makes of bytes: each verdict, and the bodies of whole packets. */
function decoded(bytes: readonly number[]): { verdicts: Verdict[]; bodies: number[][] } {
  const deframer = new Deframer();
  const verdicts: Verdict[] = [];
  const bodies: number[][] = [];
  deframer.push(Uint8Array.from(bytes));
  for (let verdict = deframer.pull(); verdict !== "needs more"; verdict = deframer.pull()) {
    verdicts.push(verdict);
    if (verdict === "whole") bodies.push([...deframer.packet().subarray(LINK.PACKET_HEAD_BYTES)]);
  }
  return { verdicts, bodies };
}

/** A packet of the product's own with a given body, framed; without the END in front. */
function packetFrame(body: readonly number[]): number[] {
  const head = { type: LINK.PACKET_FEED, sequence: 1, acknowledged: 0 };
  return [...slipEncode(encodePacket(head, Uint8Array.from(body)))].slice(1);
}

const PACKET = hex("01 DB 49 C0 15");

check("D-13", "an END goes in front; noise before it costs one frame and no packet", () => {
  expect(encode([1, 2])[0]).toBe(LINK.SLIP_END);
  const { verdicts, bodies } = decoded([7, 8, 9, LINK.SLIP_END, ...packetFrame(PACKET)]);
  expect(verdicts).toEqual(["bad form", "whole"]);
  expect(bodies).toEqual([PACKET]);
});
check("D-13", "packets of no length are thrown away without a word", () => {
  expect(decoded([192, 192, 192, 192]).verdicts).toEqual([]);
  for (const build of BUILDS) {
    const line = new DeviceLine(build);
    expect(line.raw([192, 192, 192])).toEqual([]);
    expect(line.counter(LINK.LINK_COUNTER_BAD_FORM)).toBe(0);
    expect(line.hello().status).toBe(0);
  }
});
check("D-13", "1006 bytes of data pass, at the host and at the device", () => {
  // Head and check belong to what the frame carries.
  const body = Array.from({ length: 1006 }, (_, i) => (i * 7) & 0xff);
  expect(decoded(packetFrame(body)).bodies).toEqual([body]);
  for (const build of BUILDS) {
    const line = new DeviceLine(build);
    line.hello();
    const before = line.counter(LINK.LINK_COUNTER_PACKETS);
    line.raw(
      framed(packetOf({ type: LINK.PACKET_FEED, sequence: 101, body: new Uint8Array(body) })),
    );
    expect(line.counter(LINK.LINK_COUNTER_PACKETS)).toBe(before + 1);
  }
});

check("D-14", "01 DB 49 C0 15 goes as C0 01 DB DD 49 DB DC 15 C0", () => {
  expect(encode(PACKET)).toEqual(hex("C0 01 DB DD 49 DB DC 15 C0"));
});
check("D-14", "the device's answer escapes the same bytes alike", () => {
  for (const build of BUILDS) {
    // The session comes back: DB 49 C0 15, least significant byte first.
    const body = helloBody(0x15c049db);
    const asked = packetOf({ type: LINK.PACKET_HELLO, sequence: 1, body });
    const [answer] = new DeviceLine(build).raw(framed(asked)) as [number[]];
    const bytes = Buffer.from(answer);
    expect(bytes.includes(Buffer.from(hex("DB DD 49 DB DC 15")))).toBe(true);
    expect(bytes.indexOf(192, 1)).toBe(bytes.length - 1);
  }
});

const MID_STREAM = hex("A1 A2 A3 C0 C0");
check(
  "D-15",
  "joining in mid-stream: what is left of a packet is refused, the next is whole",
  () => {
    const { verdicts, bodies } = decoded([...MID_STREAM, ...packetFrame(PACKET)]);
    expect(verdicts).toEqual(["bad form", "whole"]);
    expect(bodies).toEqual([PACKET]);
    // The five bytes alone are no packet of the product: it wants a head and a check code.
    const alone = decoded(hex("A1 A2 A3 C0 C0 01 DB DD 49 DB DC 15 C0"));
    expect(alone).toEqual({ verdicts: ["bad form", "bad form"], bodies: [] });
  },
);
check("D-15", "what is left is refused by its check code where its length is right", () => {
  const whole = packetFrame(hex("A0 A1 A2 A3"));
  const torn = [...whole.slice(0, 8), 0x5a, ...whole.slice(9)];
  const { verdicts } = decoded([...torn, ...packetFrame(PACKET)]);
  expect(verdicts).toEqual(["bad check", "whole"]);
});
check("D-15", "the device joins in mid-stream as well", () => {
  for (const build of BUILDS) {
    const line = new DeviceLine(build);
    const body = helloBody(0x15c049db);
    const asked = [...framed(packetOf({ type: LINK.PACKET_HELLO, sequence: 1, body }))];
    const answers = line.raw([...MID_STREAM, ...asked.slice(1)]);
    expect(answers.map((one) => answerOf(one).status)).toEqual([0]);
    expect(line.counter(LINK.LINK_COUNTER_BAD_FORM)).toBe(1);
    expect(line.counter(LINK.LINK_COUNTER_PACKETS)).toBe(1);
  }
});

check("D-16", "C0 01 02 03 goes as C0 DB DC 01 02 03 C0", () => {
  expect(encode(hex("C0 01 02 03"))).toEqual(hex("C0 DB DC 01 02 03 C0"));
});
check("D-17", "nothing goes as C0 C0; DC and DD alone stay as they are", () => {
  expect(encode([])).toEqual(hex("C0 C0"));
  expect(encode(hex("DB DC"))).toEqual(hex("C0 DB DD DC C0"));
  expect(encode(hex("DC DD"))).toEqual(hex("C0 DC DD C0"));
  for (const body of [[], hex("DB DC"), hex("DC DD")]) {
    expect(decoded(packetFrame(body)).bodies).toEqual([body]);
  }
});
check("D-18", "the nine digits with a code of 16 bits; nothing in them is escaped", () => {
  const bytes = hex("31 32 33 34 35 36 37 38 39 29 B1");
  expect(encode(bytes)).toEqual(hex("C0 31 32 33 34 35 36 37 38 39 29 B1 C0"));
  // That code is not the product's: such a frame is no packet.
  expect(decoded(encode(bytes)).bodies).toEqual([]);
});
check("D-19", "n bytes go as 2n + 2 at most, and as many where each is escaped", () => {
  for (const count of [0, 1, 5, 1006, LINK.PACKET_BODY_MAX]) {
    for (const byte of [LINK.SLIP_END, LINK.SLIP_ESC]) {
      expect(slipEncode(new Uint8Array(count).fill(byte))).toHaveLength(2 * count + 2);
    }
    const all = Uint8Array.from({ length: count }, (_, i) => i & 0xff);
    const escaped = all.filter((byte) => byte === 0xc0 || byte === 0xdb).length;
    expect(slipEncode(all)).toHaveLength(count + escaped + 2);
  }
});
