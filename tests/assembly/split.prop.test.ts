// Laws of the whole: any split of the input gives the same bytes, a reset is as good as new, debug
// and release agree bit for bit.
import * as fc from "fast-check";
import { describe, expect, test } from "vitest";
import * as L from "../../shared/layout.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import { CoreTarget } from "../../harness/target/core-target.ts";
import { channelProfile, shaftProfile } from "../kit/scene-builder.ts";
import { TEST_SEED } from "../kit/seed.ts";
import {
  type CoreRun,
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
const DURATION_S = 3;

/**
 * All that may depend on the order of work: two shafts with missed and extra edges, one that drops
 * out and comes back, a test that begins between edges, inputs, a caution, a short display step.
 */
function eventful(): CoreRun {
  const fan = turning(61, 3, 0.4);
  const core = turning(133, -4, 0.9);
  const wheel = {
    positions: 36,
    index: "missing-tooth" as const,
    isMissed: (place: number) => place % 601 === 600,
  };
  const fanEdges = [...edgeTicks(fan, wheel, DURATION_S, CLOCK_HZ)];
  for (const at of [333, 777, 2222]) fanEdges.splice(at, 0, fanEdges[at - 1]! + 4000);
  const kept = fanEdges.filter((tick) => tick < 1.4 * CLOCK_HZ || tick > 1.6 * CLOCK_HZ);
  const coreEdges = edgeTicks(core, { positions: 1 }, DURATION_S, CLOCK_HZ).filter(
    (_, i) => i % 97 !== 96,
  );
  const filter = plainFilter();
  const display = {
    ...filter.display,
    step: 0.1,
    caution: {
      levelCounts: 9,
      hysteresisCounts: 1,
      onDelaySteps: 2,
      offDelaySteps: 3,
      delayRunsUnderInhibit: true,
      whenInvalid: "hold" as const,
    },
  };
  const profile = profileOf(wheel, {
    displayPeriodS: 0.02,
    channels: [channelProfile({ health: { steps: 2, clipSamples: 3 } }), channelProfile()],
    shafts: [
      shaftProfile({ ...wheel, speedMinRevPerS: 30, timeoutS: 0.08 }),
      shaftProfile({ positions: 1, speedMinRevPerS: 30, timeoutS: 0.09 }),
    ],
    filters: [
      plainFilter({ display, bandwidth: { kind: "fixed", fullWidthHz: 10 } }),
      plainFilter({ channel: 1, shaft: 1, bandwidth: { kind: "fixed", fullWidthHz: 10 } }),
      plainFilter({ channel: 1, shaft: 0, order: 2, quantity: "velocity" }),
    ],
  });
  const fanSignal = orders(fan, withCompanions(3));
  const coreSignal = orders(core, withCompanions(2));
  const both = (t: number): number => fanSignal(t) + coreSignal(t);
  return {
    profile,
    edges: [Float64Array.from(kept), coreEdges],
    signals: [both, (t) => both(t) * (t > 1 && t < 1.2 ? 900 : 1)],
    durationS: DURATION_S,
    inputs: [
      { fromSample: 0, bits: 0 },
      { fromSample: 9001, bits: (1 << L.INPUT_RUNNING) | 1 },
      { fromSample: 14_013, bits: 1 << L.INPUT_ACKNOWLEDGE },
      { fromSample: 29_777, bits: 1 << L.INPUT_TEST },
      { fromSample: 35_001, bits: 0 },
    ],
  };
}

const run = eventful();
const whole = await runCore(run);

describe("split of the input", () => {
  test("[CORE-020] the run is eventful: both shafts lost edges, and each kind of record came", () => {
    const { counters } = whole;
    expect(counters.edgesMissed[0]).toBeGreaterThan(0);
    expect(counters.edgesMissed[1]).toBeGreaterThan(0);
    expect(counters.edgesEarly[0]).toBe(3);
    expect(counters.referenceLost[0]).toBe(1);
    expect(counters.recordsLost).toBe(0);
    const kinds = new Set(whole.records.map((one) => one.kind));
    expect([...kinds].toSorted()).toEqual(["event", "exceedance", "level"]);
    expect(whole.levels).toHaveLength(3 * 149);
  });

  test.each([1, 7, 64, 127])("[CORE-021] blocks of %d samples give the same bytes", async (n) => {
    expect((await runCore({ ...run, blockSamplesMax: n })).bytes).toEqual(whole.bytes);
  });

  test("[CORE-021] blocks of any lengths give the same bytes", async () => {
    const edgesIn = (ticks: Float64Array, from: number, until: number): Float64Array =>
      ticks.filter((tick) => tick >= from * 6250 && tick < until * 6250);
    const total = DURATION_S * run.profile.sampleRateHz;
    const samples = run.signals.map((signal) =>
      Float32Array.from({ length: total }, (_, i) => signal(i / run.profile.sampleRateHz)),
    );
    const splitRun = async (cuts: number[]): Promise<Uint8Array> => {
      const target = new CoreTarget(coreOf());
      await target.configure(configurationBytes(run.profile));
      const ends = [...new Set([...cuts, total])].toSorted((a, b) => a - b);
      const parts: Uint8Array[] = [];
      let from = 0;
      for (const until of ends) {
        const rows = run.inputs!.filter((one) => one.fromSample > from && one.fromSample < until);
        const bits = lastOf(run.inputs!.filter((one) => one.fromSample <= from)).bits;
        const start = from;
        parts.push(
          // oxlint-disable-next-line no-await-in-loop
          await target.feed({
            firstSample: start,
            sampleCount: until - start,
            samples: samples.map((all) => all.subarray(start, until)),
            edges: run.edges.map((ticks) => edgesIn(ticks, start, until)),
            inputs: [{ fromSample: start, bits }, ...rows],
          }),
        );
        from = until;
      }
      return new Uint8Array(Buffer.concat(parts));
    };
    const cutsAt = fc.array(fc.integer({ min: 1, max: total - 1 }), { maxLength: 60 });
    await fc.assert(
      fc.asyncProperty(cutsAt, async (cuts) => {
        expect(await splitRun(cuts)).toEqual(whole.bytes);
      }),
      { numRuns: 12, seed: TEST_SEED },
    );
  });

  test("[CORE-022] after a reset the same input gives the same bytes", async () => {
    const core = coreOf();
    await runCore({ ...run, core });
    core.reset();
    expect(core.counters().blocks).toBe(0);
    expect((await runCore({ ...run, core })).bytes).toEqual(whole.bytes);
    const target = new CoreTarget(core);
    await target.reset();
    expect(core.counters()).toEqual(coreOf().counters());
  });

  test("[CORE-023] debug and release agree bit for bit", async () => {
    expect((await runCore({ ...run, build: "debug" })).bytes).toEqual(whole.bytes);
  });

  test("[CORE-024] amplitudes doubled give vectors doubled, bit for bit", async () => {
    const plain = { ...run, inputs: undefined };
    const once = await runCore(plain);
    const twice = await runCore({
      ...plain,
      signals: run.signals.map((signal) => (t: number) => 2 * signal(t)),
    });
    expect(twice.levels.map((one) => [one.re, one.im, one.speedRevPerS])).toEqual(
      once.levels.map((one) => [2 * one.re, 2 * one.im, one.speedRevPerS]),
    );
  });
});
