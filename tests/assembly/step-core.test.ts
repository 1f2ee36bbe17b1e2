// The stages after the tracker inside the whole firmware: a number that passes the caution level, a
// spike, a functional test.
import { describe, expect, test } from "vitest";
import * as L from "../../shared/layout.ts";
import * as U from "../../shared/units.ts";
import type { EventRecord, LevelRecord } from "../../host/record-types.ts";
import { CautionModel, type ModelInput } from "./kit/caution-model.ts";
import { BUILDS, angleRev, edgeTicks, runCore, turning } from "./kit/core-run.ts";
import { plainFilter, profileOf } from "./kit/plain-profile.ts";

const CLOCK_HZ = 80_000_000;
const STEP_TICKS = 0.1 * CLOCK_HZ;
const wheel = { positions: 6 };
const shaft = turning(60);
const DURATION_S = 14;

const caution = {
  levelCounts: 50,
  hysteresisCounts: 4,
  onDelaySteps: 2,
  offDelaySteps: 3,
  delayRunsUnderInhibit: false,
  whenInvalid: "end",
} as const;

/** 3, from 3 s to 6 s 9, then 3 again; a spike at 8 s; a functional test of 20 from 10 s to 11 s. */
function signal(t: number): number {
  const amplitude = t >= 3 && t < 6 ? 9 : 3;
  const spike = t >= 8.05 && t < 8.0501 ? 500 : 0;
  return amplitude * Math.cos(2 * Math.PI * (angleRev(shaft, t) % 1)) + spike;
}

const plain = plainFilter();
const profile = profileOf(
  wheel,
  {
    filters: [
      {
        ...plain,
        display: {
          ...plain.display,
          holdSteps: 4,
          caution: { ...caution },
          word: { label: 0o346, sdi: 0, bits: 10, resolution: 0.0625 },
        },
      },
    ],
  },
  {},
  {
    health: { steps: 2, physicalPk: 100, broadbandRatio: 1.2, clipSamples: 3, burstRms: 5 },
    test: { amplitudePk: 20, shaft: 0, order: 1 },
  },
);
const run = {
  profile,
  edges: [edgeTicks(shaft, wheel, DURATION_S, CLOCK_HZ)],
  signals: [signal],
  durationS: DURATION_S,
  inputs: [
    { fromSample: 0, bits: 0 },
    { fromSample: 10 * 12_800, bits: 1 << L.INPUT_TEST },
    { fromSample: 11 * 12_800, bits: 0 },
  ],
};

function at(levels: LevelRecord[], timeS: number): LevelRecord {
  const found = levels.find((one) => one.tick === timeS * CLOCK_HZ);
  if (found === undefined) throw new Error(`no record at ${timeS} s`);
  return found;
}

describe.each(BUILDS)("display steps in the whole firmware, %s build", async (build) => {
  const answer = await runCore({ ...run, build });
  const events = answer.records.filter((one): one is EventRecord => one.kind === "event");

  test("[CAUT-040] every record's caution follows from the numbers before it", () => {
    const model = new CautionModel(caution);
    const seen = new Set<number>();
    for (const record of answer.levels) {
      const isHeld = (record.statusBits & L.STATUS_HELD) !== 0;
      const isValid = record.validity === U.VALID;
      const number: ModelInput["number"] = isValid ? record.shownCounts : isHeld ? "held" : "blank";
      const wanted = model.step({ number, isInhibited: false, acknowledgeRose: false });
      expect(record.cautionState).toBe(wanted.state);
      expect((record.statusBits & L.STATUS_CAUTION) !== 0).toBe(wanted.isOn);
      expect((record.statusBits & L.STATUS_AT_LEVEL) !== 0).toBe(wanted.isAtLevel);
      const found = events.filter((one) => one.tick === record.tick && one.code < 14);
      expect(found.filter((one) => one.code >= 10).map((one) => one.code)).toEqual(wanted.events);
      seen.add(record.cautionState);
    }
    expect(seen).toContain(U.CAUTION_ON);
    expect(seen).toContain(U.CAUTION_TIMING_OFF);
  });

  test("[CAUT-041] one exceedance, from the first number at the level to the first under the end", () => {
    const found = answer.records.filter((one) => one.kind === "exceedance");
    const valid = answer.levels.filter((one) => one.validity === U.VALID);
    const above = valid.filter((one) => one.shownCounts >= 50);
    const onset = above[0]?.tick ?? -1;
    const end = valid.find((one) => one.tick > onset && one.shownCounts < 46)?.tick;
    expect(found).toMatchObject([
      { onsetTick: onset, endTick: end, aboveSteps: above.length, peakShownCounts: 90 },
    ]);
  });

  test("[LEVEL-070] not valid until settled, after the test until settled again", () => {
    expect(at(answer.levels, 2.5)).toMatchObject({ validity: U.VALID, shownCounts: 30 });
    expect(at(answer.levels, 10.5)).toMatchObject({ cause: U.CAUSE_FUNCTIONAL_TEST });
    expect(at(answer.levels, 11.5)).toMatchObject({ cause: U.CAUSE_SETTLING });
    expect(at(answer.levels, 13.5)).toMatchObject({ validity: U.VALID, shownCounts: 30 });
    const first = answer.levels.find((one) => one.validity === U.VALID);
    // 3 cycles to lock and 2 for the first vector at 60 rev/s, then 6.64 τ of 1 Hz full width.
    const earliestS = 4 / 60 + 6.64 * (Math.sqrt(Math.SQRT2 - 1) / Math.PI);
    expect(first?.tick).toBeGreaterThan(earliestS * CLOCK_HZ);
    expect(first?.tick).toBeLessThan(earliestS * CLOCK_HZ + 2 * STEP_TICKS);
  });

  test("[HEALTH-030] one period with a spike is no fault where two in a row are asked for", () => {
    // The spike of 8 s stands in one period; broadband has no fault when the level falls at 6 s.
    expect(answer.counters.health).toEqual([0, 0, 0, 0, 0, 1, 0]);
    expect(events.filter((one) => one.code === U.EVENT_TRANSDUCER_FAULT)).toEqual([]);
  });

  test("[WORD-020] the word's matrix and data follow validity and number", () => {
    const matrix = (record: LevelRecord): number => (record.word >>> 29) & 3;
    expect([1, 2.5, 10.5].map((timeS) => matrix(at(answer.levels, timeS)))).toEqual([1, 3, 2]);
    expect((at(answer.levels, 2.5).word >>> 18) & 0x3ff).toBe(3 * 16);
  });

  test("[LEVEL-071] any cut of the input gives the same records and counters", async () => {
    for (const blockSamplesMax of [1, 37]) {
      // oxlint-disable-next-line no-await-in-loop -- one core at a time
      const cut = await runCore({ ...run, build, blockSamplesMax, batchSamples: 4001 });
      expect(Buffer.compare(cut.bytes, answer.bytes)).toBe(0);
      expect({ ...cut.counters, blocks: 0 }).toEqual({ ...answer.counters, blocks: 0 });
    }
  });
});

describe.each(BUILDS)("a reference found anew between two display steps, %s build", (build) => {
  /** 50 rev/s up to a gap of 0.36 s, then 15 rev/s: under the lowest valid speed of 20. */
  function edgesWithGap(fromS: number): Float64Array {
    const before = Array.from({ length: Math.floor(fromS * 3000) }, (_, k) => k / 3000);
    const after = Array.from({ length: 7000 }, (_, k) => fromS + 0.36 + k / 900);
    return Float64Array.from([...before, ...after], (t) => Math.floor(t * CLOCK_HZ));
  }

  // Both losses end under the lowest valid speed; only the second spans a step of 1 s.
  test.each([5.05, 5.7])(
    "[LEVEL-072] lost at %d s: the delay does not outlive it",
    async (fromS) => {
      const wide = plainFilter({ bandwidth: { kind: "fixed", fullWidthHz: 20 } });
      const { levels } = await runCore({
        profile: profileOf(
          { positions: 60 },
          { displayPeriodS: 1, filters: [wide] },
          {
            validSpeedRevPerS: 20,
            validHysteresisRevPerS: 1,
            validDelaySteps: 3,
            lockRevolutions: 1,
            accelerationMaxRevPerS2: 50,
          },
        ),
        edges: [edgesWithGap(fromS)],
        signals: [(t) => Math.cos(2 * Math.PI * (t < fromS ? 50 : 15) * t)],
        durationS: 11,
        build,
      });
      expect(at(levels, 5).validity).toBe(U.VALID);
      const later = levels.filter((one) => one.tick > (fromS + 0.36) * CLOCK_HZ);
      expect(later.length).toBeGreaterThan(3);
      expect(later.filter((one) => one.validity === U.VALID)).toEqual([]);
    },
  );
});
