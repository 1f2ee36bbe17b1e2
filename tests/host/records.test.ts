import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { DecodedRecord } from "../../host/record-types.ts";
import { decodeRecord, decodeRecords, encodeRecord, RecordError } from "../../host/records.ts";
import { RECORD_BYTES, RECORD_KIND } from "../../shared/layout.ts";
import { TEST_SEED } from "../kit/seed.ts";

const u8 = fc.integer({ min: 0, max: 255 });
const u16 = fc.integer({ min: 0, max: 65535 });
const u32 = fc.integer({ min: 0, max: 0xffffffff });
const i32 = fc.integer({ min: -(2 ** 31), max: 2 ** 31 - 1 });
const tick = fc.integer({ min: 0, max: Number.MAX_SAFE_INTEGER });
const f32 = fc.float({ noNaN: true });

const level = fc.record({
  kind: fc.constant("level" as const),
  filter: u8,
  sequence: u32,
  tick,
  ageTicks: u32,
  revolution: u32,
  speedRevPerS: f32,
  speedNowRevPerS: f32,
  re: f32,
  im: f32,
  level: f32,
  shownCounts: i32,
  validity: u8,
  cause: u8,
  cautionState: u8,
  statusBits: u8,
  flags: u16,
  word: u32,
  integrationDistance: f32,
});
const event = fc.record({
  kind: fc.constant("event" as const),
  code: u16,
  source: u8,
  sequence: u32,
  tick,
  revolution: u32,
  speedRevPerS: f32,
  re: f32,
  im: f32,
  level: f32,
  shownCounts: i32,
  detail: i32,
});
const exceedance = fc.record({
  kind: fc.constant("exceedance" as const),
  filter: u8,
  sequence: u32,
  onsetTick: tick,
  endTick: tick,
  peakSteps: u32,
  aboveSteps: u32,
  peakLevel: f32,
  peakShownCounts: i32,
  speedAtPeakRevPerS: f32,
  revolutionAtPeak: u32,
});

describe("records", () => {
  it("[CORE-001] reads back what was written, field by field and bit by bit", () => {
    fc.assert(
      fc.property(fc.oneof(level, event, exceedance), (record: DecodedRecord) => {
        const view = new DataView(new ArrayBuffer(RECORD_BYTES + 4));
        encodeRecord(record, view, 4);
        expect(decodeRecord(view, 4)).toEqual(record);
        const again = new DataView(new ArrayBuffer(RECORD_BYTES + 4));
        encodeRecord(decodeRecord(view, 4), again, 4);
        expect(new Uint8Array(again.buffer)).toEqual(new Uint8Array(view.buffer));
      }),
      { seed: TEST_SEED },
    );
  });

  it("[CORE-002] says which byte holds a record kind that it does not know", () => {
    const bytes = new Uint8Array(2 * RECORD_BYTES);
    bytes[RECORD_KIND] = 1;
    bytes[RECORD_BYTES + RECORD_KIND] = 9;
    expect(() => decodeRecords(bytes)).toThrow(
      new RecordError("byte 64: record kind 9 is not known"),
    );
    expect(() => decodeRecords(bytes.subarray(0, 70))).toThrow(RecordError);
  });
});
