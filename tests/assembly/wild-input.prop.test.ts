// Bad input is a status and a counter, never a trap: a trap would throw WebAssembly.RuntimeError.
import * as fc from "fast-check";
import { describe, expect, test } from "vitest";
import { BLOCK_EDGES_MAX, RECORDS_MAX } from "../../shared/capacity.ts";
import * as L from "../../shared/layout.ts";
import { BlockRefused, ConfigurationRefused, type Core } from "../../host/core.ts";
import { configurationBytes, sealConfiguration } from "../../host/profile/configuration.ts";
import { decodeRecords } from "../../host/records.ts";
import { evenNumber } from "../kit/even-number.ts";
import { channelProfile, shaftProfile } from "../kit/scene-builder.ts";
import { TEST_SEED } from "../kit/seed.ts";
import { coreOf } from "./kit/core-run.ts";
import { plainFilter, profileOf } from "./kit/plain-profile.ts";

const core = coreOf("debug");

function processed(target: Core): "taken" | "refused" {
  try {
    target.process();
    return "taken";
  } catch (error) {
    if (error instanceof BlockRefused) return "refused";
    throw error;
  }
}

const wheels = fc.record({
  positions: fc.constantFrom(1, 2, 4, 6, 13, 36, 60, 251),
  index: fc.constantFrom("none" as const, "missing-tooth" as const, "extra-edge" as const),
  speedMaxRevPerS: fc.constantFrom(30, 200),
  channels: fc.integer({ min: 1, max: 4 }),
});

/** Edges a pitch apart, at a share of the highest speed, with accidents in pitches now and then. */
const edgeGaps = fc.record({
  speedShare: evenNumber(0.1, 1.05),
  accidents: fc.array(evenNumber(0, 30), { minLength: 1, maxLength: 20 }),
  every: fc.constantFrom(1, 7, 100, 400),
});

/** A case that surely locks, and loses its reference again and again. */
const LOCKS = { positions: 6, index: "none", speedMaxRevPerS: 200, channels: 1 } as const;
const LOSES = { speedShare: 0.5, accidents: [20], every: 100 as const };

const wildSample = fc.oneof(
  { weight: 8, arbitrary: fc.float({ noNaN: true }) },
  { weight: 1, arbitrary: fc.constantFrom(Number.NaN, Number.POSITIVE_INFINITY, 3e38, 1e-42) },
);

describe("wild input", () => {
  test("[CORE-025] no edges and samples trap the firmware or make it tell a NaN", () => {
    const bytes = fc.array(wildSample, { minLength: 1, maxLength: 40 });
    let lost = 0;
    let revolutions = 0;
    fc.assert(
      fc.property(wheels, edgeGaps, bytes, (wheel, edges, values) => {
        const isIndexed = wheel.positions >= 4;
        const shaft = shaftProfile({
          positions: wheel.positions,
          index: isIndexed ? wheel.index : "none",
          speedMinRevPerS: 20,
          speedMaxRevPerS: wheel.speedMaxRevPerS,
          timeoutS: wheel.channels >= 3 ? 0.0875 : 0.126,
          accelerationMaxRevPerS2: 1e5,
        });
        const knots = wheel.positions < 12 ? wheel.positions : 12;
        fc.pre(2.5 / (knots * 20) <= shaft.timeoutS);
        fc.pre(wheel.positions * wheel.speedMaxRevPerS < 8 * 12_800);
        const profile = profileOf(
          { positions: 1 },
          {
            channels: Array.from({ length: wheel.channels }, () =>
              channelProfile({ test: { amplitudePk: 1, shaft: 0, order: 1 } }),
            ),
            shafts: [shaft, shaft],
            filters: [plainFilter(), plainFilter({ shaft: 1, quantity: "displacement" })],
          },
        );
        core.configure(configurationBytes(profile));
        const gap = 80e6 / (wheel.positions * wheel.speedMaxRevPerS * edges.speedShare);
        let tick = 0;
        let step = 0;
        const nextGap = (): number => {
          const accident = edges.accidents[step % edges.accidents.length]!;
          step += 1;
          return Math.round(step % edges.every === 0 ? gap * accident : gap);
        };
        for (let block = 0; block < 150; block += 1) {
          writeBlock(block, values, wheel.channels, (until) => {
            const inside: number[] = [];
            while (tick < until && inside.length < BLOCK_EDGES_MAX) {
              inside.push(tick);
              tick += Math.max(1, nextGap());
            }
            tick = Math.max(tick, until);
            return inside;
          });
          expect(processed(core)).toBe("taken");
          const records = core.takeRecords();
          expect(records.byteLength).toBeLessThanOrEqual(RECORDS_MAX * L.RECORD_BYTES);
          for (const one of decodeRecords(records.slice())) {
            for (const value of Object.values(one)) {
              if (typeof value === "number") expect(Number.isFinite(value)).toBe(true);
            }
          }
        }
        const counters = core.counters();
        lost += counters.referenceLost[0]!;
        revolutions += counters.revolutions[0]!;
      }),
      { numRuns: 60, seed: TEST_SEED, examples: [[LOCKS, LOSES, [1, -2, Number.NaN]]] },
    );
    // The input is wild, not hopeless: some of it was tracked, and some lost.
    expect(lost).toBeGreaterThan(5);
    expect(revolutions).toBeGreaterThan(50);
  });

  test("[CORE-026] no bytes trap the block rule", () => {
    core.configure(configurationBytes(profileOf({ positions: 1 })));
    fc.assert(
      fc.property(fc.uint8Array({ minLength: 64, maxLength: 400 }), fc.boolean(), (bytes, near) => {
        core.bytes.set(bytes, core.blockAddress);
        // Half of them get past the layout, so that the later rules are met as well.
        if (near) {
          core.view.setUint32(core.blockAddress + L.BLOCK_LAYOUT, L.LAYOUT_VERSION, true);
          core.view.setUint32(core.blockAddress + L.BLOCK_FORMAT, bytes[4]! & 1, true);
          core.view.setUint32(core.blockAddress + L.BLOCK_SAMPLE_COUNT, bytes[16]!, true);
        }
        expect(["taken", "refused"]).toContain(processed(core));
        core.takeRecords();
      }),
      { numRuns: 300, seed: TEST_SEED },
    );
  });

  test("[CORE-027] no sealed configuration traps; what is taken runs", () => {
    const lawful = configurationBytes(profileOf({ positions: 6 }));
    const word = fc.oneof(
      fc.integer({ min: 0, max: 300 }),
      fc.constantFrom(0x7fc00000, 0x7f800000, 0xffffffff, 0x80000000, 0x3f800000),
      fc.nat({ max: 0xffffffff }),
    );
    const place = fc.integer({ min: 4, max: L.CONFIG_BYTES / 4 - 1 });
    const used = fc.oneof(
      fc.integer({ min: 4, max: 9 }),
      fc.integer({ min: L.CONFIG_CHANNELS / 4, max: L.CONFIG_CHANNELS / 4 + 47 }),
      fc.integer({ min: L.CONFIG_SHAFTS / 4, max: L.CONFIG_SHAFTS / 4 + 12 }),
      fc.integer({ min: L.CONFIG_FILTERS / 4, max: L.CONFIG_FILTERS / 4 + 6 }),
      fc.integer({ min: L.CONFIG_DISPLAYS / 4, max: L.CONFIG_DISPLAYS / 4 + 23 }),
      place,
    );
    const changes = fc.array(fc.tuple(used, word), { minLength: 1, maxLength: 3 });
    fc.assert(
      fc.property(changes, (list) => {
        const bytes = lawful.slice();
        const view = new DataView(bytes.buffer);
        for (const [at, value] of list) view.setUint32(4 * at, value >>> 0, true);
        sealConfiguration(bytes);
        try {
          core.configure(bytes);
        } catch (error) {
          if (error instanceof ConfigurationRefused) return;
          throw error;
        }
        const channels = view.getUint32(L.GLOBAL_CHANNEL_COUNT, true);
        const ticksPerSample = view.getUint32(L.GLOBAL_TICKS_PER_SAMPLE, true);
        for (let block = 0; block < 60; block += 1) {
          const every = 128 * ticksPerSample;
          writeBlock(block, [1, -2, 0.5], channels, () =>
            [0, 0.25, 0.5, 0.75].map((part) => Math.floor((block + part) * every)),
          );
          processed(core);
          core.takeRecords();
        }
      }),
      { numRuns: 600, seed: TEST_SEED },
    );
  });
});

/** Writes block `number` of 128 samples a channel, the values repeated, and edges of shaft 0. */
function writeBlock(
  number: number,
  values: readonly number[],
  channels: number,
  edgesUntil: (tick: number) => number[],
): void {
  const { view, blockAddress: base } = core;
  const edges = edgesUntil((number + 1) * 128 * 6250);
  core.bytes.fill(0, base, base + L.BLOCK_HEADER_BYTES);
  view.setUint32(base + L.BLOCK_LAYOUT, L.LAYOUT_VERSION, true);
  view.setUint32(base + L.BLOCK_FIRST_LOW, number * 128, true);
  view.setUint32(base + L.BLOCK_SAMPLE_COUNT, 128, true);
  view.setUint32(base + L.BLOCK_EDGE_COUNTS, edges.length, true);
  let at = base + L.BLOCK_HEADER_BYTES;
  for (let i = 0; i < 128 * channels; i += 1, at += 4) {
    view.setFloat32(at, values[i % values.length]!, true);
  }
  for (const tick of edges) {
    view.setUint32(at, tick % 2 ** 32, true);
    at += 4;
  }
}
