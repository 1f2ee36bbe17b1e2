// Packets as values and as bytes, pure. The layout is shared/link.ts; PROTOCOL.md draws it.
import crc32 from "crc/calculators/crc32";
import { CONFIG_BYTES, COUNTERS_BYTES, RECORD_BYTES } from "../../shared/layout.ts";
import * as L from "../../shared/layout.ts";
import * as LINK from "../../shared/link.ts";
import { OK } from "../../shared/status.ts";
import type { Counters } from "../record-types.ts";
import { decodeCounters } from "../records.ts";

/** Bytes that are no body of their packet's type. */
export class PacketError extends Error {}

export interface Head {
  type: number;
  sequence: number;
  /** In a request what the host holds, in an answer what the device expects; see shared/link.ts. */
  acknowledged: number;
}

function viewOf(bytes: Uint8Array): DataView {
  return new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
}

/** Errors: PacketError where a body has not the length of its type. */
function lengthMust(what: string, body: Uint8Array, isRight: boolean): void {
  if (!isRight) throw new PacketError(`${what}: a body of ${body.byteLength} bytes`);
}

/** A whole packet before framing: head, body, check. */
export function encodePacket(head: Head, body: Uint8Array): Uint8Array {
  if (body.byteLength > LINK.PACKET_BODY_MAX) {
    throw new PacketError(`a body of ${body.byteLength} bytes, at most ${LINK.PACKET_BODY_MAX}`);
  }
  const end = LINK.PACKET_HEAD_BYTES + body.byteLength;
  const packet = new Uint8Array(end + LINK.PACKET_CHECK_BYTES);
  const view = viewOf(packet);
  packet[LINK.PACKET_TYPE] = head.type;
  view.setUint16(LINK.PACKET_SEQUENCE, head.sequence, true);
  view.setUint16(LINK.PACKET_LENGTH, body.byteLength, true);
  view.setUint16(LINK.PACKET_ACKNOWLEDGED, head.acknowledged, true);
  packet.set(body, LINK.PACKET_HEAD_BYTES);
  view.setUint32(end, crc32(packet.subarray(0, end)) >>> 0, true);
  return packet;
}

/** Head of a packet without its check, as the deframer gives it. */
export function decodeHead(packet: Uint8Array): Head {
  lengthMust("packet", packet, packet.byteLength >= LINK.PACKET_HEAD_BYTES);
  const view = viewOf(packet);
  return {
    type: view.getUint8(LINK.PACKET_TYPE),
    sequence: view.getUint16(LINK.PACKET_SEQUENCE, true),
    acknowledged: view.getUint16(LINK.PACKET_ACKNOWLEDGED, true),
  };
}

export function bodyOf(packet: Uint8Array): Uint8Array {
  return packet.subarray(LINK.PACKET_HEAD_BYTES);
}

// --- hello

export interface Hello {
  protocol: number;
  layout: number;
  session: number;
}

export function encodeHello(hello: Hello): Uint8Array {
  const body = new Uint8Array(LINK.HELLO_BYTES);
  const view = viewOf(body);
  view.setUint32(LINK.HELLO_PROTOCOL, hello.protocol, true);
  view.setUint32(LINK.HELLO_LAYOUT, hello.layout, true);
  view.setUint32(LINK.HELLO_SESSION, hello.session, true);
  return body;
}

/** What a port says of its device before the first byte. */
export interface PortFacts {
  /** Framed bytes that may be on their way unanswered; a single packet always may. */
  creditBytes: number;
  /** Of the link's ticks, 0 where there is no clock. */
  clockHz: number;
  identity: string;
}

export function encodePortFacts(facts: PortFacts): Uint8Array {
  const bytes = new Uint8Array(LINK.PORT_BYTES);
  const view = viewOf(bytes);
  view.setUint32(LINK.PORT_CREDIT, facts.creditBytes, true);
  view.setUint32(LINK.PORT_CLOCK_HZ, facts.clockHz, true);
  const { identity } = facts;
  if (!/^[\x20-\x7e]*$/.test(identity) || identity.length > LINK.IDENTITY_BYTES) {
    throw new PacketError(
      `an identity is at most ${LINK.IDENTITY_BYTES} printing ASCII characters`,
    );
  }
  for (let i = 0; i < identity.length; i += 1) {
    bytes[LINK.PORT_IDENTITY + i] = identity.charCodeAt(i);
  }
  return bytes;
}

function decodePortFacts(view: DataView, at: number): PortFacts {
  let identity = "";
  for (let i = 0; i < LINK.IDENTITY_BYTES; i += 1) {
    const code = view.getUint8(at + LINK.PORT_IDENTITY + i);
    if (code === 0) break;
    // It is shown on a terminal: what does not print is not let through.
    identity += code >= 0x20 && code < 0x7f ? String.fromCharCode(code) : "?";
  }
  return {
    creditBytes: view.getUint32(at + LINK.PORT_CREDIT, true),
    clockHz: view.getUint32(at + LINK.PORT_CLOCK_HZ, true),
    identity,
  };
}

/** What every version answers to a hello, so that two versions can tell each other apart. */
export interface Versions {
  status: number;
  protocol: number;
  layout: number;
}

export interface HelloAnswer extends Versions, PortFacts {
  numerics: number;
  session: number;
  channelsMax: number;
  shaftsMax: number;
  filtersMax: number;
  /** Bit n: sample format n. */
  formats: number;
  samplesMax: number;
  edgesMax: number;
  bodyMax: number;
}

export function decodeVersions(body: Uint8Array): Versions {
  lengthMust("hello", body, body.byteLength >= LINK.HELLO_ANSWER_NUMERICS);
  const view = viewOf(body);
  return {
    status: view.getInt32(LINK.HELLO_ANSWER_STATUS, true),
    protocol: view.getUint32(LINK.HELLO_ANSWER_PROTOCOL, true),
    layout: view.getUint32(LINK.HELLO_ANSWER_LAYOUT, true),
  };
}

export function decodeHelloAnswer(body: Uint8Array): HelloAnswer {
  lengthMust("hello", body, body.byteLength === LINK.HELLO_ANSWER_BYTES);
  const view = viewOf(body);
  return {
    ...decodeVersions(body),
    numerics: view.getUint32(LINK.HELLO_ANSWER_NUMERICS, true),
    session: view.getUint32(LINK.HELLO_ANSWER_SESSION, true),
    channelsMax: view.getUint8(LINK.HELLO_ANSWER_CHANNELS),
    shaftsMax: view.getUint8(LINK.HELLO_ANSWER_SHAFTS),
    filtersMax: view.getUint8(LINK.HELLO_ANSWER_FILTERS),
    formats: view.getUint8(LINK.HELLO_ANSWER_FORMATS),
    samplesMax: view.getUint16(LINK.HELLO_ANSWER_SAMPLES, true),
    edgesMax: view.getUint16(LINK.HELLO_ANSWER_EDGES, true),
    bodyMax: view.getUint16(LINK.HELLO_ANSWER_BODY, true),
    ...decodePortFacts(view, LINK.HELLO_ANSWER_PORT),
  };
}

// --- the other answers

/** The status that every answer begins with. */
export function decodeStatus(body: Uint8Array): number {
  lengthMust("answer", body, body.byteLength >= 4);
  return viewOf(body).getInt32(0, true);
}

export interface ConfigureAnswer {
  status: number;
  fieldOffset: number;
  found: number;
  limit: number;
  /** The configuration as the device holds it; empty where it was refused. */
  echo: Uint8Array;
}

export function decodeConfigureAnswer(body: Uint8Array): ConfigureAnswer {
  const status = decodeStatus(body);
  const echoBytes = status === OK ? CONFIG_BYTES : 0;
  const bytes = LINK.CONFIGURE_ANSWER_BYTES + echoBytes;
  lengthMust("configure", body, body.byteLength === bytes);
  const view = viewOf(body);
  return {
    status,
    fieldOffset: view.getInt32(L.REFUSAL_OFFSET, true),
    found: view.getFloat32(L.REFUSAL_FOUND, true),
    limit: view.getFloat32(L.REFUSAL_LIMIT, true),
    echo: body.slice(LINK.CONFIGURE_ANSWER_BYTES),
  };
}

export interface FeedAnswer {
  status: number;
  /** Records that the device keeps, those of this answer among them. */
  waitingCount: number;
  nextSample: number;
  /** Oldest first; a view into the body. */
  records: Uint8Array;
}

export function decodeFeedAnswer(body: Uint8Array): FeedAnswer {
  const recordsBytes = body.byteLength - LINK.FEED_ANSWER_BYTES;
  lengthMust("feed", body, recordsBytes >= 0 && recordsBytes % RECORD_BYTES === 0);
  const view = viewOf(body);
  const low = view.getUint32(LINK.FEED_ANSWER_NEXT_LOW, true);
  const high = view.getUint32(LINK.FEED_ANSWER_NEXT_HIGH, true);
  return {
    status: view.getInt32(LINK.FEED_ANSWER_STATUS, true),
    waitingCount: view.getUint32(LINK.FEED_ANSWER_WAITING, true),
    nextSample: low + high * 2 ** 32,
    records: body.subarray(LINK.FEED_ANSWER_BYTES),
  };
}

/** What the device's side of the link counts; u32, wrapping, since power-up. */
export interface LinkCounters {
  packets: number;
  badForm: number;
  tooLong: number;
  badCheck: number;
  repeated: number;
  ahead: number;
  refused: number;
  ticks: number;
}

export function decodeLinkCounters(bytes: Uint8Array): LinkCounters {
  const view = viewOf(bytes);
  return {
    packets: view.getUint32(LINK.LINK_COUNTER_PACKETS, true),
    badForm: view.getUint32(LINK.LINK_COUNTER_BAD_FORM, true),
    tooLong: view.getUint32(LINK.LINK_COUNTER_TOO_LONG, true),
    badCheck: view.getUint32(LINK.LINK_COUNTER_BAD_CHECK, true),
    repeated: view.getUint32(LINK.LINK_COUNTER_REPEATED, true),
    ahead: view.getUint32(LINK.LINK_COUNTER_AHEAD, true),
    refused: view.getUint32(LINK.LINK_COUNTER_REFUSED, true),
    ticks: view.getUint32(LINK.LINK_COUNTER_TICKS, true),
  };
}

export interface CountersAnswer {
  status: number;
  link: LinkCounters;
  path: Counters;
}

export function decodeCountersAnswer(body: Uint8Array): CountersAnswer {
  const bytes = LINK.COUNTERS_ANSWER_BYTES + COUNTERS_BYTES;
  lengthMust("counters", body, body.byteLength === bytes);
  return {
    status: decodeStatus(body),
    link: decodeLinkCounters(body.subarray(4, LINK.COUNTERS_ANSWER_BYTES)),
    path: decodeCounters(viewOf(body), LINK.COUNTERS_ANSWER_BYTES),
  };
}

/** The switch of the functional test. */
export function encodeTest(isOn: boolean): Uint8Array {
  return new Uint8Array([isOn ? 1 : 0, 0, 0, 0]);
}
