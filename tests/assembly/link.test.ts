// The device's side of the serial link, packet by packet: who is answered, what is done once.
import { describe, expect, it } from "vitest";
import * as CAPACITY from "../../shared/capacity.ts";
import * as L from "../../shared/layout.ts";
import * as LINK from "../../shared/link.ts";
import * as STATUS from "../../shared/status.ts";
import { decodeCounters } from "../../host/records.ts";
import { BUILDS } from "./kit/core-run.ts";
import { BUSY, blocksOf } from "./kit/link-blocks.ts";
import { DeviceLine, FIRST, SESSION, helloBody } from "./kit/link-line.ts";

const { configuration, blocks } = blocksOf(BUSY);
const word = (body: Uint8Array, at: number): number =>
  new DataView(body.buffer, body.byteOffset).getUint32(at, true);

const EMPTY_TYPES = [
  ["records", LINK.PACKET_RECORDS],
  ["counters", LINK.PACKET_COUNTERS],
  ["reset", LINK.PACKET_RESET],
] as const;

describe.each(BUILDS)("link of the %s build", (build) => {
  it(`[LINK-001] ${build} answers a hello with versions, room, formats and its port's facts`, () => {
    const line = new DeviceLine(build);
    const { type, sequence, expected, body } = line.hello();
    expect({ type, sequence, expected }).toEqual({
      type: LINK.PACKET_HELLO | LINK.PACKET_ANSWER,
      sequence: FIRST,
      expected: FIRST + 1,
    });
    expect(body.byteLength).toBe(LINK.HELLO_ANSWER_BYTES);
    const words = [0, 4, 8, 12, 16].map((at) => word(body, at));
    const { PROTOCOL_VERSION } = LINK;
    expect(words).toEqual([0, PROTOCOL_VERSION, L.LAYOUT_VERSION, L.NUMERICS_VERSION, SESSION]);
    const { CHANNELS_MAX, SHAFTS_MAX, FILTERS_MAX } = CAPACITY;
    expect([...body.subarray(20, 24)]).toEqual([CHANNELS_MAX, SHAFTS_MAX, FILTERS_MAX, 0b11]);
    const halves = [24, 26, 28, 30].map((at) => body[at]! + 256 * body[at + 1]!);
    const { BLOCK_SAMPLES_MAX, BLOCK_EDGES_MAX } = CAPACITY;
    expect(halves).toEqual([BLOCK_SAMPLES_MAX, BLOCK_EDGES_MAX, LINK.PACKET_BODY_MAX, 0]);
    expect([word(body, 32), word(body, 36)]).toEqual([8192, 25_000_000]);
    expect(Buffer.from(body.subarray(40)).toString("latin1")).toBe("bench".padEnd(32, "\0"));
  });

  it(`[LINK-002] ${build} only answers the hello of the session that stands`, () => {
    const line = new DeviceLine(build);
    line.begin(configuration);
    line.feed(FIRST + 2, blocks[0]!);
    const again = line.hello();
    expect([again.status, again.expected]).toEqual([STATUS.OK, FIRST + 3]);
    expect(line.core.counters().blocks).toBe(1);
    expect(line.counter(LINK.LINK_COUNTER_REPEATED)).toBe(1);
  });

  it(`[LINK-003] ${build} starts anew with another session`, () => {
    const line = new DeviceLine(build);
    line.begin(configuration);
    const before = line.feed(FIRST + 2, blocks[0]!);
    expect(before.waiting).toBeGreaterThan(0);
    const hello = line.hello(SESSION + 1, 7);
    expect([hello.status, hello.expected, word(hello.body, 16)]).toEqual([0, 8, SESSION + 1]);
    expect(line.records(8)).toMatchObject({ status: STATUS.OK, waiting: 0, nextSample: 0 });
    // The configuration that was active stays.
    expect(line.feed(9, blocks[0]!).records).toEqual(before.records);
  });

  it.each([
    ["another protocol", helloBody(9, LINK.PROTOCOL_VERSION + 1)],
    ["another layout", helloBody(9).with(LINK.HELLO_LAYOUT, L.LAYOUT_VERSION + 1)],
    ["a longer body", new Uint8Array(LINK.HELLO_BYTES + 4)],
    ["no body", new Uint8Array(0)],
  ])(`[LINK-004] ${build} refuses a hello of %s, and the session stands`, (_, body) => {
    const line = new DeviceLine(build);
    line.begin(configuration);
    const refused = line.ask({ type: LINK.PACKET_HELLO, sequence: 5000, body });
    expect(refused.status).toBe(STATUS.ERR_LINK_VERSION);
    expect([word(refused.body, 4), word(refused.body, 8)]).toEqual([
      LINK.PROTOCOL_VERSION,
      L.LAYOUT_VERSION,
    ]);
    expect(line.counter(LINK.LINK_COUNTER_REFUSED)).toBe(1);
    expect(line.feed(FIRST + 2, blocks[0]!).status).toBe(STATUS.OK);
  });

  it(`[LINK-005] ${build} refuses everything but a hello where no session stands`, () => {
    const line = new DeviceLine(build);
    for (let type = 0; type < 256; type += 1) {
      if (type === LINK.PACKET_HELLO) continue;
      expect(line.ask({ type, sequence: 0 })).toMatchObject({
        type: type | LINK.PACKET_ANSWER,
        status: STATUS.ERR_LINK_SESSION,
      });
    }
    expect(line.counter(LINK.LINK_COUNTER_REFUSED)).toBe(255);
  });

  it(`[LINK-006] ${build} refuses what comes before its turn, and tells whose turn it is`, () => {
    const line = new DeviceLine(build);
    line.begin(configuration);
    for (const [i, sequence] of [FIRST + 3, FIRST + 2 + 0x7fff].entries()) {
      const early = line.ask({ type: LINK.PACKET_FEED, sequence, body: blocks[0] });
      expect(early).toMatchObject({
        status: STATUS.ERR_LINK_AHEAD,
        sequence: sequence & 0xffff,
        expected: FIRST + 2,
      });
      expect(early.body.byteLength).toBe(4);
      expect(line.counter(LINK.LINK_COUNTER_AHEAD)).toBe(i + 1);
    }
    expect(line.core.counters().blocks).toBe(0);
  });

  it(`[LINK-007] ${build} answers again what was done, and does it once`, () => {
    const line = new DeviceLine(build);
    line.begin(configuration);
    const first = line.feed(FIRST + 2, blocks[0]!);
    for (let i = 1; i <= 3; i += 1) {
      expect(line.feed(FIRST + 2, blocks[0]!)).toEqual(first);
      expect(line.counter(LINK.LINK_COUNTER_REPEATED)).toBe(i);
    }
    expect(line.core.counters().blocks).toBe(1);
    // So are a configuration, a reset and the test's switch: each would show in the stream.
    const configured = line.ask({
      type: LINK.PACKET_CONFIGURE,
      sequence: FIRST + 1,
      body: configuration,
    });
    expect(configured.status).toBe(STATUS.OK);
    line.ask({ type: LINK.PACKET_RESET, sequence: FIRST + 2 });
    line.ask({ type: LINK.PACKET_RESET, sequence: FIRST + 1 - 0x7000 });
    expect(line.records(FIRST + 2)).toEqual({ ...first, type: 0x84 });
  });

  it(`[LINK-008] ${build} counts sequences round the circle of 2¹⁶`, () => {
    const line = new DeviceLine(build);
    line.begin(configuration, 65_533);
    const last = line.ask({ type: LINK.PACKET_COUNTERS, sequence: 65_535 });
    expect([last.status, last.expected]).toEqual([STATUS.OK, 0]);
    const early = line.ask({ type: LINK.PACKET_COUNTERS, sequence: 1 });
    expect([early.status, early.expected]).toEqual([STATUS.ERR_LINK_AHEAD, 0]);
    const repeated = line.ask({ type: LINK.PACKET_COUNTERS, sequence: 65_535 });
    expect([repeated.status, repeated.expected]).toEqual([STATUS.OK, 0]);
    expect(line.counter(LINK.LINK_COUNTER_REPEATED)).toBe(1);
    const first = line.ask({ type: LINK.PACKET_COUNTERS, sequence: 0 });
    expect([first.status, first.expected]).toEqual([STATUS.OK, 1]);
  });

  it(`[LINK-009] ${build} refuses a type that it does not know`, () => {
    const line = new DeviceLine(build);
    line.begin(configuration);
    for (const type of [0, LINK.PACKET_FAULT, 9, 0x7f, 0x80, 0x83, 0x88, 0xff]) {
      const { status, expected } = line.ask({ type, sequence: FIRST + 2 });
      expect([type, status, expected]).toEqual([type, STATUS.ERR_LINK_TYPE, FIRST + 2]);
    }
  });

  it(`[LINK-010] ${build} refuses a body that has not its type's length, and nothing is done`, () => {
    const line = new DeviceLine(build);
    line.begin(configuration);
    const padded = (body: Uint8Array, by: number): Uint8Array =>
      by < 0 ? body.subarray(0, by) : new Uint8Array(Buffer.concat([body, Buffer.alloc(by)]));
    const wrong: [type: number, body: Uint8Array][] = [
      ...EMPTY_TYPES.flatMap(([, type]) => [1, 4].map((n) => [type, new Uint8Array(n)] as const)),
      ...[0, 3, 5, 8].map((n) => [LINK.PACKET_TEST, new Uint8Array(n)] as const),
      ...[-1, 1, 4].map((by) => [LINK.PACKET_CONFIGURE, padded(configuration, by)] as const),
      [LINK.PACKET_CONFIGURE, new Uint8Array(0)],
      ...[-4, -1, 1, 4].map((by) => [LINK.PACKET_FEED, padded(blocks[0]!, by)] as const),
      ...[0, 4, 63].map((n) => [LINK.PACKET_FEED, blocks[0]!.subarray(0, n)] as const),
    ].map(([type, body]) => [type as number, body as Uint8Array]);
    for (const [i, [type, body]] of wrong.entries()) {
      const { status, expected } = line.ask({ type, sequence: FIRST + 2, body });
      const found = [type, body.byteLength, status, expected];
      expect(found).toEqual([type, body.byteLength, STATUS.ERR_LINK_LENGTH, FIRST + 2]);
      expect(line.counter(LINK.LINK_COUNTER_REFUSED)).toBe(i + 1);
    }
    expect(line.core.counters()).toMatchObject({ blocks: 0, refusedBlocks: 0 });
    expect(line.feed(FIRST + 2, blocks[0]!).status).toBe(STATUS.OK);
  });

  it(`[LINK-011] ${build} tells why it refuses a configuration; what was active stays`, () => {
    const line = new DeviceLine(build);
    line.begin(configuration);
    line.feed(FIRST + 2, blocks[0]!);
    const body = configuration.with(L.GLOBAL_CHECK, configuration[L.GLOBAL_CHECK]! ^ 1);
    const asked = { type: LINK.PACKET_CONFIGURE, sequence: FIRST + 3, acknowledged: 99, body };
    const refused = line.ask(asked);
    expect(refused.body.byteLength).toBe(LINK.CONFIGURE_ANSWER_BYTES);
    expect(refused.status).toBe(STATUS.ERR_CONFIG_CHECK);
    expect(word(refused.body, 4)).toBe(L.GLOBAL_CHECK);
    expect(line.ask(asked)).toEqual(refused);
    // The stream goes on: the next block is the one expected.
    const next = line.feed(FIRST + 4, blocks[1]!, 99);
    expect([next.status, next.nextSample]).toEqual([STATUS.OK, 64]);
    expect(line.core.activeConfiguration()).toEqual(configuration);
  });

  it(`[LINK-012] ${build} echoes the configuration that it holds`, () => {
    const line = new DeviceLine(build);
    line.hello();
    const asked = { type: LINK.PACKET_CONFIGURE, sequence: FIRST + 1, body: configuration };
    const taken = line.ask(asked);
    expect([...taken.body.subarray(0, 16)]).toEqual(Array.from({ length: 16 }, () => 0));
    expect(taken.body.slice(16)).toEqual(configuration);
    expect(line.ask(asked)).toEqual(taken);
  });

  it(`[LINK-014] ${build} holds the functional test's input on up to a reset`, () => {
    const line = new DeviceLine(build);
    line.begin(configuration);
    const on = new Uint8Array([1, 0, 0, 0]);
    expect(line.ask({ type: LINK.PACKET_TEST, sequence: FIRST + 2, body: on }).status).toBe(0);
    const testedBlock = (sequence: number): boolean => {
      const { records } = line.feed(sequence, blocks[0]!, 0);
      return records[L.RECORD_STATUS] === 3 || records[L.RECORD_KIND] === L.RECORD_EVENT;
    };
    expect(testedBlock(FIRST + 3)).toBe(true);
    line.ask({ type: LINK.PACKET_RESET, sequence: FIRST + 4 });
    expect(testedBlock(FIRST + 5)).toBe(false);
    line.ask({ type: LINK.PACKET_TEST, sequence: FIRST + 6, body: on });
    line.ask({ type: LINK.PACKET_TEST, sequence: FIRST + 7, body: new Uint8Array(4) });
    line.ask({ type: LINK.PACKET_RESET, sequence: FIRST + 8 });
    expect(testedBlock(FIRST + 9)).toBe(false);
  });

  it(`[LINK-014] ${build} leaves a block's other inputs as they came`, () => {
    const line = new DeviceLine(build);
    line.begin(configuration);
    const on = new Uint8Array([1, 0, 0, 0]);
    line.ask({ type: LINK.PACKET_TEST, sequence: FIRST + 2, body: on });
    const inputs = (1 << L.INPUT_INHIBIT) | (1 << (L.INPUT_RUNNING + 1));
    const block = blocks[0]!.slice();
    new DataView(block.buffer).setUint32(L.BLOCK_INPUTS, inputs, true);
    expect(line.feed(FIRST + 3, block).status).toBe(STATUS.OK);
    const { view, blockAddress } = line.core;
    const taken = view.getUint32(blockAddress + L.BLOCK_INPUTS, true);
    expect(taken).toBe(inputs | (1 << L.INPUT_TEST));
  });

  it(`[LINK-016] ${build} answers with the link's counters and the signal path's`, () => {
    const line = new DeviceLine(build);
    line.begin(configuration);
    line.feed(FIRST + 2, blocks[0]!);
    line.raw([1, 2, 3]);
    const { body, status } = line.ask({ type: LINK.PACKET_COUNTERS, sequence: FIRST + 3 });
    expect([status, body.byteLength]).toEqual([0, LINK.COUNTERS_ANSWER_BYTES + L.COUNTERS_BYTES]);
    const link = Array.from({ length: 8 }, (_, i) => word(body, 4 + 4 * i));
    // The noise ended at the END in front of the packet that asks.
    expect(link).toEqual([4, 1, 0, 0, 0, 0, 0, 0]);
    const path = decodeCounters(new DataView(body.buffer), LINK.COUNTERS_ANSWER_BYTES);
    expect(path).toEqual(line.core.counters());
    expect(path.blocks).toBe(1);
    line.ask({ type: LINK.PACKET_RESET, sequence: FIRST + 4 });
    expect(line.core.counters().blocks).toBe(0);
    expect(line.counter(LINK.LINK_COUNTER_PACKETS)).toBe(5);
  });
});
