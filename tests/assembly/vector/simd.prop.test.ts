// The build with SIMD against the scalar one, to the bit: whole scenes cut anyhow, segments of every
// length at one order and at several, counts, and samples of any bits.
import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { SEGMENT_SAMPLES_MAX } from "../../../shared/capacity.ts";
import { randomScene } from "../../laws/random-scene.ts";
import { Draw } from "../../laws/random-device.ts";
import { channelProfile, shaftProfile } from "../../kit/scene-builder.ts";
import { TEST_SEED } from "../../kit/seed.ts";
import { type CoreRun, coreOf, edgeTicks, orders, runCore, turning } from "../kit/core-run.ts";
import { plainFilter, profileOf } from "../kit/plain-profile.ts";

const scalar = coreOf();
const simd = coreOf("simd");
const TIME_OUT_MS = 600_000;
const RATE_HZ = 6400;

/** Plays a run to both; the counters are compared as well, but for the blocks of another cut. */
async function compare(run: CoreRun, cut: Partial<CoreRun> = {}) {
  const one = await runCore({ ...run, core: scalar });
  const other = await runCore({ ...run, ...cut, core: simd });
  expect(Buffer.compare(other.bytes, one.bytes)).toBe(0);
  expect({ ...other.counters, blocks: 0 }).toEqual({ ...one.counters, blocks: 0 });
  return one;
}

/** Four channels, two orders of one shaft each, checks of every kind. */
function manyFilters(positions: number) {
  const health = {
    steps: 1,
    clipSamples: 3,
    flatPkPk: 0.1,
    physicalPk: 1e6,
    burstRms: 1e3,
    noiseFloorRms: 1e-6,
    broadbandRatio: 2,
  };
  return profileOf(
    { positions },
    {
      sampleRateHz: RATE_HZ,
      displayPeriodS: 0.05,
      channels: [0, 1, 2, 3].map((i) => channelProfile(i === 3 ? {} : { health })),
      shafts: [
        shaftProfile({ positions, speedMinRevPerS: 30, validSpeedRevPerS: 30, timeoutS: 0.09 }),
      ],
      filters: [0, 1, 2, 3].flatMap((channel) =>
        [1, 2].map((order) => plainFilter({ channel, order })),
      ),
    },
  );
}

/** A dwell at which so many samples lie between two edges. */
function dwell(positions: number, samplesBetween: number, channels: number): CoreRun {
  const shaft = turning(RATE_HZ / (positions * samplesBetween));
  const profile = manyFilters(positions);
  const signal = orders(shaft, [
    { order: 1, amplitudePk: 3, phaseLagDeg: 40 },
    { order: 2, amplitudePk: 30, phaseLagDeg: 100 },
  ]);
  return {
    profile,
    edges: [edgeTicks(shaft, { positions }, 1, profile.clockHz)],
    signals: Array.from({ length: channels }, (_, i) => (t: number) => (i + 1) * signal(t)),
    durationS: 1,
  };
}

describe("the build with SIMD", { timeout: TIME_OUT_MS }, () => {
  it("[CORE-070] gives the scalar build's bytes on any scene, cut anyhow", async () => {
    const block = fc.integer({ min: 1, max: 128 });
    await fc.assert(
      fc.asyncProperty(
        randomScene,
        block,
        fc.boolean(),
        async (scene, blockSamplesMax, isCounts) => {
          const { records } = await compare({ ...scene.run, isCounts }, { blockSamplesMax });
          expect(records.length).toBeGreaterThan(20);
        },
      ),
      { numRuns: 12, seed: TEST_SEED },
    );
  });

  const lengths = Array.from({ length: SEGMENT_SAMPLES_MAX }, (_, i) => i + 1);
  it.each(lengths)("[CORE-071] gives them with segments of %i samples", async (samples) => {
    // Twelve knots a revolution where a revolution may not be so short; at 1 about every second
    // interval holds one sample and the others two, by a speed that is no whole part of the rate.
    const positions = samples < 16 ? 12 : 1;
    const between = samples === 1 ? 1.4 : samples;
    const { levels } = await compare(dwell(positions, between, 4));
    expect(levels.some((one) => one.level > 0.001)).toBe(true);
  });

  it("[CORE-072] gives them with samples of any bits", async () => {
    const seeds = fc.integer({ min: 0, max: 2 ** 31 - 1 });
    const word = new DataView(new ArrayBuffer(4));
    let notFinite = 0;
    await fc.assert(
      fc.asyncProperty(seeds, fc.constantFrom(1, 5, 300), async (seed, rarity) => {
        const run = dwell(1, 48, 4);
        const draw = new Draw(seed);
        const tables = run.signals.map((signal) =>
          Float32Array.from({ length: RATE_HZ }, (_, i) => {
            if (!draw.once(rarity)) return signal(i / RATE_HZ);
            word.setUint32(0, draw.below(2 ** 32));
            return word.getFloat32(0);
          }),
        );
        const signals = tables.map((table) => (t: number) => table[Math.round(t * RATE_HZ)] ?? 0);
        const { counters } = await compare(
          { ...run, signals },
          { blockSamplesMax: 1 + (seed % 128) },
        );
        notFinite += counters.samplesNotFinite[0]!;
      }),
      { numRuns: 20, seed: TEST_SEED },
    );
    expect(notFinite).toBeGreaterThan(50);
  });
});
