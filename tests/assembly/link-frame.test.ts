// Bytes from the line to packets, on the device.
import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import * as LINK from "../../shared/link.ts";
import * as STATUS from "../../shared/status.ts";
import { TEST_SEED } from "../kit/seed.ts";
import { BUILDS } from "./kit/core-run.ts";
import { BUSY, blocksOf } from "./kit/link-blocks.ts";
import { DeviceLine, FIRST, answerOf, framed, helloBody, packetOf } from "./kit/link-line.ts";

const COUNTERS = [
  LINK.LINK_COUNTER_PACKETS,
  LINK.LINK_COUNTER_BAD_FORM,
  LINK.LINK_COUNTER_TOO_LONG,
  LINK.LINK_COUNTER_BAD_CHECK,
];
const hello = packetOf({ type: LINK.PACKET_HELLO, sequence: FIRST, body: helloBody(1) });
const good = [...framed(hello)];
const inner = good.slice(1, -1);

/** A packet whose check is right and whose head tells another length. */
function misled(told: number, bodyBytes: number): Uint8Array {
  const packet = packetOf({ type: 5, sequence: 0, body: new Uint8Array(bodyBytes) });
  packet[LINK.PACKET_LENGTH] = told & 0xff;
  packet[LINK.PACKET_LENGTH + 1] = told >> 8;
  return framed(packet);
}

const flipped = hello.with(9, hello[9]! ^ 0x10);
const FRAMES: [what: string, bytes: Iterable<number>, counts: number[]][] = [
  ["a good packet", good, [1, 0, 0, 0]],
  ["many ENDs around it", [0xc0, 0xc0, ...good, 0xc0, 0xc0], [1, 0, 0, 0]],
  ["two packets with one END between", [...good, ...inner, 0xc0], [2, 0, 0, 0]],
  ["no END in front", [...inner, 0xc0], [1, 0, 0, 0]],
  ["an END that is missing at its end", [...good.slice(0, -1), ...good], [2, 0, 0, 0]],
  ["noise before it", [1, 2, 3, ...good], [1, 1, 0, 0]],
  ["an end too early", [...good.slice(0, -3), 0xc0], [0, 1, 0, 0]],
  ["an end within the head", [0xc0, 1, 0, 0xc0], [0, 1, 0, 0]],
  ["one byte", [0xc0, 7, 0xc0], [0, 1, 0, 0]],
  ["a wrong escape", [0xc0, 1, 0xdb, 0x41, ...inner, 0xc0], [0, 1, 0, 0]],
  ["an escape and then the end", [...good.slice(0, -1), 0xdb, 0xc0], [0, 1, 0, 0]],
  ["an escape alone", [0xc0, 0xdb, 0xc0], [0, 1, 0, 0]],
  ["one byte too many", [...good.slice(0, -1), 0, 0xc0], [0, 0, 1, 0]],
  ["a length told too short", misled(3, 4), [0, 0, 1, 0]],
  ["a length told too long", misled(5, 4), [0, 1, 0, 0]],
  ["a length over the longest", misled(LINK.PACKET_BODY_MAX + 1, 4), [0, 0, 1, 0]],
  ["a length of 65,535", misled(65_535, 4), [0, 0, 1, 0]],
  ["a bit turned over", framed(flipped), [0, 0, 0, 1]],
  [
    "a wrong check",
    framed(hello.map((byte, at) => (at === hello.length - 1 ? byte ^ 1 : byte))),
    [0, 0, 0, 1],
  ],
];

describe.each(BUILDS)("frames on the %s build", (build) => {
  it.each(FRAMES)(`[LINK-022] ${build} counts %s`, (_, bytes, counts) => {
    const line = new DeviceLine(build);
    const answers = line.raw(bytes);
    expect(COUNTERS.map((one) => line.counter(one))).toEqual(counts);
    expect(answers.length).toBe(counts[0]);
    // Whatever it was, the next good packet is answered.
    expect(line.hello(2, 9)).toMatchObject({ status: STATUS.OK, sequence: 9 });
  });

  it(`[LINK-023] ${build} takes the longest body, and drops one byte more`, () => {
    const line = new DeviceLine(build);
    line.hello();
    const longest = new Uint8Array(LINK.PACKET_BODY_MAX).fill(0xc0);
    const asked = { type: LINK.PACKET_RESET, sequence: FIRST + 1 };
    expect(line.ask({ ...asked, body: longest }).status).toBe(STATUS.ERR_LINK_LENGTH);
    const longer = new Uint8Array(LINK.PACKET_BODY_MAX + 1);
    expect(line.raw(framed(packetOf({ ...asked, body: longer })))).toEqual([]);
    expect(line.counter(LINK.LINK_COUNTER_TOO_LONG)).toBe(1);
    expect(line.ask(asked).status).toBe(STATUS.OK);
  });

  it(`[LINK-021] ${build} escapes what must not stand in a packet, both ways`, () => {
    const line = new DeviceLine(build);
    const session = 0xdbc0_dbc0;
    const raw = line.raw(
      framed(packetOf({ type: LINK.PACKET_HELLO, sequence: 0xc0db, body: helloBody(session) })),
    );
    expect(raw.length).toBe(1);
    const [bytes] = raw as [number[]];
    expect(bytes.slice(1, -1)).not.toContain(0xc0);
    const answer = answerOf(bytes);
    expect(answer.sequence).toBe(0xc0db);
    expect(new DataView(answer.body.buffer).getUint32(LINK.HELLO_ANSWER_SESSION, true)).toBe(
      session,
    );
  });

  it(`[LINK-024] ${build} traps a port that takes bytes before the answer left`, () => {
    const line = new DeviceLine(build);
    for (const byte of good) line.core.linkTake(byte);
    expect(() => line.core.linkTake(0xc0)).toThrow(WebAssembly.RuntimeError);
  });

  it(`[LINK-027] ${build} is as fresh after a start of the line`, () => {
    const line = new DeviceLine(build);
    for (const byte of good) line.core.linkTake(byte);
    line.core.linkStart(new Uint8Array(LINK.PORT_BYTES));
    expect(line.core.linkGive()).toBe(-1);
    const asked = { type: LINK.PACKET_RECORDS, sequence: FIRST + 1 };
    expect(line.ask(asked).status).toBe(STATUS.ERR_LINK_SESSION);
  });
});

describe("bytes split anyhow", () => {
  it("[LINK-028] answers do not depend on what comes between packets", () => {
    const { configuration, blocks } = blocksOf(BUSY);
    const packets = [
      hello,
      packetOf({ type: LINK.PACKET_CONFIGURE, sequence: FIRST + 1, body: configuration }),
      packetOf({ type: LINK.PACKET_FEED, sequence: FIRST + 2, body: blocks[0]! }),
      packetOf({ type: LINK.PACKET_RECORDS, sequence: FIRST + 3, acknowledged: 8 }),
      packetOf({ type: LINK.PACKET_RESET, sequence: FIRST + 4 }),
    ];
    const plain = new DeviceLine().raw(packets.flatMap((one) => [...framed(one)]));
    expect(plain.length).toBe(packets.length);
    // Noise may hold anything but an END, so that it is no packet; runs of END are no noise.
    const noise = fc.oneof(
      fc.array(fc.integer({ min: 0, max: 0xbf }), { maxLength: 30 }),
      fc.array(fc.constant(0xc0), { maxLength: 4 }),
    );
    fc.assert(
      fc.property(fc.array(noise, { minLength: 5, maxLength: 5 }), (between) => {
        const bytes = packets.flatMap((one, i) => [...between[i]!, ...framed(one)]);
        expect(new DeviceLine().raw(bytes)).toEqual(plain);
      }),
      { numRuns: 30, seed: TEST_SEED },
    );
  });
});
