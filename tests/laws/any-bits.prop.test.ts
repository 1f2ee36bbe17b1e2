// Whatever the bits of a configuration, of edges and of samples: a status and counters, never a
// trap (it would throw WebAssembly.RuntimeError), and no record holds what is no number.
import * as fc from "fast-check";
import { describe, expect, test } from "vitest";
import * as L from "../../shared/layout.ts";
import { BlockRefused, ConfigurationRefused, type Core } from "../../host/core.ts";
import { configurationBytes, sealConfiguration } from "../../host/profile/configuration.ts";
import { decodeRecords } from "../../host/records.ts";
import { coreOf } from "../assembly/kit/core-run.ts";
import { plainFilter, profileOf } from "../assembly/kit/plain-profile.ts";
import { channelProfile, shaftProfile } from "../kit/scene-builder.ts";
import { TEST_SEED } from "../kit/seed.ts";
import { Draw } from "./random-device.ts";

const SAMPLES = 128;
const TICKS_PER_SAMPLE = 6250;
const BLOCK_TICKS = SAMPLES * TICKS_PER_SAMPLE;
const USUAL_EDGES: Record<number, number> = { 1: 1, 6: 8, 36: 64 };
const TIME_OUT_MS = 600_000;
const seeds = fc.integer({ min: 0, max: 2 ** 31 - 1 });

/** The debug build checks every assertion that the release build has, and overflow of casts. */
const core = coreOf("debug");

function profile(positions: number) {
  const health = { steps: 1, physicalPk: 1e6, clipSamples: 3, flatPkPk: 0.1, burstRms: 1e3 };
  const shaft = shaftProfile({
    positions,
    accelerationMaxRevPerS2: 1e6,
    speedMinRevPerS: 20,
    validSpeedRevPerS: 20,
    timeoutS: 0.126,
  });
  return profileOf(
    { positions },
    {
      displayPeriodS: 0.02,
      channels: [channelProfile({ health }), channelProfile({ kind: "coil" })],
      shafts: [shaft, shaft],
      filters: [
        plainFilter(),
        plainFilter({ channel: 1, shaft: 1, quantity: "velocity" }),
        plainFilter({ channel: 0, shaft: 1, quantity: "displacement" }),
      ],
    },
  );
}

/** Bits of a sample: any at all, each kind of NaN, what is infinite or next to nothing, plain. */
function sampleBits(draw: Draw, wild: number): number {
  if (!draw.once(wild)) return 0x40000000 + draw.below(2 ** 23);
  const sign = draw.below(2) * 2 ** 31;
  return (
    sign +
    draw.of([
      draw.below(2 ** 31),
      0x7f800000, // infinite
      0x7f800001 + draw.below(2 ** 22 - 1), // NaN, signalling
      0x7fc00000 + draw.below(2 ** 22), // NaN, quiet
      draw.below(2 ** 23), // subnormal
      0x7f7fffff, // the greatest
    ])
  );
}

/** Captures of a block: a wheel's, or the same disordered, doubled, off by any bit, any at all. */
function edgesOf(draw: Draw, block: number, disorder: number, usual: number): number[] {
  const count = draw.once(disorder) ? draw.of([0, 1, 8, 64]) : usual;
  const even = Array.from({ length: count }, (_, i) =>
    Math.floor((block + (i + 0.5) / count) * BLOCK_TICKS),
  );
  if (!draw.once(disorder)) return even;
  return draw.of([
    even.toReversed(),
    even.map((tick) => tick - (tick % 3) * 9000),
    even.map((tick, i) => (i % 5 === 2 ? even[i - 1]! : tick)),
    even.map((tick) => (draw.once(4) ? tick ^ (1 << draw.below(31)) : tick)),
    even.map(() => draw.below(2 ** 32)),
    even.map((tick) => tick + draw.of([-1, 1]) * BLOCK_TICKS),
  ]);
}

/** The block rule: within the block, none before its forerunner; captures wrap at 32 bits. */
function isLawful(ticks: number[], block: number): boolean {
  const offsets = ticks.map((tick) => (tick - block * BLOCK_TICKS) >>> 0);
  return offsets.every((at, i) => at < BLOCK_TICKS && (i === 0 || at >= offsets[i - 1]!));
}

function processed(target: Core): "taken" | "refused" {
  try {
    target.process();
    return "taken";
  } catch (error) {
    if (error instanceof BlockRefused) return "refused";
    throw error;
  }
}

/** Writes a block that the layout's rule lets through; answers the number of its first sample. */
function writeBlock(draw: Draw, first: number, samples: number[], edges: number[][]): void {
  const { view, blockAddress: base } = core;
  core.bytes.fill(0, base, base + L.BLOCK_HEADER_BYTES);
  view.setUint32(base + L.BLOCK_LAYOUT, L.LAYOUT_VERSION, true);
  view.setUint32(base + L.BLOCK_FIRST_LOW, first, true);
  view.setUint32(base + L.BLOCK_SAMPLE_COUNT, SAMPLES, true);
  edges.forEach((list, shaft) =>
    view.setUint32(base + L.BLOCK_EDGE_COUNTS + 4 * shaft, list.length, true),
  );
  view.setUint32(base + L.BLOCK_INPUTS, draw.once(20) ? draw.below(2 ** 20) : 0, true);
  let at = base + L.BLOCK_HEADER_BYTES;
  for (const word of [...samples, ...edges.flat()]) {
    view.setUint32(at, word >>> 0, true);
    at += 4;
  }
}

function expectNumbers(): number {
  const records = decodeRecords(core.takeRecords().slice());
  for (const one of records) {
    for (const value of Object.values(one)) {
      if (typeof value === "number" && !Number.isFinite(value)) expect(one).toBe("all numbers");
    }
  }
  return records.filter((one) => one.kind === "level" && (one.flags & L.FLAG_COMPUTED) !== 0)
    .length;
}

describe("any bits", { timeout: TIME_OUT_MS }, () => {
  test("[LAW-030] edges in any order and samples of any bits never trap and give no NaN", () => {
    const seen = { taken: 0, refused: 0, computed: 0, notFinite: 0, lost: 0 };
    const rarity = fc.constantFrom(1, 3, 40, 1000);
    const positions = fc.constantFrom(1, 6, 36);
    fc.assert(
      fc.property(seeds, rarity, rarity, positions, (seed, wild, disorder, count) => {
        const draw = new Draw(seed);
        core.configure(configurationBytes(profile(count)));
        // Edges a block of 10 ms: about 100 rev/s of each wheel.
        const usual = USUAL_EDGES[count]!;
        let block = 0;
        for (let i = 0; i < 120; i += 1) {
          const samples = Array.from({ length: 2 * SAMPLES }, () => sampleBits(draw, wild));
          const edges = [0, 1].map(() => edgesOf(draw, block, disorder, usual));
          writeBlock(draw, block * SAMPLES, samples, edges);
          const outcome = processed(core);
          expect(outcome).toBe(edges.every((list) => isLawful(list, block)) ? "taken" : "refused");
          seen[outcome] += 1;
          // A block that is refused was not taken: the next stands in its place.
          if (outcome === "taken") block += 1;
          seen.computed += expectNumbers();
        }
        const counters = core.counters();
        seen.notFinite += counters.samplesNotFinite[0]! + counters.samplesNotFinite[1]!;
        seen.lost += counters.referenceLost[0]! + counters.referenceLost[1]!;
      }),
      { numRuns: 100, seed: TEST_SEED },
    );
    // The input is wild, not hopeless.
    for (const [what, count] of Object.entries(seen)) expect(count, what).toBeGreaterThan(20);
  });

  test("[LAW-031] any bytes as configuration give a status, and what was active stays", () => {
    const rules = new Set<number>();
    const lawful = configurationBytes(profile(6));
    core.configure(lawful);
    const active = core.activeConfiguration();
    let taken = 0;
    fc.assert(
      fc.property(seeds, fc.constantFrom(1, 2, 6, 40, 768), fc.boolean(), (seed, words, sealed) => {
        const draw = new Draw(seed);
        const bytes = lawful.slice();
        const view = new DataView(bytes.buffer);
        const last = L.CONFIG_BYTES / 4;
        for (let i = 0; i < words; i += 1) {
          const value = draw.of([draw.below(2 ** 32), draw.below(40), 0x7fc00000, 0xff800000, 0]);
          view.setUint32(4 * draw.below(last), value, true);
        }
        if (sealed) sealConfiguration(bytes);
        try {
          core.configure(bytes);
          taken += 1;
          expect(Buffer.compare(core.activeConfiguration(), bytes)).toBe(0);
          core.configure(lawful);
        } catch (error) {
          if (!(error instanceof ConfigurationRefused)) throw error;
          rules.add(error.rule);
          expect(error.rule).toBeLessThan(0);
        }
        expect(Buffer.compare(core.activeConfiguration(), active)).toBe(0);
      }),
      { numRuns: 2000, seed: TEST_SEED },
    );
    // Many rules were met, and some bytes broke none.
    expect(rules.size).toBeGreaterThan(8);
    expect(taken).toBeGreaterThan(5);
  });
});
