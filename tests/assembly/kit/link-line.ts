// The device's side of the link as bytes: packets are built and read here by RFC 1055 and the check
// code of Node's own zlib, and nothing of the host's link is used.
import { crc32 } from "node:zlib";
import * as LINK from "../../../shared/link.ts";
import { LAYOUT_VERSION, RECORD_BYTES, RECORD_SEQUENCE } from "../../../shared/layout.ts";
import type { Core } from "../../../host/core.ts";
import { type Build, coreOf } from "./core-run.ts";

const END = 0xc0;
const ESC = 0xdb;

export interface Answer {
  type: number;
  sequence: number;
  /** The sequence that the device expects next. */
  expected: number;
  body: Uint8Array;
  /** First word of the body. */
  status: number;
}

export interface Asked {
  type: number;
  sequence: number;
  acknowledged?: number;
  body?: Uint8Array;
}

export function packetOf({ type, sequence, acknowledged = 0, body }: Asked): Uint8Array {
  const length = body?.byteLength ?? 0;
  const packet = Buffer.alloc(8 + length + 4);
  packet.writeUInt8(type, 0);
  packet.writeUInt16LE(sequence & 0xffff, 2);
  packet.writeUInt16LE(length, 4);
  packet.writeUInt16LE(acknowledged & 0xffff, 6);
  if (body !== undefined) packet.set(body, 8);
  packet.writeUInt32LE(crc32(packet.subarray(0, 8 + length)), 8 + length);
  return packet;
}

export function framed(packet: Uint8Array): Uint8Array {
  const escaped = [...packet].flatMap((byte) => {
    if (byte === END) return [ESC, 0xdc];
    return byte === ESC ? [ESC, 0xdd] : [byte];
  });
  return Uint8Array.from([END, ...escaped, END]);
}

/** The one answer that a run of bytes is; throws where it is none. */
export function answerOf(bytes: readonly number[]): Answer {
  if (bytes[0] !== END || bytes.at(-1) !== END) throw new Error("no END at both ends");
  const packet: number[] = [];
  for (let i = 1; i < bytes.length - 1; i += 1) {
    if (bytes[i] === END) throw new Error("an END inside");
    if (bytes[i] !== ESC) packet.push(bytes[i]!);
    else {
      i += 1;
      if (bytes[i] !== 0xdc && bytes[i] !== 0xdd) throw new Error("a wrong escape");
      packet.push(bytes[i] === 0xdc ? END : ESC);
    }
  }
  const buffer = Buffer.from(packet);
  const end = buffer.byteLength - 4;
  if (buffer.readUInt32LE(end) !== crc32(buffer.subarray(0, end))) throw new Error("bad check");
  if (buffer.readUInt16LE(4) !== end - 8) throw new Error("bad length");
  if (buffer[1] !== 0) throw new Error("byte 1 is not 0");
  const body = new Uint8Array(buffer.subarray(8, end));
  return {
    type: buffer[0]!,
    sequence: buffer.readUInt16LE(2),
    expected: buffer.readUInt16LE(6),
    body,
    status: new DataView(body.buffer).getInt32(0, true),
  };
}

export interface FeedAnswered extends Answer {
  waiting: number;
  nextSample: number;
  records: Uint8Array;
  /** Sequences of the records. */
  recordSequences: number[];
}

export function feedAnswerOf(answer: Answer): FeedAnswered {
  const view = new DataView(answer.body.buffer);
  const records = answer.body.slice(LINK.FEED_ANSWER_BYTES);
  const recordSequences: number[] = [];
  for (let at = 0; at < records.byteLength; at += RECORD_BYTES) {
    recordSequences.push(new DataView(records.buffer).getUint32(at + RECORD_SEQUENCE, true));
  }
  return {
    ...answer,
    waiting: view.getUint32(LINK.FEED_ANSWER_WAITING, true),
    nextSample: Number(view.getBigUint64(LINK.FEED_ANSWER_NEXT_LOW, true)),
    records,
    recordSequences,
  };
}

export function helloBody(session: number, protocol = LINK.PROTOCOL_VERSION): Uint8Array {
  const body = Buffer.alloc(LINK.HELLO_BYTES);
  body.writeUInt32LE(protocol, LINK.HELLO_PROTOCOL);
  body.writeUInt32LE(LAYOUT_VERSION, LINK.HELLO_LAYOUT);
  body.writeUInt32LE(session >>> 0, LINK.HELLO_SESSION);
  return new Uint8Array(body);
}

/** The first packet's sequence of a line that was greeted. */
export const FIRST = 100;
export const SESSION = 0xa1b2c3d4;

/** A core and its line. */
export class DeviceLine {
  readonly core: Core;

  constructor(build: Build = "release", core = coreOf(build)) {
    this.core = core;
    const port = Buffer.alloc(LINK.PORT_BYTES);
    port.writeUInt32LE(8192, LINK.PORT_CREDIT);
    port.writeUInt32LE(25_000_000, LINK.PORT_CLOCK_HZ);
    port.write("bench", LINK.PORT_IDENTITY, "latin1");
    core.linkStart(port);
  }

  /** Sends bytes as they are; each answer as the bytes that came. */
  raw(bytes: Iterable<number>): number[][] {
    const answers: number[][] = [];
    for (const byte of bytes) {
      this.core.linkTake(byte);
      const answer: number[] = [];
      for (let out = this.core.linkGive(); out >= 0; out = this.core.linkGive()) answer.push(out);
      if (answer.length > 0) answers.push(answer);
    }
    return answers;
  }

  /** Sends one packet, which must have one answer. */
  ask(asked: Asked): Answer {
    const answers = this.raw(framed(packetOf(asked)));
    if (answers.length !== 1) throw new Error(`${answers.length} answers`);
    return answerOf(answers[0]!);
  }

  feed(sequence: number, body: Uint8Array, acknowledged = 0): FeedAnswered {
    return feedAnswerOf(this.ask({ type: LINK.PACKET_FEED, sequence, acknowledged, body }));
  }

  records(sequence: number, acknowledged = 0): FeedAnswered {
    return feedAnswerOf(this.ask({ type: LINK.PACKET_RECORDS, sequence, acknowledged }));
  }

  /** Begins a session; the next packet's sequence is `first` + 1. */
  hello(session = SESSION, first = FIRST): Answer {
    return this.ask({ type: LINK.PACKET_HELLO, sequence: first, body: helloBody(session) });
  }

  /** Begins a session and hands over a configuration; the next sequence is `first` + 2. */
  begin(configuration: Uint8Array, first = FIRST, session = SESSION): void {
    this.hello(session, first);
    const answer = this.ask({
      type: LINK.PACKET_CONFIGURE,
      sequence: first + 1,
      body: configuration,
    });
    if (answer.status !== 0) throw new Error(`refused: ${answer.status}`);
  }

  /** A counter of the link's own. */
  counter(offset: number): number {
    return Buffer.from(this.core.linkCounters()).readUInt32LE(offset);
  }
}
