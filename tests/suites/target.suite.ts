// What every target must do, whatever carries the signal path. A target's own test file calls this
// with a way to make it; the file's name keeps this one from being run by itself.
import { describe, expect, it } from "vitest";
import { GLOBAL_CHANNEL_COUNT } from "../../shared/layout.ts";
import { ERR_BLOCK_GAP, ERR_CONFIG_COUNT, ERR_CONFIG_LENGTH } from "../../shared/status.ts";
import type { BlockRefused, ConfigurationRefused } from "../../host/core.ts";
import { configurationBytes, sealConfiguration } from "../../host/profile/configuration.ts";
import type { BlockBatch, Target } from "../../harness/target/target.ts";
import { makeWaveform } from "../../harness/waveform/waveform.ts";
import { type Played, playScene, playTarget } from "../kit/play-scene.ts";
import { suiteCases } from "../kit/regression-suite.ts";
import { scene } from "../kit/scene-builder.ts";

/** A target, and how to wait for it: some live in a time of their own. */
export interface TargetBench {
  target: Target;
  run: <T>(work: Promise<T>) => Promise<T>;
}

export interface TargetKind {
  name: string;
  make: (options: { blockSamplesMax?: number }) => Promise<TargetBench>;
  /** Scenarios that are played; files of the regression suite. */
  files?: readonly string[];
  /** Samples a block at most; a slow line leaves the smallest out. */
  blockSizes?: readonly number[];
}

/** Eight filters, counts from a converter, inputs, missed edges. */
const FILES = [
  "tracking/are-eight-filters-at-once-each-right.scenario.yaml",
  "disturbance/does-a-coarse-converter-cost-no-more-than-its-step.scenario.yaml",
  "inputs/does-an-inhibit-outlast-a-number-that-goes-and-comes.scenario.yaml",
  "tachometer/are-missed-edges-bridged-at-one-a-revolution.scenario.yaml",
];

const BLOCK_SIZES = [1, 7, 64];

const SHORT = scene({ durationS: 3 });
const SHORTER = scene({ durationS: 1 });

/** The first samples of a scene as one batch of a target's own. */
function firstBatch(sampleCount: number, made = SHORT): BlockBatch {
  const batch = makeWaveform(made).next(sampleCount);
  if (batch === undefined) throw new Error("the scene is empty");
  return batch;
}

function moved(batch: BlockBatch, samples: number, ticksPerSample: number): BlockBatch {
  return {
    ...batch,
    firstSample: batch.firstSample + samples,
    edges: batch.edges.map((ticks) => ticks.map((tick) => tick + samples * ticksPerSample)),
    inputs: batch.inputs.map((row) => ({ ...row, fromSample: row.fromSample + samples })),
  };
}

function mustEqual(played: Played, direct: Played): void {
  expect(Buffer.from(played.records).equals(Buffer.from(direct.records))).toBe(true);
  expect(played.counters).toEqual(direct.counters);
}

const signal = (): AbortSignal => new AbortController().signal;

export function targetSuite(kind: TargetKind): void {
  describe(kind.name, () => {
    bytesCases(kind);
    refusalCases(kind);
  });
}

function bytesCases(kind: TargetKind): void {
  it.each(kind.files ?? FILES)(
    `[LINK-090] ${kind.name} gives the core's bytes: %s`,
    async (file) => {
      const made = suiteCases(file)[0]!;
      const bench = await kind.make({});
      mustEqual(await bench.run(playTarget(bench.target, made)), await playScene(made));
    },
  );

  it.each(kind.blockSizes ?? BLOCK_SIZES)(
    `[LINK-091] ${kind.name} gives the same bytes in blocks of %i samples`,
    async (blockSamplesMax) => {
      const bench = await kind.make({ blockSamplesMax });
      const played = await bench.run(playTarget(bench.target, SHORTER, 1001));
      const { blocks } = played.counters;
      const sampleCount = SHORTER.durationS * SHORTER.profile.sampleRateHz;
      expect(blocks).toBeGreaterThanOrEqual(sampleCount / blockSamplesMax);
      const direct = await playScene(SHORTER);
      mustEqual(played, { ...direct, counters: { ...direct.counters, blocks } });
    },
  );

  it(`[LINK-095] ${kind.name} echoes the configuration and runs twice alike`, async () => {
    const { target, run } = await kind.make({});
    await run(target.open(signal()));
    const bytes = configurationBytes(SHORT.profile);
    const played: Uint8Array[] = [];
    for (let time = 0; time < 2; time += 1) {
      expect((await run(target.configure(bytes))).bytes).toEqual(bytes);
      const records = await run(target.feed(firstBatch(20_000)));
      const last = await run(target.finish());
      played.push(new Uint8Array(Buffer.concat([records, last.records])));
    }
    expect(played[0]!.byteLength).toBeGreaterThan(0);
    expect(played[1]).toEqual(played[0]);
  });

  it(`[LINK-096] ${kind.name} takes the functional test from a batch's inputs`, async () => {
    const input = { inhibit: 0, acknowledge: 0, running: 0, test: true };
    const tested = scene({ durationS: 3, inputs: [{ timeS: 1, ...input }] });
    const bench = await kind.make({});
    mustEqual(await bench.run(playTarget(bench.target, tested)), await playScene(tested));
  });
}

function refusalCases(kind: TargetKind): void {
  it(`[LINK-092] ${kind.name} tells a refused configuration, and what was active stays`, async () => {
    const { target, run } = await kind.make({});
    await run(target.open(signal()));
    const lawful = configurationBytes(SHORT.profile);
    await run(target.configure(lawful));
    const broken = lawful.slice();
    new DataView(broken.buffer).setUint32(GLOBAL_CHANNEL_COUNT, 0, true);
    sealConfiguration(broken);
    const refusal = await run(target.configure(broken)).catch((error: unknown) => error);
    expect((refusal as Error).name).toBe("ConfigurationRefused");
    const { rule, fieldOffset, found, limit } = refusal as ConfigurationRefused;
    expect({ rule, fieldOffset, found, limit }).toEqual({
      rule: ERR_CONFIG_COUNT,
      fieldOffset: GLOBAL_CHANNEL_COUNT,
      found: 0,
      limit: 1,
    });
    const short = await run(target.configure(lawful.slice(4))).catch((error: unknown) => error);
    expect(short).toMatchObject({ rule: ERR_CONFIG_LENGTH, found: lawful.byteLength - 4 });
    await run(target.feed(firstBatch(1000)));
    expect((await run(target.finish())).counters.samples).toBe(1000);
  });

  it(`[LINK-093] ${kind.name} refuses a gap, whole, and goes on after a reset`, async () => {
    const { target, run } = await kind.make({});
    await run(target.open(signal()));
    await run(target.configure(configurationBytes(SHORT.profile)));
    const batch = firstBatch(1000);
    const ticksPerSample = SHORT.profile.clockHz / SHORT.profile.sampleRateHz;
    await run(target.feed(batch));
    const late = moved(batch, 1001, ticksPerSample);
    const refusal = await run(target.feed(late)).catch((error: unknown) => error);
    expect((refusal as Error).name).toBe("BlockRefused");
    expect((refusal as BlockRefused).status).toBe(ERR_BLOCK_GAP);
    const { counters } = await run(target.finish());
    expect(counters).toMatchObject({ samples: 1000, refusedBlocks: 1 });
    await run(target.reset());
    await run(target.feed(late));
    expect((await run(target.finish())).counters).toMatchObject({
      samples: 1000,
      refusedBlocks: 0,
    });
  });

  it(`[LINK-094] ${kind.name} takes nothing before a configuration`, async () => {
    const { target, run } = await kind.make({});
    await run(target.open(signal()));
    const early = await run(target.feed(firstBatch(100))).catch((error: unknown) => error);
    expect(early).toBeInstanceOf(Error);
    await run(target.configure(configurationBytes(SHORT.profile)));
    await run(target.feed(firstBatch(100)));
    expect((await run(target.finish())).counters.samples).toBe(100);
  });
}
