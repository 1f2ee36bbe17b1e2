// Everything that can be wrong with the other end: each a typed error whose sentence says what to do.
import { describe, expect, it } from "vitest";
import { CONFIG_BYTES, LAYOUT_VERSION } from "../../../shared/layout.ts";
import * as LINK from "../../../shared/link.ts";
import {
  ERR_LINK_AHEAD,
  ERR_LINK_LENGTH,
  ERR_LINK_TYPE,
  ERR_LINK_VERSION,
} from "../../../shared/status.ts";
import { VirtualClock } from "../../../host/link/clock.ts";
import { LinkError, type LinkErrorKind } from "../../../host/link/link-error.ts";
import { memoryLine } from "../../../host/link/memory-port.ts";
import { LinkTarget } from "../../../harness/target/link-target.ts";
import { configurationBytes } from "../../../host/profile/configuration.ts";
import type { BlockBatch } from "../../../harness/target/target.ts";
import { flickering } from "../../assembly/kit/link-blocks.ts";
import { linkBench } from "../../kit/link-bench.ts";
import { type Packet, framedOf, scriptedDevice, tapped } from "../../kit/link-tap.ts";
import { channelProfile, monitorProfile } from "../../kit/scene-builder.ts";

const signal = (): AbortSignal => new AbortController().signal;
/** Four channels, one shaft, eight filters. */
const CONFIGURATION = configurationBytes(flickering(2));

/** Opens and configures a target whose device is a script. */
async function endOf(answer: (asked: Packet, count: number) => Uint8Array[]): Promise<LinkError> {
  const clock = new VirtualClock();
  const line = memoryLine({ clock });
  await scriptedDevice(line.device, answer);
  const link = { port: line.host, clock, session: 5, firstSequence: 0 };
  const target = new LinkTarget({ kind: "link", ...link });
  const work = async (): Promise<void> => {
    await target.open(signal());
    await target.configure(CONFIGURATION);
  };
  const error = await clock.run(work(), 1e5).catch((one: unknown) => one);
  expect(error).toBeInstanceOf(LinkError);
  return error as LinkError;
}

function answerTo({ head }: Packet, body: Uint8Array): Uint8Array[] {
  const type = head.type | LINK.PACKET_ANSWER;
  return [framedOf({ head: { ...head, type }, body })];
}

/** A hello's answer as the firmware of this version gives it. */
function helloAnswer(change: (body: Buffer) => void = () => {}): Uint8Array {
  const body = Buffer.alloc(LINK.HELLO_ANSWER_BYTES);
  body.writeUInt32LE(LINK.PROTOCOL_VERSION, LINK.HELLO_ANSWER_PROTOCOL);
  body.writeUInt32LE(LAYOUT_VERSION, LINK.HELLO_ANSWER_LAYOUT);
  body.writeUInt32LE(5, LINK.HELLO_ANSWER_SESSION);
  body.set([4, 2, 8, 3, 128, 0, 64, 0], LINK.HELLO_ANSWER_CHANNELS);
  body.writeUInt16LE(LINK.PACKET_BODY_MAX, LINK.HELLO_ANSWER_BODY);
  change(body);
  return new Uint8Array(body);
}

const greeted =
  (then: (asked: Packet) => Uint8Array[], change?: (body: Buffer) => void) => (asked: Packet) =>
    asked.head.type === LINK.PACKET_HELLO ? answerTo(asked, helloAnswer(change)) : then(asked);

const statusBody = (status: number): Uint8Array => new Uint8Array(Int32Array.from([status]).buffer);
const fault = (reason: number): Uint8Array =>
  framedOf({ head: { type: 0x88, sequence: 0, acknowledged: 0 }, body: statusBody(reason) });

type Case = [
  what: string,
  kind: LinkErrorKind,
  says: RegExp,
  script: (asked: Packet, count: number) => Uint8Array[],
];

const CASES: Case[] = [
  ["no answer at all", "no-answer", /asked 6 times in 12 s.*powered.*port/, () => []],
  [
    "bytes that are no packet",
    "garbage",
    /\d+ bytes came, and no packet.*baud rate/,
    () => [Uint8Array.from([0x12, 0xc0, 0xfe, 0x80, 0xc0])],
  ],
  [
    "another protocol version",
    "version",
    /speaks protocol 2 and layout 1, this host 1 and 1/,
    (asked) => {
      const body = helloAnswer((one) => one.writeUInt32LE(2, LINK.HELLO_ANSWER_PROTOCOL));
      new DataView(body.buffer).setInt32(0, ERR_LINK_VERSION, true);
      return answerTo(asked, body.subarray(0, 40));
    },
  ],
  [
    "another layout version",
    "version",
    /layout 7, this host 1 and 1/,
    greeted(
      () => [],
      (body) => body.writeUInt32LE(7, LINK.HELLO_ANSWER_LAYOUT),
    ),
  ],
  [
    "a hello of another length",
    "version",
    /cannot be read \(hello: a body of 76 bytes\)/,
    (asked) => answerTo(asked, new Uint8Array(Buffer.concat([helloAnswer(), Buffer.alloc(4)]))),
  ],
  [
    "no room for a configuration",
    "capability",
    /a body of 1000 bytes/,
    greeted(
      () => [],
      (body) => body.writeUInt16LE(1000, LINK.HELLO_ANSWER_BODY),
    ),
  ],
  [
    "no shafts",
    "capability",
    /shafts: 1 wanted, 0 there/,
    greeted(
      () => [],
      (body) => body.writeUInt8(0, LINK.HELLO_ANSWER_SHAFTS),
    ),
  ],
  [
    "no room for a block",
    "capability",
    /blocks of 2368 bytes, it takes at most 128 samples, 64 edges and 1999 bytes/,
    greeted(
      () => [],
      (body) => body.writeUInt16LE(1999, LINK.HELLO_ANSWER_BODY),
    ),
  ],
  [
    "another echo",
    "echo",
    /another configuration than was sent, from byte 77 on/,
    greeted((asked) => {
      const body = new Uint8Array(LINK.CONFIGURE_ANSWER_BYTES + CONFIG_BYTES);
      body.set(asked.body, LINK.CONFIGURE_ANSWER_BYTES);
      body[LINK.CONFIGURE_ANSWER_BYTES + 77]! ^= 1;
      return answerTo(asked, body);
    }),
  ],
  [
    "a type it does not know",
    "refused",
    /ERR_LINK_TYPE/,
    greeted((asked) => answerTo(asked, statusBody(ERR_LINK_TYPE))),
  ],
  [
    "a length it does not take",
    "refused",
    /ERR_LINK_LENGTH/,
    greeted((asked) => answerTo(asked, statusBody(ERR_LINK_LENGTH))),
  ],
  [
    "refusals without end",
    "refused",
    /takes nothing \(200 refusals in a row\)/,
    greeted((asked) => answerTo(asked, statusBody(ERR_LINK_AHEAD))),
  ],
  [
    "a fault frame, unasked",
    "fault",
    /has stopped \(one of its own assertions failed\)/,
    greeted(() => [fault(1)]),
  ],
  ["a fault of a processor", "fault", /an exception of the processor/, greeted(() => [fault(4)])],
  ["a fault without a known reason", "fault", /a reason that it does not name/, () => [fault(99)]],
];

describe("the other end is wrong", () => {
  it.each(CASES)("[LINK-061] %s", async (_, kind, says, script) => {
    const error = await endOf(script);
    expect([error.kind, error.message]).toEqual([kind, expect.stringMatching(says)]);
    // One sentence, and it asks for something that can be done.
    expect(error.message).toMatch(/\b(set|use|start|see|look|connect|keep)\b/);
    expect(error.message).not.toMatch(/\.$|\n/);
  });

  it("[LINK-061] the port closes in the middle", async () => {
    const bench = await linkBench({
      line: { faults: [{ name: "cut", direction: "to device", rate: 1, fromFrame: 5 }] },
    });
    await bench.run(bench.target.open(signal()));
    await bench.run(bench.target.configure(configurationBytes(monitorProfile())));
    const batch: BlockBatch = {
      firstSample: 0,
      sampleCount: 1000,
      samples: [new Float32Array(1000)],
      edges: [new Float64Array(0)],
      inputs: [{ fromSample: 0, bits: 0 }],
    };
    await expect(bench.run(bench.target.feed(batch))).rejects.toMatchObject({
      kind: "closed",
      firstSample: 0,
      message: expect.stringMatching(/the port closed \(the line was cut\): connect it again/),
    });
    await bench.target.close();
  });

  it("[LINK-061] a sample format that the device does not know", async () => {
    const bench = await linkBench({
      port: (port) =>
        tapped(port, {
          onAnswer: ({ head, body }) => {
            if (head.type === 0x81) body[LINK.HELLO_ANSWER_FORMATS] = 1;
          },
        }),
    });
    const told = await bench.run(bench.target.open(signal()));
    expect(told.sampleFormats).toEqual(["f32"]);
    const profile = monitorProfile({ channels: [channelProfile()] });
    await bench.run(bench.target.configure(configurationBytes(profile)));
    const batch: BlockBatch = {
      firstSample: 0,
      sampleCount: 10,
      samples: [new Int16Array(10)],
      edges: [new Float64Array(0)],
      inputs: [],
    };
    await expect(bench.target.feed(batch)).rejects.toMatchObject({
      kind: "capability",
      message: expect.stringMatching(/samples as i16; use a device or a profile that fits/),
    });
  });

  it("[LINK-061] a port that does not open is closed again and says its own reason", async () => {
    const clock = new VirtualClock();
    let isClosed = false;
    const target = new LinkTarget({
      kind: "link",
      clock,
      session: 1,
      firstSequence: 1,
      port: {
        open: () => Promise.reject(new Error("no such port")),
        write: () => {},
        onBytes: () => {},
        onClosed: () => {},
        close: async () => {
          isClosed = true;
        },
      },
    });
    await expect(target.open(signal())).rejects.toThrow("no such port");
    expect(isClosed).toBe(true);
  });
});
