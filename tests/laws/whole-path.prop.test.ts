// Laws of the whole path over drawn scenes: how its input is cut, what ran before, and when it
// begins, is not seen; caution and number differ no longer than the profile lets them.
import * as fc from "fast-check";
import { describe, expect, test } from "vitest";
import { INPUT_TEST } from "../../shared/layout.ts";
import type { DecodedRecord } from "../../host/record-types.ts";
import { coreOf, runCore } from "../assembly/kit/core-run.ts";
import { evenNumber } from "../kit/even-number.ts";
import { TEST_SEED } from "../kit/seed.ts";
import { CautionLaws } from "./caution-laws.ts";
import {
  type RandomScene,
  PERIOD_SAMPLES,
  TICKS_PER_SAMPLE,
  later,
  randomScene,
} from "./random-scene.ts";

const core = coreOf();
const other = coreOf();
const TIME_OUT_MS = 600_000;

/** What a record says, its times told from `ticks` on. */
function since(ticks: number, one: DecodedRecord): DecodedRecord {
  if (one.kind !== "exceedance") return { ...one, tick: one.tick - ticks };
  return { ...one, onsetTick: one.onsetTick - ticks, endTick: one.endTick - ticks };
}

/** A scene that ends anywhere, with every input standing since less than a display period. */
function endedIn(run: RandomScene["run"], endS: number): RandomScene["run"] {
  const from = Math.floor(endS * run.profile.sampleRateHz) - 200;
  const before = run.inputs.filter((row) => row.fromSample < from);
  const inputs = [...before, { fromSample: from, bits: 2 ** (INPUT_TEST + 1) - 1 }];
  return { ...run, durationS: endS, inputs };
}

describe("the whole path", { timeout: TIME_OUT_MS }, () => {
  test("[LAW-010] any cut of any scene gives the same bytes", async () => {
    const block = fc.integer({ min: 1, max: 128 });
    const batch = fc.integer({ min: 200, max: 20_000 });
    await fc.assert(
      fc.asyncProperty(randomScene, block, batch, async (scene, blockSamplesMax, batchSamples) => {
        const whole = await runCore({ ...scene.run, core });
        const cut = await runCore({ ...scene.run, core: other, blockSamplesMax, batchSamples });
        expect(Buffer.compare(cut.bytes, whole.bytes)).toBe(0);
        expect({ ...cut.counters, blocks: 0 }).toEqual({ ...whole.counters, blocks: 0 });
      }),
      { numRuns: 12, seed: TEST_SEED },
    );
  });

  test("[LAW-011] a scene after any other and a reset is as on a new core", async () => {
    await fc.assert(
      fc.asyncProperty(randomScene, evenNumber(0.3, 3), randomScene, async (one, endS, scene) => {
        // The other scene has its own wheels, speeds and delays; the configuration is the second's.
        const used = coreOf();
        const { profile } = scene.run;
        await runCore({ ...endedIn(one.run, endS), profile, core: used });
        used.reset();
        const again = await runCore({ ...scene.run, core: used });
        const fresh = await runCore({ ...scene.run, core: coreOf() });
        expect(Buffer.compare(again.bytes, fresh.bytes)).toBe(0);
        expect(again.counters).toEqual(fresh.counters);
      }),
      { numRuns: 10, seed: TEST_SEED },
    );
  });

  test("[LAW-012] later by whole display periods, everything is told later by them", async () => {
    const periods = fc.oneof(
      fc.integer({ min: 1, max: 50 }),
      fc.integer({ min: 2 ** 20, max: 2 ** 28 }),
    );
    let events = 0;
    await fc.assert(
      fc.asyncProperty(randomScene, periods, async (scene, count) => {
        // From sample 0 on there is no display step at the very first sample; hence one period on.
        const first = later(scene.run, PERIOD_SAMPLES);
        const second = later(scene.run, (1 + count) * PERIOD_SAMPLES);
        const here = await runCore({ ...first, core });
        const there = await runCore({ ...second, core: other });
        const ticks = count * PERIOD_SAMPLES * TICKS_PER_SAMPLE;
        here.records.forEach((one, i) => {
          const found = there.records[i];
          expect(found && since(ticks, found)).toEqual(one);
        });
        expect(there.records.length).toBe(here.records.length);
        events += here.records.filter((one) => one.kind === "event").length;
      }),
      { numRuns: 12, seed: TEST_SEED },
    );
    expect(events).toBeGreaterThan(50);
  });

  test("[LAW-013] number and caution differ only as long as the profile lets them", async () => {
    let changes = 0;
    await fc.assert(
      fc.asyncProperty(randomScene, async (scene) => {
        const { records } = await runCore({ ...scene.run, core });
        scene.cautions.forEach((bounds, filter) => {
          const laws = new CautionLaws(bounds, filter).take(records);
          expect(laws.broken).toEqual([]);
          changes += laws.changes;
        });
      }),
      { numRuns: 40, seed: TEST_SEED },
    );
    expect(changes).toBeGreaterThan(50);
  });
});
