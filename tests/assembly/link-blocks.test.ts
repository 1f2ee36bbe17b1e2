// Blocks and records over the link: refused ones, records that wait, bytes equal to direct calls.
import { describe, expect, it } from "vitest";
import { BLOCK_EDGES_MAX } from "../../shared/capacity.ts";
import * as L from "../../shared/layout.ts";
import * as LINK from "../../shared/link.ts";
import * as STATUS from "../../shared/status.ts";
import { FORMAT_I16 } from "../../shared/units.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import { monitorProfile, shaftProfile } from "../kit/scene-builder.ts";
import { BUILDS, coreOf } from "./kit/core-run.ts";
import {
  BUSY,
  type Blocks,
  blocksOf,
  blocksOfBatch,
  directAnswer,
  flicker,
  flickering,
} from "./kit/link-blocks.ts";
import { DeviceLine, FIRST, SESSION } from "./kit/link-line.ts";

const busy = blocksOf(BUSY);
const full = blocksOfBatch(flickering(2), flicker(1600));
const overfull = blocksOfBatch(flickering(3), flicker(1600));

/** A block with one word changed. */
function changed(block: Uint8Array, offset: number, value: number): Uint8Array {
  const bytes = block.slice();
  new DataView(bytes.buffer).setUint32(offset, value, true);
  return bytes;
}

/** A block with edges that its header counts. */
function withEdges(block: Uint8Array, edges: number[]): Uint8Array {
  const bytes = Buffer.concat([block, Buffer.from(Uint32Array.from(edges).buffer)]);
  bytes.writeUInt32LE(edges.length, L.BLOCK_EDGE_COUNTS);
  return new Uint8Array(bytes);
}

const [block] = busy.blocks as [Uint8Array];
const edgeless = changed(block, L.BLOCK_EDGE_COUNTS, 0).slice(0, L.BLOCK_HEADER_BYTES + 4 * 32);
const longBlock = new Uint8Array(L.BLOCK_HEADER_BYTES + 4 * 128);
longBlock.set(edgeless.subarray(0, L.BLOCK_HEADER_BYTES));

const REFUSED: [status: number, block: Uint8Array][] = [
  [STATUS.ERR_BLOCK_LAYOUT, changed(block, L.BLOCK_LAYOUT, L.LAYOUT_VERSION + 1)],
  [STATUS.ERR_BLOCK_FORMAT, changed(block, L.BLOCK_FORMAT, 2)],
  [STATUS.ERR_BLOCK_SAMPLES, changed(block, L.BLOCK_SAMPLE_COUNT, 129)],
  [STATUS.ERR_BLOCK_SAMPLES, changed(block, L.BLOCK_SAMPLE_COUNT, 0).slice(0, 64)],
  [STATUS.ERR_BLOCK_EDGES, changed(block, L.BLOCK_EDGE_COUNTS, 65)],
  [STATUS.ERR_BLOCK_EDGES, changed(withEdges(edgeless, [0]), L.BLOCK_EDGE_COUNTS, -1)],
  [STATUS.ERR_BLOCK_GAP, changed(block, L.BLOCK_FIRST_HIGH, 0x1000)],
  [STATUS.ERR_EDGE_ORDER, withEdges(edgeless, [200, 100])],
  [STATUS.ERR_EDGE_OUTSIDE, withEdges(edgeless, [32 * 6250])],
  [STATUS.ERR_BLOCK_STEPS, changed(longBlock, L.BLOCK_SAMPLE_COUNT, 128)],
];

/** Records that the whole stream gives over the link, and how many answers brought some. */
function overLink(line: DeviceLine, { configuration, blocks }: Blocks) {
  line.begin(configuration);
  let sequence = FIRST + 2;
  let held = 0;
  const records: Uint8Array[] = [];
  const carried: number[] = [];
  const take = (answer: { records: Uint8Array; recordSequences: number[]; waiting: number }) => {
    records.push(answer.records);
    carried.push(answer.recordSequences.length);
    held = (answer.recordSequences.at(-1) ?? held - 1) + 1;
    return answer.waiting - answer.recordSequences.length;
  };
  for (const one of blocks) {
    const answer = line.feed(sequence, one, held);
    expect(answer.status).toBe(STATUS.OK);
    let left = take(answer);
    sequence += 1;
    while (left > 0) {
      left = take(line.records(sequence, held));
      sequence += 1;
    }
  }
  return { records: Buffer.concat(records), carried };
}

describe.each(BUILDS)("blocks over the link of the %s build", (build) => {
  it.each(REFUSED)(
    `[LINK-013] ${build} refuses a block with %i, and all after it`,
    (status, bad) => {
      const line = new DeviceLine(build);
      line.begin(busy.configuration);
      expect(line.feed(FIRST + 2, bad)).toMatchObject({ status, nextSample: 0, waiting: 0 });
      // What was right in itself is not taken either, up to a reset, and the first reason stands.
      expect(line.feed(FIRST + 3, block)).toMatchObject({ status, nextSample: 0 });
      expect(line.records(FIRST + 4).status).toBe(status);
      expect(line.core.counters()).toMatchObject({ blocks: 0, refusedBlocks: 1 });
      line.ask({ type: LINK.PACKET_RESET, sequence: FIRST + 5 });
      expect(line.feed(FIRST + 6, block).status).toBe(STATUS.OK);
    },
  );

  it(`[LINK-097] ${build} knows a block's length up to the most edges of either shaft`, () => {
    const shafts = [shaftProfile(), shaftProfile({ name: "other" })];
    const line = new DeviceLine(build);
    line.begin(configurationBytes(monitorProfile({ shafts })));
    const edges = Array.from({ length: BLOCK_EDGES_MAX }, (_, i) => i);
    let sequence = FIRST + 2;
    for (const [own, other] of [
      [edges.length, 0],
      [0, edges.length],
      [3, 5],
    ] as const) {
      const both = [...edges.slice(0, own), ...edges.slice(0, other)];
      const bytes = changed(withEdges(edgeless, both), L.BLOCK_EDGE_COUNTS, own);
      const whole = changed(bytes, L.BLOCK_EDGE_COUNTS + 4, other);
      const cut = line.ask({ type: LINK.PACKET_FEED, sequence, body: whole.slice(0, -4) });
      expect([own, other, cut.status]).toEqual([own, other, STATUS.ERR_LINK_LENGTH]);
      expect([own, other, line.feed(sequence, whole).status]).toEqual([own, other, STATUS.OK]);
      line.ask({ type: LINK.PACKET_RESET, sequence: sequence + 1 });
      sequence += 2;
    }
    // Counts of a converter take half as many bytes, in whole words.
    const counts = changed(edgeless, L.BLOCK_FORMAT, FORMAT_I16);
    const half = L.BLOCK_HEADER_BYTES + 2 * 32;
    const taken = [edgeless.length, half].map((bytes) => {
      const body = counts.slice(0, bytes);
      return line.ask({ type: LINK.PACKET_FEED, sequence, body }).status;
    });
    expect(taken).toEqual([STATUS.ERR_LINK_LENGTH, STATUS.OK]);
    line.ask({ type: LINK.PACKET_RESET, sequence: sequence + 1 });
    sequence += 2;
    // One more has no length: the block rule refuses it, whatever was sent.
    for (const at of [L.BLOCK_EDGE_COUNTS, L.BLOCK_EDGE_COUNTS + 4]) {
      const more = changed(edgeless, at, BLOCK_EDGES_MAX + 1);
      expect(line.feed(sequence, more).status).toBe(STATUS.ERR_BLOCK_EDGES);
      line.ask({ type: LINK.PACKET_RESET, sequence: sequence + 1 });
      sequence += 2;
    }
  });

  it(`[LINK-098] ${build} tells the next sample beyond 2³² in both words`, () => {
    const line = new DeviceLine(build);
    line.begin(configurationBytes(monitorProfile()));
    const late = changed(changed(edgeless, L.BLOCK_FIRST_HIGH, 3), L.BLOCK_FIRST_LOW, 5);
    const { status, nextSample } = line.feed(FIRST + 2, late);
    expect([status, nextSample]).toEqual([STATUS.OK, 3 * 2 ** 32 + 5 + 32]);
  });

  it(`[LINK-013] ${build} takes blocks again after a configuration and in a new session`, () => {
    const line = new DeviceLine(build);
    line.begin(busy.configuration);
    const bad = changed(block, L.BLOCK_FORMAT, 7);
    line.feed(FIRST + 2, bad);
    line.ask({ type: LINK.PACKET_CONFIGURE, sequence: FIRST + 3, body: busy.configuration });
    expect(line.feed(FIRST + 4, block).status).toBe(STATUS.OK);
    line.ask({ type: LINK.PACKET_RESET, sequence: FIRST + 5 });
    line.feed(FIRST + 6, bad);
    line.hello(SESSION + 1, 0);
    expect(line.feed(1, block).status).toBe(STATUS.OK);
  });

  it(`[LINK-013] ${build} refuses a block before a configuration`, () => {
    const line = new DeviceLine(build);
    line.hello();
    expect(line.feed(FIRST + 1, block).status).toBe(STATUS.ERR_NOT_CONFIGURED);
  });

  it(`[LINK-017] ${build} keeps records until they are acknowledged, and takes no block before`, () => {
    const line = new DeviceLine(build);
    line.begin(busy.configuration);
    const first = line.feed(FIRST + 2, busy.blocks[0]!);
    const count = first.recordSequences.length;
    expect(count).toBeGreaterThan(2);
    for (const held of [0, 1, count - 1]) {
      const refused = line.feed(FIRST + 3, busy.blocks[1]!, held);
      expect(refused).toMatchObject({
        status: STATUS.ERR_LINK_RECORDS,
        expected: FIRST + 3,
        waiting: count - held,
        recordSequences: first.recordSequences.slice(held),
        nextSample: 32,
      });
    }
    expect(line.counter(LINK.LINK_COUNTER_REFUSED)).toBe(3);
    expect(line.core.counters()).toMatchObject({ blocks: 1, refusedBlocks: 0 });
    const taken = line.feed(FIRST + 3, busy.blocks[1]!, count);
    expect(taken).toMatchObject({ status: STATUS.OK, nextSample: 64 });
    expect(taken.recordSequences[0]).toBe(count);
  });

  it(`[LINK-018] ${build} gives 64 records in answers of 40 and 24`, () => {
    const line = new DeviceLine(build);
    const { records, carried } = overLink(line, full);
    const direct = directAnswer(coreOf(build), full);
    expect(direct.records[1]!.byteLength).toBe(64 * L.RECORD_BYTES);
    expect(carried.slice(0, 5)).toEqual([40, 40, 24, 40, 24]);
    expect(records.equals(Buffer.concat(direct.records))).toBe(true);
    expect(line.core.counters()).toEqual(direct.counters);
  });

  it(`[LINK-018] ${build} asked again, gives the same records again`, () => {
    const line = new DeviceLine(build);
    line.begin(full.configuration);
    line.feed(FIRST + 2, full.blocks[0]!);
    const second = line.feed(FIRST + 3, full.blocks[1]!, 40);
    expect([second.waiting, second.recordSequences.length]).toEqual([64, 40]);
    const rest = line.records(FIRST + 4, 80);
    expect([rest.waiting, rest.recordSequences.length]).toEqual([24, 24]);
    expect(line.records(FIRST + 4, 80)).toEqual(rest);
    // A repeated block is answered with what waits now.
    expect(line.feed(FIRST + 3, full.blocks[1]!, 40).recordSequences).toEqual(rest.recordSequences);
    expect(line.feed(FIRST + 5, full.blocks[2]!, 104).recordSequences[0]).toBe(104);
  });

  it(`[LINK-019] ${build} believes an acknowledgement in turn only`, () => {
    const line = new DeviceLine(build);
    line.begin(full.configuration);
    line.feed(FIRST + 2, full.blocks[0]!);
    const late = { type: LINK.PACKET_FEED, sequence: FIRST + 3, body: full.blocks[1]! };
    line.ask({ ...late, acknowledged: 40 });
    line.records(FIRST + 4, 80);
    line.ask({ type: LINK.PACKET_RESET, sequence: FIRST + 5, acknowledged: 104 });
    const fresh = line.feed(FIRST + 6, full.blocks[0]!);
    expect(fresh.waiting).toBe(40);
    // A late copy from before the reset, a packet before its turn, and one that is refused.
    line.ask({ ...late, acknowledged: 40 });
    line.ask({ type: LINK.PACKET_RECORDS, sequence: FIRST + 9, acknowledged: 40 });
    line.ask({ type: 99, sequence: FIRST + 7, acknowledged: 40 });
    expect(line.records(FIRST + 7, 0).recordSequences).toEqual(fresh.recordSequences);
  });

  it.each([
    ["busy", busy],
    ["overfull", overfull],
  ])(`[LINK-020] ${build} gives the bytes of direct calls: %s`, (name, stream) => {
    const line = new DeviceLine(build);
    const { records } = overLink(line, stream);
    const direct = directAnswer(coreOf(build), stream);
    expect(records.equals(Buffer.concat(direct.records))).toBe(true);
    expect(line.core.counters()).toEqual(direct.counters);
    expect(direct.counters.recordsLost > 0).toBe(name === "overfull");
  });
});
