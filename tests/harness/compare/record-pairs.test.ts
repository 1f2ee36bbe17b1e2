// Two streams of records: what was altered by hand must be found, counted and placed.
import { describe, expect, it } from "vitest";
import fc from "fast-check";
import {
  RECORD_BYTES,
  RECORD_DETAIL,
  RECORD_IM,
  RECORD_KIND,
  RECORD_LEVEL,
  RECORD_EVENT,
  RECORD_EXCEEDANCE,
} from "../../../shared/layout.ts";
import { EVENT_CAUTION_ON } from "../../../shared/units.ts";
import type { DecodedRecord, EventRecord, LevelRecord } from "../../../host/record-types.ts";
import { decodeRecords, encodeRecord } from "../../../host/records.ts";
import { ulpsApart } from "../../../harness/compare/float-distance.ts";
import { comparedBytes } from "../../../harness/compare/compare.ts";
import type { RecordStream } from "../../../harness/compare/compared-side.ts";
import { RecordPairs } from "../../../harness/compare/record-pairs.ts";
import { cleanCounters } from "../../kit/clean-counters.ts";
import { playScene } from "../../kit/play-scene.ts";
import { suiteCases } from "../../kit/regression-suite.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const scene = suiteCases(
  "caution/does-a-caution-without-delay-come-and-go-at-once.scenario.yaml",
)[0]!;
const { records: BYTES } = await playScene(scene);
const KINDS = [RECORD_LEVEL, RECORD_EVENT, RECORD_EXCEEDANCE];
const PERIOD_TICKS = scene.profile.displayPeriodS * scene.profile.clockHz;

function bytesOf(records: readonly DecodedRecord[]): Uint8Array {
  const bytes = new Uint8Array(records.length * RECORD_BYTES);
  const view = new DataView(bytes.buffer);
  records.forEach((record, i) => encodeRecord(record, view, i * RECORD_BYTES));
  return bytes;
}

type Outcome = ReturnType<RecordPairs["finish"]>;

function compared(a: Uint8Array, b: Uint8Array, pieces: [number, number] = [1e9, 1e9]): Outcome {
  const pairs = new RecordPairs(scene.profile);
  for (let at = 0; at * Math.min(...pieces) < Math.max(a.length, b.length); at += 1) {
    const part = (bytes: Uint8Array, size: number): Uint8Array =>
      bytes.subarray(at * size, (at + 1) * size);
    pairs.take(part(a, pieces[0]), part(b, pieces[1]));
  }
  return pairs.finish();
}

/** The stream with one level record changed. */
function altered(change: (record: LevelRecord) => Partial<LevelRecord>, nth = 30): Uint8Array {
  let levels = 0;
  const records = decodeRecords(BYTES).map((record) => {
    if (record.kind !== "level") return record;
    levels += 1;
    return levels === nth ? { ...record, ...change(record) } : record;
  });
  return bytesOf(records);
}

/** The next number of single precision. */
function next(value: number): number {
  const view = new DataView(new ArrayBuffer(4));
  view.setFloat32(0, value);
  view.setUint32(0, view.getUint32(0) + 1);
  return view.getFloat32(0);
}

describe("two streams of records", () => {
  it("[COMP-001] equal ones are equal in any pieces", () => {
    const size = fc.integer({ min: 1, max: 400 });
    fc.assert(
      fc.property(size, size, (a, b) => {
        const { isEqual, first, records, effects } = compared(BYTES, BYTES.slice(), [a, b]);
        expect([isEqual, first]).toEqual([true, undefined]);
        expect(records).toEqual([BYTES.length / RECORD_BYTES, BYTES.length / RECORD_BYTES]);
        expect(effects).toMatchObject({ levelsDiffering: 0, onlyA: [], onlyB: [] });
      }),
      { seed: TEST_SEED, numRuns: 40 },
    );
  });

  it("[COMP-002] a level moved by one place is one ulp, at its own step", () => {
    const { isEqual, first, effects } = compared(
      BYTES,
      altered(({ level }) => ({ level: next(level) })),
    );
    expect(isEqual).toBe(false);
    expect(first).toMatchObject({
      kind: "level",
      of: "fan",
      timeS: 3,
      fields: [{ field: "level", ulps: 1 }],
    });
    expect(effects).toMatchObject({
      levelsDiffering: 1,
      shownDiffering: 0,
      cautionDiffering: 0,
      ulps: { value: 1, timeS: 3, filter: "fan" },
    });
  });

  it("[COMP-003] a number, a validity and a caution are counted by steps", () => {
    const changed = altered(({ shownCounts }) => ({
      shownCounts: shownCounts + 3,
      validity: 2,
      cautionState: 0,
    }));
    const { effects, first } = compared(BYTES, changed);
    expect(first!.fields.map(({ field }) => field)).toContain("shownCounts");
    expect(effects).toMatchObject({
      levelsDiffering: 0,
      shownDiffering: 1,
      validityDiffering: 1,
      cautionDiffering: 1,
      counts: { value: 3, timeS: 3 },
    });
  });

  it("[COMP-004] a caution's edge that moved is told in display periods", () => {
    const records = decodeRecords(BYTES).map((record) =>
      record.kind === "event" && record.code === EVENT_CAUTION_ON
        ? { ...record, tick: record.tick + 2 * PERIOD_TICKS }
        : record,
    );
    const { effects } = compared(BYTES, bytesOf(records));
    expect(effects).toMatchObject({ cautionMovedPeriods: 2, onlyA: [], onlyB: [] });
  });

  it.each([
    [0, "onlyA"],
    [1, "onlyB"],
  ] as const)("[COMP-005] an event that side %i alone has is named", (side, name) => {
    const records = decodeRecords(BYTES);
    const gone = records.filter(
      (record): record is EventRecord =>
        record.kind === "event" && record.code === EVENT_CAUTION_ON,
    );
    expect(gone.length).toBe(1);
    const less = bytesOf(records.filter((record) => record !== gone[0]));
    const { effects, first, isEqual } = side === 0 ? compared(BYTES, less) : compared(less, BYTES);
    expect(isEqual).toBe(false);
    expect(first!.note).toBeDefined();
    expect(effects[name]).toEqual([expect.stringMatching(/^caution-on of fan at/)]);
    expect(effects.levelsDiffering).toBe(0);
  });

  it("[COMP-006] a stream that ends early leaves the other's records alone", () => {
    const short = BYTES.subarray(0, BYTES.length - 3 * RECORD_BYTES);
    const { isEqual, first, effects, records } = compared(BYTES, short);
    expect(isEqual).toBe(false);
    expect(records[0] - records[1]).toBe(3);
    expect(first).toMatchObject({ record: records[1], note: "A alone has a record here" });
    expect(effects.onlyA).toHaveLength(3);
    const cut = compared(BYTES, BYTES.subarray(0, BYTES.length - 5));
    expect(cut.first).toMatchObject({
      record: records[0] - 1,
      note: "A alone has a record here",
    });
    const odd = compared(Uint8Array.of(...BYTES, 1, 2), Uint8Array.of(...BYTES, 1, 3));
    expect(odd.isEqual).toBe(false);
    expect(odd.first!.note).toBe("A ends with 2 bytes of a record, B with 2");
    expect(compared(Uint8Array.of(...BYTES, 7), Uint8Array.of(...BYTES, 7)).isEqual).toBe(true);
  });

  const places = decodeRecords(BYTES).map(({ kind }, place) => ({ kind, place }));
  it.each(["level", "event", "exceedance"])(
    "[COMP-008] no byte of a record of kind %s may differ unseen",
    (kind) => {
      const { place } = places.find((one) => one.kind === kind)!;
      for (let i = 0; i < RECORD_BYTES; i += 1) {
        for (const mask of [1, 0x80, 0xff]) {
          const changed = BYTES.slice();
          changed[place * RECORD_BYTES + i]! ^= mask;
          // A kind that is none is told by an error, another kind by a note.
          if (i === RECORD_KIND && !KINDS.includes(changed[place * RECORD_BYTES]!)) {
            expect(() => compared(BYTES, changed)).toThrow(/kind \d+ is not known/);
            continue;
          }
          const { isEqual, first } = compared(BYTES, changed);
          expect(isEqual, `byte ${i}`).toBe(false);
          expect(first!.record).toBe(place);
          expect(first!.fields.length > 0 || first!.note !== undefined).toBe(true);
        }
      }
    },
  );

  it("[COMP-008] a byte that is no field's is told by its place", () => {
    const { place } = places.find(({ kind }) => kind === "level")!;
    const changed = BYTES.slice();
    changed[place * RECORD_BYTES + RECORD_DETAIL] = 9;
    const { first, effects } = compared(BYTES, changed);
    expect(first!.fields).toEqual([{ field: `byte ${RECORD_DETAIL}`, a: 0, b: 9 }]);
    expect(effects.levelsDiffering).toBe(0);
  });

  it("[COMP-009] a zero's sign and a NaN's digits are bits, too", () => {
    const zero = altered(() => ({ re: 0 }));
    const minus = altered(() => ({ re: -0 }));
    expect(compared(zero, minus).first!.fields).toEqual([{ field: "re", a: 0, b: "-0", ulps: 0 }]);
    const nan = altered(() => ({ im: NaN }), 1);
    const other = nan.slice();
    const { place } = places.find(({ kind }) => kind === "level")!;
    other[place * RECORD_BYTES + RECORD_IM]! ^= 1;
    expect(decodeRecords(other)).toEqual(decodeRecords(nan));
    expect(compared(nan, other).first!.fields).toMatchObject([{ field: `byte ${RECORD_IM}` }]);
  });

  it("[COMP-010] what one alone has is counted, and no longer list is kept", () => {
    const pairs = new RecordPairs(scene.profile);
    pairs.over(1);
    pairs.take(BYTES, new Uint8Array(0));
    const { effects, records, first } = pairs.finish();
    expect(records).toEqual([BYTES.length / RECORD_BYTES, 0]);
    expect(first).toMatchObject({ record: 0, note: "A alone has a record here" });
    const levels = places.filter(({ kind }) => kind === "level").length;
    const events = places.filter(({ kind }) => kind === "event").length;
    expect(effects.onlyA).toHaveLength(9);
    expect(effects.onlyA[8]).toBe(`and ${levels + events - 8} more`);
  });

  it("[COMP-011] neither side is read further ahead than one of its pieces", async () => {
    const given = [0, 0];
    let lead = 0;
    const stream = (side: 0 | 1, pieceBytes: number): RecordStream => ({
      async next() {
        const piece = BYTES.subarray(given[side]!, given[side]! + pieceBytes);
        given[side]! += piece.length;
        lead = Math.max(lead, given[0]! - given[1]!);
        return piece.length === 0 ? undefined : piece;
      },
      counters: () => cleanCounters({}),
      async close() {},
    });
    const [wide, narrow] = [16 * RECORD_BYTES, RECORD_BYTES + 1];
    const [a, b] = [stream(0, wide), stream(1, narrow)];
    expect(await comparedBytes("a case", scene.profile, a, b)).toMatchObject({ isEqual: true });
    expect(given).toEqual([BYTES.length, BYTES.length]);
    expect(lead).toBeLessThanOrEqual(wide);
  });

  it("[COMP-007] distances of single-precision numbers are counted over zero, too", () => {
    const least = 2 ** -149;
    expect(ulpsApart(1, next(1))).toBe(1);
    expect(ulpsApart(0, -0)).toBe(0);
    expect(ulpsApart(-least, least)).toBe(2);
    expect(ulpsApart(NaN, NaN)).toBe(0);
    expect(ulpsApart(NaN, 1)).toBeUndefined();
    // 1.0 to 2.0 has 2^23 steps (IEEE 754-2019, binary32: 23 bits of fraction).
    expect(ulpsApart(1, 2)).toBe(2 ** 23);
  });
});
