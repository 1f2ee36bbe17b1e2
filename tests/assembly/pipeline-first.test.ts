// What stands in the place of a sample that is no number, where a stream or a block begins with it.
import { describe, expect, test } from "vitest";
import { POOL_SAMPLES } from "../../shared/capacity.ts";
import { INPUT_TEST } from "../../shared/layout.ts";
import { EVENT_REFERENCE_FOUND, HEALTH_PHYSICAL } from "../../shared/units.ts";
import type { EventRecord } from "../../host/record-types.ts";
import { channelProfile, shaftProfile } from "../kit/scene-builder.ts";
import { BUILDS, coreOf, edgeTicks, runCore, turning } from "./kit/core-run.ts";
import { profileOf } from "./kit/plain-profile.ts";

const RATE_HZ = 12_800;
const DISPLAY_SAMPLES = 16;
const RANGE = 1000;
const SHAFT = shaftProfile();

/** Two channels whose physical check is of one display period; samples by their place in it. */
function profileWith(physicalPk: number) {
  const channel = channelProfile({ range: RANGE, health: { steps: 1, physicalPk } });
  return profileOf(
    { positions: 1 },
    { displayPeriodS: DISPLAY_SAMPLES / RATE_HZ, channels: [channel, channel] },
    // Two channels leave 2,428 samples for a time-out.
    { timeoutS: 0.15, speedMinRevPerS: 20, validSpeedRevPerS: 20 },
  );
}

const placeOf = (t: number): number => Math.round(t * RATE_HZ);

describe.each(BUILDS)("a sample that is no number, %s build", (build) => {
  // The first sample belongs to no period. One of 16 samples at 50 stands 46.875 over their mean, two
  // stand 43.75.
  test.each([
    ["the only sample before", 1, [50, Number.NaN], 46.875],
    ["the newest of two", 1, [0, 50, Number.NaN], 43.75],
    ["the newest of a block of two", 2, [0, 50, Number.NaN], 43.75],
    ["the one before in the same block", 17, [0, 50, Number.NaN], 43.75],
  ])("[CORE-066] %s stands in its place", async (_name, cut, values, pk) => {
    const faultsAt = async (physicalPk: number): Promise<number | undefined> => {
      const signal = (t: number): number => values[placeOf(t)] ?? 0;
      const mirrored = (t: number): number => -signal(t);
      const { counters } = await runCore({
        profile: profileWith(physicalPk),
        edges: [new Float64Array(0)],
        signals: [signal, mirrored],
        durationS: (DISPLAY_SAMPLES + 1.5) / RATE_HZ,
        blockSamplesMax: cut,
        build,
      });
      expect(counters.samplesNotFinite).toEqual([1, 1, 0, 0]);
      return counters.health[HEALTH_PHYSICAL];
    };
    expect(await faultsAt(pk + 0.01)).toBe(0);
    expect(await faultsAt(pk - 0.01)).toBe(2);
  });

  test("[CORE-068] two shafts without an edge are at rest, wherever a block ends", async () => {
    const { displayPeriodS } = profileWith(100);
    const run = (blockSamplesMax: number) =>
      runCore({
        profile: profileOf(
          { positions: 1 },
          { displayPeriodS, shafts: [SHAFT, { ...SHAFT, name: "other" }] },
        ),
        edges: [new Float64Array(0), new Float64Array(0)],
        signals: [() => 1],
        firstSample: 1,
        durationS: 1,
        blockSamplesMax,
        build,
      });
    // A display step at the last sample of each block, or never there.
    const atEnd = await run(DISPLAY_SAMPLES);
    const within = await run(DISPLAY_SAMPLES + 1);
    expect(atEnd.records.length).toBeGreaterThan(100);
    expect(Buffer.compare(atEnd.bytes, within.bytes)).toBe(0);
  });

  test("[CORE-069] the test's tone follows a reference's first cycle edge by edge, however cut", async () => {
    const wheel = { positions: 36 };
    const profile = profileOf(wheel, {}, {}, { test: { amplitudePk: 20, shaft: 0, order: 1 } });
    // A reference is lost in a gap of 0.3 s and found again, the speed rising, while the test runs.
    const ticks = edgeTicks(turning(40, 8), wheel, 1.5, profile.clockHz);
    const [from, until] = [0.6 * profile.clockHz, 0.9 * profile.clockHz];
    const edges = [ticks.filter((tick) => tick < from || tick > until)];
    const run = (blockSamplesMax: number) =>
      runCore({
        profile,
        edges,
        signals: [() => 0],
        durationS: 1.5,
        inputs: [{ fromSample: 0, bits: 1 << INPUT_TEST }],
        blockSamplesMax,
        build,
      });
    const whole = await run(128);
    const events = whole.records.filter((one) => one.kind === "event");
    expect(events.filter(({ code }) => code === EVENT_REFERENCE_FOUND)).toHaveLength(2);
    expect(Math.max(...whole.levels.map(({ level }) => level))).toBeGreaterThan(10);
    for (const cut of [1, 7]) {
      // oxlint-disable-next-line no-await-in-loop -- one core at a time
      expect(Buffer.compare((await run(cut)).bytes, whole.bytes), `${cut} samples`).toBe(0);
    }
  });

  test("[CORE-067] of two edges at one tick shaft 0's is told first", async () => {
    const { clockHz } = profileOf({ positions: 1 });
    const ticks = edgeTicks(turning(80), { positions: 1 }, 1, clockHz);
    const { records } = await runCore({
      profile: profileOf({ positions: 1 }, { shafts: [SHAFT, { ...SHAFT, name: "other" }] }),
      edges: [ticks, ticks],
      signals: [() => 0],
      durationS: 1,
      build,
    });
    const found = records.filter(
      (one) => one.kind === "event" && one.code === EVENT_REFERENCE_FOUND,
    );
    expect(found).toMatchObject([{ source: 0 }, { source: 1 }]);
    expect(found[0]).toMatchObject({ tick: (found[1] as EventRecord).tick });
  });

  test("[CORE-066] a stream that begins with it begins at 0, whatever was before a reset", async () => {
    const core = coreOf(build);
    const run = (signal: (t: number) => number, samples: number) =>
      runCore({
        profile: profileWith(100),
        edges: [new Float64Array(0)],
        signals: [signal, signal],
        durationS: (samples + 1.5) / RATE_HZ,
        core,
      });
    // Each channel's part of the pool is written to its end.
    const loud = await run((t) => (placeOf(t) % 2 === 0 ? 500 : -500), 2 * POOL_SAMPLES);
    expect(loud.counters.health[HEALTH_PHYSICAL]).toBeGreaterThan(1000);
    const begun = await run((t) => (placeOf(t) < 2 ? Number.NaN : 0), DISPLAY_SAMPLES);
    expect(begun.counters.samplesNotFinite).toEqual([2, 2, 0, 0]);
    expect(begun.counters.health[HEALTH_PHYSICAL]).toBe(0);
  });
});
