import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { RECORDS_MAX } from "../../shared/capacity.ts";
import * as L from "../../shared/layout.ts";
import * as STATUS from "../../shared/status.ts";
import { FORMAT_I16, FUNCTIONAL_TEST } from "../../shared/units.ts";
import { BlockRefused, type Core } from "../../host/core.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import { decodeRecords } from "../../host/records.ts";
import { CoreTarget } from "../../harness/target/core-target.ts";
import { channelProfile, shaftProfile } from "../kit/scene-builder.ts";
import {
  BUILDS,
  coreOf,
  edgeTicks,
  lastOf,
  orders,
  runCore,
  turning,
  withCompanions,
} from "./kit/core-run.ts";
import { plainFilter, profileOf } from "./kit/plain-profile.ts";

const CLOCK_HZ = 80e6;
const STATUSES: Record<string, number> = { ...STATUS };
const TICKS = 6250;
const has = (one: LevelRecord, flag: number): boolean => (one.flags & flag) !== 0;

interface RawBlock {
  layout?: number;
  format?: number;
  first?: number;
  count?: number;
  edges?: number[];
  edges1?: number;
  /** Ticks of the second shaft's edges, as many as are written. */
  ticks1?: number[];
  inputs?: number;
  samples?: number[];
}

/** Writes a block as it comes, lawful or not, and gives the status. */
function put(core: Core, block: RawBlock): number {
  const { view, blockAddress: base } = core;
  core.bytes.fill(0, base, base + L.BLOCK_BYTES_MAX);
  const count = block.count ?? 16;
  const first = block.first ?? 0;
  view.setUint32(base + L.BLOCK_LAYOUT, block.layout ?? L.LAYOUT_VERSION, true);
  view.setUint32(base + L.BLOCK_FORMAT, block.format ?? 0, true);
  view.setUint32(base + L.BLOCK_FIRST_LOW, first % 2 ** 32, true);
  view.setUint32(base + L.BLOCK_FIRST_HIGH, Math.floor(first / 2 ** 32), true);
  view.setUint32(base + L.BLOCK_SAMPLE_COUNT, count, true);
  view.setUint32(base + L.BLOCK_EDGE_COUNTS, block.edges?.length ?? 0, true);
  view.setUint32(base + L.BLOCK_EDGE_COUNTS + 4, block.edges1 ?? block.ticks1?.length ?? 0, true);
  view.setUint32(base + L.BLOCK_INPUTS, block.inputs ?? 0, true);
  const samplesAt = base + L.BLOCK_HEADER_BYTES;
  for (const [i, x] of (block.samples ?? []).entries()) view.setFloat32(samplesAt + 4 * i, x, true);
  for (const [i, tick] of [...(block.edges ?? []), ...(block.ticks1 ?? [])].entries()) {
    if (i < 64) view.setUint32(samplesAt + 4 * count + 4 * i, tick % 2 ** 32, true);
  }
  try {
    core.process();
    return STATUS.OK;
  } catch (error) {
    if (error instanceof BlockRefused) return error.status;
    throw error;
  }
}

describe.each(BUILDS)("block rule, %s build", (build) => {
  const configured = (displayPeriodS = 0.1): Core => {
    const core = coreOf(build);
    core.configure(configurationBytes(profileOf({ positions: 1 }, { displayPeriodS })));
    return core;
  };

  const rows: [name: string, block: RawBlock, status: keyof typeof STATUS][] = [
    ["another layout", { layout: L.LAYOUT_VERSION + 1 }, "ERR_BLOCK_LAYOUT"],
    ["an unknown format", { format: 2 }, "ERR_BLOCK_FORMAT"],
    ["no samples", { count: 0 }, "ERR_BLOCK_SAMPLES"],
    ["too many samples", { count: 129 }, "ERR_BLOCK_SAMPLES"],
    ["too many edges", { edges: Array.from({ length: 65 }, (_, i) => i) }, "ERR_BLOCK_EDGES"],
    ["edges of a shaft that is not there", { edges1: 1 }, "ERR_BLOCK_EDGES"],
    ["a gap", { first: 32 }, "ERR_BLOCK_GAP"],
    ["samples told again", { first: 8 }, "ERR_BLOCK_GAP"],
    ["edges that descend", { first: 16, edges: [120_000, 110_000] }, "ERR_EDGE_ORDER"],
    ["an edge before the block", { first: 16, edges: [99_999] }, "ERR_EDGE_OUTSIDE"],
    ["an edge behind the block", { first: 16, edges: [32 * TICKS] }, "ERR_EDGE_OUTSIDE"],
  ];
  test.each(rows)("[CORE-010] a block with %s is refused whole", (_name, block, status) => {
    const core = configured();
    expect(put(core, {})).toBe(STATUS.OK);
    const before = core.counters();
    expect(put(core, { first: 16, ...block })).toBe(STATUSES[status]);
    expect(core.counters()).toEqual({
      ...before,
      refusedBlocks: before.refusedBlocks + 1,
    });
    // Nothing of it was used: the stream goes on where it stood.
    expect(put(core, { first: 16, edges: [16 * TICKS, 32 * TICKS - 1] })).toBe(STATUS.OK);
  });

  test("[CORE-010] the edges of the second shaft are held to the same rule", () => {
    const shafts = [shaftProfile({ positions: 1 }), shaftProfile({ positions: 1 })];
    const core = coreOf(build);
    core.configure(configurationBytes(profileOf({ positions: 1 }, { shafts })));
    expect(put(core, { edges1: 65 })).toBe(STATUS.ERR_BLOCK_EDGES);
    expect(put(core, { edges1: -1 })).toBe(STATUS.ERR_BLOCK_EDGES);
    expect(put(core, { ticks1: [2, 1] })).toBe(STATUS.ERR_EDGE_ORDER);
    expect(put(core, { edges: [2], ticks1: [16 * TICKS] })).toBe(STATUS.ERR_EDGE_OUTSIDE);
    expect(put(core, { edges: [2], ticks1: [1, 16 * TICKS - 1] })).toBe(STATUS.OK);
  });

  test("[CORE-011] a block before a configuration is refused", () => {
    expect(put(coreOf(build), {})).toBe(STATUS.ERR_NOT_CONFIGURED);
  });

  test("[CORE-062] a recorded level before a configuration, or of no display, is refused", () => {
    const shown = (core: Core, display: number): void => core.takeShown(display, 9, 5);
    const status = (one: number): Error => expect.objectContaining({ status: one }) as Error;
    expect(() => shown(coreOf(build), 0)).toThrow(status(STATUS.ERR_NOT_CONFIGURED));
    const core = configured();
    expect(() => shown(core, 1)).toThrow(status(STATUS.ERR_CONFIG_REFERENCE));
    expect(() => shown(core, -1)).toThrow(status(STATUS.ERR_CONFIG_REFERENCE));
    expect(core.takeRecords().byteLength).toBe(0);
    core.takeShown(0, 9, 3 * 2 ** 32 + 5);
    const [level] = decodeRecords(core.takeRecords()).filter((one) => one.kind === "level");
    expect(level?.tick).toBe(3 * 2 ** 32 + 5);
  });

  test("[CORE-064] static data ends behind all that is written, within the memory", () => {
    const wasm = readFileSync(new URL(`../../build/core/${build}.wasm`, import.meta.url));
    const { exports } = new WebAssembly.Instance(new WebAssembly.Module(wasm), {});
    const { addressDataEnd, memory } = exports as {
      addressDataEnd: () => number;
      memory: WebAssembly.Memory;
    };
    const core = coreOf(build);
    const records = exports["addressRecords"] as () => number;
    const least = Math.max(
      core.blockAddress + L.BLOCK_BYTES_MAX,
      records() + RECORDS_MAX * L.RECORD_BYTES,
    );
    expect(addressDataEnd()).toBeGreaterThanOrEqual(least);
    expect(addressDataEnd()).toBeLessThanOrEqual(memory.buffer.byteLength);
  });

  test("[CORE-018] a stream whose ticks would leave 64 bits is refused", () => {
    // 2^44 samples of at most 2^18 ticks are 2^62 ticks.
    expect(put(configured(), { first: 2 ** 44 })).toBe(STATUS.ERR_BLOCK_GAP);
    const core = configured();
    expect(put(core, { first: 2 ** 44 - 16 })).toBe(STATUS.OK);
    expect(put(core, { first: 2 ** 44 })).toBe(STATUS.OK);
  });

  test("[CORE-012] a block holds at most four display steps", () => {
    const core = configured(16 / 12_800);
    expect(put(core, { count: 81 })).toBe(STATUS.ERR_BLOCK_STEPS);
    expect(put(core, { count: 80 })).toBe(STATUS.OK);
    expect(core.takeRecords()).toHaveLength(4 * L.RECORD_BYTES);
  });

  test("[CORE-013] what is no number is counted, and the sample before stands in its place", async () => {
    const run = async (spoil: boolean) => {
      const shaft = turning(80);
      const signal = orders(shaft, withCompanions(10));
      const profile = profileOf({ positions: 1 });
      const bad = [Number.NaN, Number.POSITIVE_INFINITY, -3e38];
      const isBad = (t: number): number => Math.round(t * 12_800) - 5000;
      const spoilt = (t: number): number =>
        isBad(t) >= 0 && isBad(t) < 3 ? bad[isBad(t)]! : signal(t);
      const held = (t: number): number =>
        isBad(t) >= 0 && isBad(t) < 3 ? signal(4999 / 12_800) : signal(t);
      const edges = [edgeTicks(shaft, { positions: 1 }, 1, CLOCK_HZ)];
      const signals = [spoil ? spoilt : held];
      return runCore({ profile, edges, signals, durationS: 1, build });
    };
    const spoilt = await run(true);
    const held = await run(false);
    expect(spoilt.counters.samplesNotFinite).toEqual([3, 0, 0, 0]);
    expect(spoilt.bytes).toEqual(held.bytes);
  });

  test("[CORE-014] counts of a converter are its step apart", async () => {
    const shaft = turning(80);
    const step = 0.0078125; // exact in binary
    const profile = profileOf({ positions: 1 }, {}, {}, { countStep: step });
    const signal = orders(shaft, withCompanions(10));
    const counts = (t: number): number => Math.round(signal(t) / step);
    const edges = edgeTicks(shaft, { positions: 1 }, 1, CLOCK_HZ);
    const whole = await runCore({
      profile,
      edges: [edges],
      signals: [(t) => counts(t) * step],
      durationS: 1,
      build,
    });
    const samples = Int16Array.from({ length: 12_800 }, (_, i) => counts(i / 12_800));
    const batch = {
      firstSample: 0,
      sampleCount: 12_800,
      samples: [samples],
      edges: [edges],
      inputs: [{ fromSample: 0, bits: 0 }],
    };
    expect(FORMAT_I16).toBe(1);
    // Runs of odd length are padded; one of a single sample has no pair.
    for (const blockSamplesMax of [101, 1]) {
      const target = new CoreTarget(coreOf(build), blockSamplesMax);
      await target.configure(configurationBytes(profile));
      expect(await target.feed(batch)).toEqual(whole.bytes);
    }
  });

  test("[CORE-062] recorded levels and blocks do not mix without a reset", async () => {
    const core = coreOf(build);
    const target = new CoreTarget(core);
    await target.configure(configurationBytes(profileOf({ positions: 6 })));
    const feed = (): Promise<Uint8Array> =>
      target.feed({
        firstSample: 0,
        sampleCount: 64,
        samples: [new Float32Array(64)],
        edges: [new Float64Array(0)],
        inputs: [{ fromSample: 0, bits: 0 }],
      });
    const kind = { status: STATUS.ERR_STREAM_KIND };
    await feed();
    expect(() => core.takeShown(0, 9, 5)).toThrow(expect.objectContaining(kind));
    expect(core.takeRecords().byteLength).toBe(0);
    core.reset();
    core.takeShown(0, 9, 5);
    expect(core.takeRecords().byteLength).toBe(L.RECORD_BYTES * 2);
    await expect(feed()).rejects.toThrow(expect.objectContaining(kind));
    core.reset();
    await feed();
    expect(core.counters().blocks).toBe(1);
  });

  test("[CORE-015] a stream may begin anywhere; the timer's wrap changes nothing", async () => {
    // The first sample stands 5 s before the 2^32 wrap of the timer's low word.
    const shiftSteps = Math.floor((2 ** 32 / TICKS - 64_000) / 1280);
    const shift = shiftSteps * 1280;
    const shaft = turning(80);
    const durationS = 8;
    const profile = profileOf({ positions: 6 });
    const edges = edgeTicks(shaft, { positions: 6 }, durationS, CLOCK_HZ);
    const signal = orders(shaft, withCompanions(10));
    const levelsFrom = async (first: number): Promise<LevelRecord[]> => {
      const target = new CoreTarget(coreOf(build));
      await target.configure(configurationBytes(profile));
      const count = durationS * 12_800;
      const parts: LevelRecord[] = [];
      for (let from = 0; from < count; from += 12_800) {
        const inBatch = edges.filter((t) => t >= from * TICKS && t < (from + 12_800) * TICKS);
        // oxlint-disable-next-line no-await-in-loop
        const bytes = await target.feed({
          firstSample: first + from,
          sampleCount: 12_800,
          samples: [Float32Array.from({ length: 12_800 }, (_, i) => signal((from + i) / 12_800))],
          edges: [inBatch.map((tick) => tick + first * TICKS)],
          inputs: [{ fromSample: first + from, bits: 0 }],
        });
        for (const one of decodeRecords(bytes)) if (one.kind === "level") parts.push(one);
      }
      return parts;
    };
    const plain = await levelsFrom(0);
    const late = await levelsFrom(shift);
    expect(plain).toHaveLength(79);
    // A later stream has a step at its first sample, which is none at sample 0.
    const moved = late.slice(1).map((one) => ({
      ...one,
      tick: one.tick - shift * TICKS,
      sequence: 0,
    }));
    expect(moved).toEqual(plain.map((one) => ({ ...one, sequence: 0 })));
    expect(lastOf(late).tick).toBeGreaterThan(2 ** 32);
  });
});

describe("functional test", () => {
  test("[CORE-016] sounds each channel's tone at its order while the input stands", async () => {
    const shaft = turning(60, 2);
    const profile = profileOf(
      { positions: 60 },
      { filters: [plainFilter({ order: 2 })] },
      { timeoutS: 0.1 },
      { test: { amplitudePk: 7, shaft: 0, order: 2 } },
    );
    const { levels } = await runCore({
      profile,
      edges: [edgeTicks(shaft, { positions: 60 }, 6, CLOCK_HZ)],
      signals: [orders(shaft, withCompanions(10))],
      durationS: 6,
      inputs: [
        { fromSample: 0, bits: 0 },
        { fromSample: 12_800, bits: 1 << L.INPUT_TEST },
      ],
    });
    const last = lastOf(levels);
    expect(last.validity).toBe(FUNCTIONAL_TEST);
    // The tone follows the newest whole cycle, 1.5 cycles late: 2·2 rev/s² × 0.025 s off order 2.
    expect(Math.abs(last.level / 7 - 1)).toBeLessThanOrEqual(0.02);
    expect(has(last, L.FLAG_COMPUTED)).toBe(true);
  });
});

describe("two engines", () => {
  test("[CORE-017] four channels, two shafts, eight filters: each reads its own", async () => {
    const shafts = [turning(70, 0, 0.2), turning(93, 1, 0.7)];
    const profile = profileOf(
      { positions: 1 },
      {
        channels: Array.from({ length: 4 }, () => channelProfile()),
        shafts: shafts.map(() =>
          shaftProfile({
            positions: 6,
            speedMinRevPerS: 30,
            validSpeedRevPerS: 30,
            timeoutS: 0.08,
          }),
        ),
        filters: Array.from({ length: 8 }, (_, i) =>
          plainFilter({ channel: i % 4, shaft: i % 2, order: 1 + (i >> 2) }),
        ),
      },
    );
    const signals = [0, 1, 2, 3].map((channel) =>
      orders(shafts[channel % 2]!, [
        { order: 1, amplitudePk: 1 + channel, phaseLagDeg: 20 * channel },
        { order: 2, amplitudePk: 10 + channel, phaseLagDeg: 5 },
      ]),
    );
    const edges = shafts.map((shaft) => edgeTicks(shaft, { positions: 6 }, 4, CLOCK_HZ));
    const { levels } = await runCore({ profile, edges, signals, durationS: 4 });
    const computed = levels.filter((one) => has(one, L.FLAG_COMPUTED));
    expect(new Set(computed.map((one) => one.filter)).size).toBe(8);
    for (const one of computed) {
      const channel = one.filter % 4;
      const expected = one.filter < 4 ? 1 + channel : 10 + channel;
      // The edge clock: 2·(A + 2·(10 + A))·100/80e6, under 1e-4; f32 of a company of 17.
      expect(Math.abs(one.level - expected)).toBeLessThanOrEqual(1.5e-4);
    }
  });
});
