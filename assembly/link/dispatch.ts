// What the device does with a packet. A packet is done once: its sequence is the expected one, or it
// is answered again without effect (one sent before), or refused (one before it is missing). Records
// stay where they are until the host says that it holds them, so a lost answer loses nothing; and a
// block is taken only where none wait, so the list of records is as long as for a direct call.
import { BLOCK_EDGES_MAX, BLOCK_SAMPLES_MAX, CHANNELS_MAX, FILTERS_MAX, SHAFTS_MAX } from
  "../../shared/capacity.ts";
import {
  BLOCK_HEADER_BYTES, BLOCK_INPUTS, CONFIG_BYTES, COUNTERS_BYTES, INPUT_TEST, LAYOUT_VERSION,
  NUMERICS_VERSION, RECORD_BYTES, RECORD_SEQUENCE, REFUSAL_BYTES,
} from "../../shared/layout.ts";
import * as LINK from "../../shared/link.ts";
import * as STATUS from "../../shared/status.ts";
import { FORMAT_F32, FORMAT_I16 } from "../../shared/units.ts";
import { configCheck } from "../config.ts";
import {
  CONFIGURATION, COUNTERS, INPUT, LINK_COUNTERS, PORT, RECORDS, REFUSAL,
} from "../memory.ts";
import {
  pipelineBlockBytes, pipelineConfigure, pipelineNextSample, pipelineProcess, pipelineReset,
} from "../pipeline.ts";
import { recordsClear, recordsCount } from "../records.ts";
import { ANSWER_BODY, answerIsOnItsWay, answerReset, answerStart } from "./answer.ts";
import { PACKET_HEAD, frameReset } from "./frame.ts";
import { linkCount } from "./link-counters.ts";

/** Bit n: sample format n. */
const SAMPLE_FORMATS: i32 = 1 << FORMAT_F32 | 1 << FORMAT_I16;
const TEST_BIT: u32 = 1 << INPUT_TEST;

let hasSession: bool = false;
let session: u32 = 0;
let expected: u32 = 0; // sequence of the request that comes next, u16
let held: i32 = 0; // records at the list's start that the host holds
let feedStatus: i32 = STATUS.OK; // after a refused block no other is taken, up to a reset
let configureStatus: i32 = STATUS.OK;
let isTesting: bool = false;

/** No session; the line is quiet. The stream is begun anew by the session that comes. */
export function dispatchReset(): void {
  frameReset();
  answerReset();
  hasSession = false;
}

function streamReset(): void {
  held = 0;
  feedStatus = STATUS.OK;
  isTesting = false;
  pipelineReset();
}

/** Does what the packet in hand asks, and starts its answer. */
export function dispatchTake(): void {
  assert(!answerIsOnItsWay());
  linkCount(LINK.LINK_COUNTER_PACKETS);
  const type: u32 = load<u8>(PACKET_HEAD + LINK.PACKET_TYPE);
  const length = <i32>load<u16>(PACKET_HEAD + LINK.PACKET_LENGTH);
  if (type == LINK.PACKET_HELLO) return hello(length);
  if (!hasSession) return refuse(STATUS.ERR_LINK_SESSION);
  // Signed distance on the circle of 2¹⁶ sequences.
  const ahead = <i32><i16>(load<u16>(PACKET_HEAD + LINK.PACKET_SEQUENCE) - <u16>expected);
  if (ahead > 0) {
    linkCount(LINK.LINK_COUNTER_AHEAD);
    return answerStatus(STATUS.ERR_LINK_AHEAD);
  }
  const wrong = packetCheck(type, length);
  if (wrong != STATUS.OK) return refuse(wrong);
  // Only a packet whose turn it is says what the host holds: another's word may be of the records
  // before a reset, and those of now have the same numbers.
  if (ahead < 0) linkCount(LINK.LINK_COUNTER_REPEATED);
  else recordsDrop();
  packetTake(type, ahead == 0);
}

function refuse(status: i32): void {
  linkCount(LINK.LINK_COUNTER_REFUSED);
  answerStatus(status);
}

/** Length and type of a packet that was not looked into yet. */
function packetCheck(type: u32, length: i32): i32 {
  switch (type) {
    case LINK.PACKET_CONFIGURE:
      return length == CONFIG_BYTES ? STATUS.OK : STATUS.ERR_LINK_LENGTH;
    case LINK.PACKET_FEED: {
      if (length < BLOCK_HEADER_BYTES) return STATUS.ERR_LINK_LENGTH;
      // What has no length by the contract is the block rule's to refuse.
      const bytes = pipelineBlockBytes();
      return bytes < 0 || bytes == length ? STATUS.OK : STATUS.ERR_LINK_LENGTH;
    }
    case LINK.PACKET_RECORDS:
    case LINK.PACKET_COUNTERS:
    case LINK.PACKET_RESET:
      return length == 0 ? STATUS.OK : STATUS.ERR_LINK_LENGTH;
    case LINK.PACKET_TEST:
      return length == 4 ? STATUS.OK : STATUS.ERR_LINK_LENGTH;
    default:
      return STATUS.ERR_LINK_TYPE;
  }
}

/** A packet that is right in itself; `isNew` where it is to be done, and not only answered. */
function packetTake(type: u32, isNew: bool): void {
  switch (type) {
    case LINK.PACKET_CONFIGURE:
      return configure(isNew);
    case LINK.PACKET_FEED:
      return feed(isNew);
    case LINK.PACKET_RECORDS:
      sequenceTake(isNew);
      return answerFeed(feedStatus);
    case LINK.PACKET_COUNTERS:
      sequenceTake(isNew);
      return answerCounters();
    case LINK.PACKET_TEST:
      if (isNew) isTesting = load<u32>(INPUT) != 0;
      sequenceTake(isNew);
      return answerStatus(STATUS.OK);
    default:
      if (isNew) streamReset();
      sequenceTake(isNew);
      return answerStatus(STATUS.OK);
  }
}

function sequenceTake(isNew: bool): void {
  if (isNew) expected = (expected + 1) & 0xffff;
}

// --- one packet each

/** A session begins; the same one asked for again is only answered. */
function hello(length: i32): void {
  const isKnown = length == LINK.HELLO_BYTES &&
    load<u32>(INPUT + LINK.HELLO_PROTOCOL) == LINK.PROTOCOL_VERSION &&
    load<u32>(INPUT + LINK.HELLO_LAYOUT) == LAYOUT_VERSION;
  const asked = load<u32>(INPUT + LINK.HELLO_SESSION);
  if (isKnown && hasSession && asked == session) linkCount(LINK.LINK_COUNTER_REPEATED);
  else if (isKnown) {
    hasSession = true;
    session = asked;
    expected = (<u32>load<u16>(PACKET_HEAD + LINK.PACKET_SEQUENCE) + 1) & 0xffff;
    streamReset();
  } else linkCount(LINK.LINK_COUNTER_REFUSED);
  answerHello(isKnown ? STATUS.OK : STATUS.ERR_LINK_VERSION, asked);
}

function configure(isNew: bool): void {
  if (isNew) {
    configureStatus = configCheck();
    if (configureStatus == STATUS.OK) {
      memory.copy(CONFIGURATION, INPUT, CONFIG_BYTES);
      pipelineConfigure();
      streamReset();
    }
  }
  sequenceTake(isNew);
  memory.fill(ANSWER_BODY, 0, LINK.CONFIGURE_ANSWER_BYTES);
  const isTaken = configureStatus == STATUS.OK;
  if (!isTaken) memory.copy(ANSWER_BODY, REFUSAL, REFUSAL_BYTES);
  answer(LINK.CONFIGURE_ANSWER_BYTES, CONFIGURATION, isTaken ? CONFIG_BYTES : 0);
}

function feed(isNew: bool): void {
  if (isNew && recordsCount() != 0) {
    linkCount(LINK.LINK_COUNTER_REFUSED);
    return answerFeed(STATUS.ERR_LINK_RECORDS);
  }
  if (isNew && feedStatus == STATUS.OK) {
    if (isTesting) store<u32>(INPUT + BLOCK_INPUTS, load<u32>(INPUT + BLOCK_INPUTS) | TEST_BIT);
    feedStatus = pipelineProcess();
  }
  sequenceTake(isNew);
  answerFeed(feedStatus);
}

/** Drops the records that the packet in hand says the host holds. */
function recordsDrop(): void {
  const next = load<u16>(PACKET_HEAD + LINK.PACKET_ACKNOWLEDGED);
  const count = recordsCount();
  while (held < count) {
    const sequence = <u16>load<u32>(RECORDS + <usize>held * RECORD_BYTES + RECORD_SEQUENCE);
    if (<i16>(next - sequence) <= 0) return;
    held += 1;
  }
  held = 0;
  recordsClear();
}

// --- answers

function answer(bodyBytes: i32, address: usize, bytes: i32): void {
  const type: u32 = load<u8>(PACKET_HEAD + LINK.PACKET_TYPE);
  const sequence: u32 = load<u16>(PACKET_HEAD + LINK.PACKET_SEQUENCE);
  answerStart(type, sequence, expected, bodyBytes, address, bytes);
}

function answerStatus(status: i32): void {
  store<i32>(ANSWER_BODY, status);
  answer(4, 0, 0);
}

function answerFeed(status: i32): void {
  const waiting = recordsCount() - held;
  const sample = pipelineNextSample();
  store<i32>(ANSWER_BODY + LINK.FEED_ANSWER_STATUS, status);
  store<i32>(ANSWER_BODY + LINK.FEED_ANSWER_WAITING, waiting);
  store<u32>(ANSWER_BODY + LINK.FEED_ANSWER_NEXT_LOW, <u32>sample);
  store<u32>(ANSWER_BODY + LINK.FEED_ANSWER_NEXT_HIGH, <u32>(sample >> 32));
  const bytes = min(waiting, LINK.ANSWER_RECORDS_MAX) * RECORD_BYTES;
  answer(LINK.FEED_ANSWER_BYTES, RECORDS + <usize>held * RECORD_BYTES, bytes);
}

function answerCounters(): void {
  store<i32>(ANSWER_BODY, STATUS.OK);
  memory.copy(ANSWER_BODY + 4, LINK_COUNTERS, LINK.LINK_COUNTERS_BYTES);
  answer(LINK.COUNTERS_ANSWER_BYTES, COUNTERS, COUNTERS_BYTES);
}

function answerHello(status: i32, asked: u32): void {
  const at = ANSWER_BODY;
  store<i32>(at + LINK.HELLO_ANSWER_STATUS, status);
  store<u32>(at + LINK.HELLO_ANSWER_PROTOCOL, LINK.PROTOCOL_VERSION);
  store<u32>(at + LINK.HELLO_ANSWER_LAYOUT, LAYOUT_VERSION);
  store<u32>(at + LINK.HELLO_ANSWER_NUMERICS, NUMERICS_VERSION);
  store<u32>(at + LINK.HELLO_ANSWER_SESSION, asked);
  store<u8>(at + LINK.HELLO_ANSWER_CHANNELS, <u8>CHANNELS_MAX);
  store<u8>(at + LINK.HELLO_ANSWER_SHAFTS, <u8>SHAFTS_MAX);
  store<u8>(at + LINK.HELLO_ANSWER_FILTERS, <u8>FILTERS_MAX);
  store<u8>(at + LINK.HELLO_ANSWER_FORMATS, <u8>SAMPLE_FORMATS);
  store<u16>(at + LINK.HELLO_ANSWER_SAMPLES, <u16>BLOCK_SAMPLES_MAX);
  store<u16>(at + LINK.HELLO_ANSWER_EDGES, <u16>BLOCK_EDGES_MAX);
  store<u16>(at + LINK.HELLO_ANSWER_BODY, <u16>LINK.PACKET_BODY_MAX);
  store<u16>(at + LINK.HELLO_ANSWER_ZERO, 0);
  memory.copy(at + LINK.HELLO_ANSWER_PORT, PORT, LINK.PORT_BYTES);
  answer(LINK.HELLO_ANSWER_BYTES, 0, 0);
}
