import { crc32 } from "node:zlib";
import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import * as L from "../../../shared/layout.ts";
import * as LINK from "../../../shared/link.ts";
import { Deframer, type Verdict } from "../../../host/link/deframer.ts";
import * as PACKET from "../../../host/link/packet.ts";
import { slipEncode } from "../../../host/link/slip.ts";
import { evenNumber } from "../../kit/even-number.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const heads = fc.record({
  type: fc.integer({ min: 0, max: 255 }),
  sequence: fc.integer({ min: 0, max: 65_535 }),
  acknowledged: fc.integer({ min: 0, max: 65_535 }),
});
/** Bytes among which those that are escaped are common. */
const bodies = fc
  .array(fc.oneof(fc.integer({ min: 0, max: 255 }), fc.constantFrom(0xc0, 0xdb, 0xdc, 0xdd)), {
    maxLength: 300,
  })
  .map((bytes) => Uint8Array.from(bytes));

interface Heard {
  verdicts: Verdict[];
  packets: Uint8Array[];
}

function hear(deframer: Deframer, pieces: Uint8Array[]): Heard {
  const heard: Heard = { verdicts: [], packets: [] };
  for (const piece of pieces) {
    deframer.push(piece);
    for (let verdict = deframer.pull(); ; verdict = deframer.pull()) {
      if (verdict === "needs more") break;
      heard.verdicts.push(verdict);
      if (verdict === "whole") heard.packets.push(deframer.packet().slice());
    }
  }
  return heard;
}

const packet = PACKET.encodePacket({ type: 5, sequence: 1, acknowledged: 2 }, new Uint8Array(0));
const framed = [...slipEncode(packet)];

describe("frames", () => {
  it("[LINK-040] any packet comes back from its frame, split anyhow", () => {
    const cuts = fc.array(evenNumber(0, 1), { maxLength: 12 });
    fc.assert(
      fc.property(heads, bodies, cuts, (head, body, shares) => {
        const frame = slipEncode(PACKET.encodePacket(head, body));
        const places = shares.map((share) => Math.floor(share * frame.length));
        const edges = [0, ...places, frame.length].toSorted((a, b) => a - b);
        const pieces = edges.slice(1).map((end, i) => frame.subarray(edges[i], end));
        const { verdicts, packets } = hear(new Deframer(), pieces);
        expect(verdicts).toEqual(["whole"]);
        expect(PACKET.decodeHead(packets[0]!)).toEqual(head);
        expect(new Uint8Array(PACKET.bodyOf(packets[0]!))).toEqual(body);
      }),
      { numRuns: 300, seed: TEST_SEED },
    );
  });

  it("[LINK-046] frames are RFC 1055 with END at both ends, and end in zlib's CRC-32", () => {
    const body = Uint8Array.from([0xc0, 0xdb, 0xdc, 0xdd, 0]);
    const head = { type: 3, sequence: 0xc0db, acknowledged: 0xfffe };
    const made = PACKET.encodePacket(head, body);
    const end = made.byteLength - 4;
    expect([...made.subarray(0, end)]).toEqual([
      3, 0, 0xdb, 0xc0, 5, 0, 0xfe, 0xff, 0xc0, 0xdb, 0xdc, 0xdd, 0,
    ]);
    expect(Buffer.from(made).readUInt32LE(end)).toBe(crc32(made.subarray(0, end)));
    // RFC 1055: END is sent as ESC ESC_END (333 334 octal), ESC as ESC ESC_ESC (333 335).
    const escaped = [...made.subarray(0, end)].flatMap((byte) =>
      byte === 0o300 ? [0o333, 0o334] : byte === 0o333 ? [0o333, 0o335] : [byte],
    );
    const frame = [...slipEncode(made)];
    expect(frame.slice(0, escaped.length + 1)).toEqual([0o300, ...escaped]);
    expect(frame.at(-1)).toBe(0o300);
  });

  const cases: [what: string, bytes: number[], verdicts: Verdict[]][] = [
    ["a good packet", framed, ["whole"]],
    ["a wrong escape", [0xc0, 0xdb, 0x41, ...framed], ["bad form", "whole"]],
    ["an end too early", [...framed.slice(0, 9), ...framed], ["bad form", "whole"]],
    ["an escape at the end", [0xc0, 1, 0xdb, ...framed], ["bad form", "whole"]],
    ["a byte too many", [...framed.slice(0, -1), 0, ...framed], ["too long", "whole"]],
    [
      "a length over the longest",
      [1, 0, 0, 0, 0x41, 0x0a, 0, 0, 1, ...framed],
      ["too long", "whole"],
    ],
    ["a bit turned over", [0xc0, 4, ...framed.slice(2), ...framed], ["bad check", "whole"]],
    ["ENDs alone", [0xc0, 0xc0, 0xc0], []],
  ];
  it.each(cases)("[LINK-041] %s is counted, and the next packet is whole", (_, bytes, verdicts) => {
    const deframer = new Deframer();
    expect(hear(deframer, [Uint8Array.from(bytes)]).verdicts).toEqual(verdicts);
    for (const name of ["whole", "bad form", "too long", "bad check"] as const) {
      expect(deframer.counts[name]).toBe(verdicts.filter((one) => one === name).length);
    }
    expect(deframer.counts["needs more"]).toBe(1);
  });

  it("[LINK-042] an endless frame is dropped once and costs no memory", () => {
    const deframer = new Deframer();
    const piece = new Uint8Array(1e6).fill(7);
    expect(hear(deframer, [piece, piece, piece]).verdicts).toEqual(["too long"]);
    expect(hear(deframer, [Uint8Array.from(framed)]).verdicts).toEqual(["whole"]);
    // A piece that is not read up to its end may not be followed by another.
    deframer.push(Uint8Array.from([...framed, ...framed]));
    expect(deframer.pull()).toBe("whole");
    expect(() => deframer.push(piece)).toThrow(/not used up/);
  });
});

describe("bodies", () => {
  it("[LINK-043] hello and port facts read back as they were written", () => {
    const facts = fc.record({
      creditBytes: fc.nat(0xffffffff),
      clockHz: fc.nat(0xffffffff),
      identity: fc.string({
        unit: fc.integer({ min: 32, max: 126 }).map((c) => String.fromCharCode(c)),
        maxLength: 32,
      }),
    });
    fc.assert(
      fc.property(facts, fc.nat(0xffffffff), (port, session) => {
        const hello = PACKET.encodeHello({ protocol: 1, layout: 2, session });
        const words = new Uint32Array(hello.buffer);
        expect([...words]).toEqual([1, 2, session]);
        const body = Buffer.alloc(LINK.HELLO_ANSWER_BYTES);
        body.writeUInt32LE(session, LINK.HELLO_ANSWER_SESSION);
        body.set(PACKET.encodePortFacts(port), LINK.HELLO_ANSWER_PORT);
        expect(PACKET.decodeHelloAnswer(new Uint8Array(body))).toMatchObject({ ...port, session });
      }),
      { numRuns: 100, seed: TEST_SEED },
    );
  });

  it("[LINK-043] a body over the longest is refused", () => {
    const head = { type: 3, sequence: 0, acknowledged: 0 };
    const longest = new Uint8Array(LINK.PACKET_BODY_MAX);
    expect(PACKET.encodePacket(head, longest).byteLength).toBe(LINK.PACKET_BODY_MAX + 12);
    const longer = new Uint8Array(LINK.PACKET_BODY_MAX + 1);
    expect(() => PACKET.encodePacket(head, longer)).toThrow(PACKET.PacketError);
  });

  const READERS: [name: string, read: (body: Uint8Array) => unknown, lengths: number[]][] = [
    ["hello", PACKET.decodeHelloAnswer, [LINK.HELLO_ANSWER_BYTES]],
    [
      "configure, taken",
      PACKET.decodeConfigureAnswer,
      [LINK.CONFIGURE_ANSWER_BYTES + L.CONFIG_BYTES],
    ],
    [
      "feed",
      PACKET.decodeFeedAnswer,
      [LINK.FEED_ANSWER_BYTES, LINK.FEED_ANSWER_BYTES + L.RECORD_BYTES],
    ],
    ["counters", PACKET.decodeCountersAnswer, [LINK.COUNTERS_ANSWER_BYTES + L.COUNTERS_BYTES]],
  ];
  it.each(READERS)("[LINK-044] %s takes its own length only", (_, read, lengths) => {
    for (const length of lengths) {
      expect(() => read(new Uint8Array(length))).not.toThrow();
      for (const off of [-1, 1]) {
        expect(() => read(new Uint8Array(length + off))).toThrow(PACKET.PacketError);
      }
    }
  });

  it("[LINK-044] no bytes make a reader throw anything else", () => {
    const reads = [
      ...READERS.map(([, read]) => read),
      PACKET.decodeHead,
      PACKET.decodeStatus,
      PACKET.decodeVersions,
    ];
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 300 }), fc.nat(reads.length - 1), (bytes, which) => {
        try {
          reads[which]!(bytes);
        } catch (error) {
          expect(error).toBeInstanceOf(PACKET.PacketError);
        }
      }),
      { numRuns: 500, seed: TEST_SEED },
    );
  });

  it("[LINK-045] an identity that does not print is refused, or shown without what steers", () => {
    const facts = { creditBytes: 0, clockHz: 0 };
    for (const identity of ["\u001b[2J", "é", "x".repeat(33)]) {
      expect(() => PACKET.encodePortFacts({ ...facts, identity })).toThrow(PACKET.PacketError);
    }
    const body = new Uint8Array(LINK.HELLO_ANSWER_BYTES);
    body.set(
      Buffer.from("a\u001b[2J\u007fb\0c", "latin1"),
      LINK.HELLO_ANSWER_PORT + LINK.PORT_IDENTITY,
    );
    expect(PACKET.decodeHelloAnswer(body).identity).toBe("a?[2J?b");
  });
});
