// Bytes ↔ typed records, pure. The layout is shared/layout.ts; PROTOCOL.md draws it.
import * as L from "../shared/layout.ts";
import type {
  Counters,
  DecodedRecord,
  EventRecord,
  ExceedanceRecord,
  LevelRecord,
} from "./record-types.ts";

const TWO_32 = 4294967296;

/** A record that this version does not know, or bytes that are no record. */
export class RecordError extends Error {}

function u64(view: DataView, lowAt: number, highAt: number): number {
  return view.getUint32(lowAt, true) + view.getUint32(highAt, true) * TWO_32;
}

function setU64(view: DataView, lowAt: number, highAt: number, value: number): void {
  view.setUint32(lowAt, value % TWO_32, true);
  view.setUint32(highAt, Math.floor(value / TWO_32), true);
}

/** What a level record and an event say alike. */
function decodeMeasured(view: DataView, at: number) {
  return {
    sequence: view.getUint32(at + L.RECORD_SEQUENCE, true),
    tick: u64(view, at + L.RECORD_TICK_LOW, at + L.RECORD_TICK_HIGH),
    revolution: view.getUint32(at + L.RECORD_REVOLUTION, true),
    speedRevPerS: view.getFloat32(at + L.RECORD_SPEED, true),
    re: view.getFloat32(at + L.RECORD_RE, true),
    im: view.getFloat32(at + L.RECORD_IM, true),
    level: view.getFloat32(at + L.RECORD_LEVEL_VALUE, true),
    shownCounts: view.getInt32(at + L.RECORD_SHOWN, true),
  };
}

function decodeLevel(view: DataView, at: number): LevelRecord {
  return {
    kind: "level",
    filter: view.getUint8(at + L.RECORD_SOURCE),
    ...decodeMeasured(view, at),
    ageTicks: view.getUint32(at + L.RECORD_AGE, true),
    speedNowRevPerS: view.getFloat32(at + L.RECORD_SPEED_NOW, true),
    validity: view.getUint8(at + L.RECORD_STATUS),
    cause: view.getUint8(at + L.RECORD_STATUS + 1),
    cautionState: view.getUint8(at + L.RECORD_STATUS + 2),
    statusBits: view.getUint8(at + L.RECORD_STATUS + 3),
    flags: view.getUint16(at + L.RECORD_FLAGS, true),
    word: view.getUint32(at + L.RECORD_WORD, true),
    integrationDistance: view.getFloat32(at + L.RECORD_VALUE, true),
  };
}

function decodeEvent(view: DataView, at: number): EventRecord {
  return {
    kind: "event",
    code: view.getUint16(at + L.RECORD_FLAGS, true),
    source: view.getUint8(at + L.RECORD_SOURCE),
    ...decodeMeasured(view, at),
    detail: view.getInt32(at + L.RECORD_DETAIL, true),
  };
}

function decodeExceedance(view: DataView, at: number): ExceedanceRecord {
  return {
    kind: "exceedance",
    filter: view.getUint8(at + L.RECORD_SOURCE),
    sequence: view.getUint32(at + L.RECORD_SEQUENCE, true),
    onsetTick: u64(view, at + L.EXCEEDANCE_ONSET_LOW, at + L.EXCEEDANCE_ONSET_HIGH),
    endTick: u64(view, at + L.RECORD_TICK_LOW, at + L.RECORD_TICK_HIGH),
    peakSteps: view.getUint32(at + L.EXCEEDANCE_PEAK_STEP, true),
    aboveSteps: view.getUint32(at + L.RECORD_AGE, true),
    peakLevel: view.getFloat32(at + L.RECORD_LEVEL_VALUE, true),
    peakShownCounts: view.getInt32(at + L.RECORD_SHOWN, true),
    speedAtPeakRevPerS: view.getFloat32(at + L.RECORD_SPEED, true),
    revolutionAtPeak: view.getUint32(at + L.RECORD_REVOLUTION, true),
  };
}

/**
 * Reads the record that starts at `offset`.
 *
 * Shape     RECORD_BYTES bytes of `view` from `offset`
 * Errors    RecordError where the kind is not one of this layout's
 */
export function decodeRecord(view: DataView, offset: number): DecodedRecord {
  const kind = view.getUint8(offset + L.RECORD_KIND);
  if (kind === L.RECORD_LEVEL) return decodeLevel(view, offset);
  if (kind === L.RECORD_EVENT) return decodeEvent(view, offset);
  if (kind === L.RECORD_EXCEEDANCE) return decodeExceedance(view, offset);
  throw new RecordError(`byte ${offset}: record kind ${kind} is not known`);
}

/**
 * Reads all records of a byte run.
 *
 * Errors    RecordError where the length is no whole number of records, or a kind is not known
 */
export function decodeRecords(bytes: Uint8Array): DecodedRecord[] {
  if (bytes.byteLength % L.RECORD_BYTES !== 0) {
    throw new RecordError(`${bytes.byteLength} bytes are no whole number of ${L.RECORD_BYTES}`);
  }
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const records: DecodedRecord[] = [];
  for (let at = 0; at < bytes.byteLength; at += L.RECORD_BYTES)
    records.push(decodeRecord(view, at));
  return records;
}

/** Writes a record at `offset`; what decodeRecord reads back is equal, to the bit of each field. */
export function encodeRecord(record: DecodedRecord, view: DataView, offset: number): void {
  for (let i = 0; i < L.RECORD_BYTES; i += 4) view.setUint32(offset + i, 0, true);
  view.setUint32(offset + L.RECORD_SEQUENCE, record.sequence, true);
  if (record.kind === "exceedance") return encodeExceedance(record, view, offset);
  setU64(view, offset + L.RECORD_TICK_LOW, offset + L.RECORD_TICK_HIGH, record.tick);
  view.setUint32(offset + L.RECORD_REVOLUTION, record.revolution, true);
  view.setFloat32(offset + L.RECORD_SPEED, record.speedRevPerS, true);
  view.setFloat32(offset + L.RECORD_RE, record.re, true);
  view.setFloat32(offset + L.RECORD_IM, record.im, true);
  view.setFloat32(offset + L.RECORD_LEVEL_VALUE, record.level, true);
  view.setInt32(offset + L.RECORD_SHOWN, record.shownCounts, true);
  if (record.kind === "event") {
    view.setUint8(offset + L.RECORD_KIND, L.RECORD_EVENT);
    view.setUint8(offset + L.RECORD_SOURCE, record.source);
    view.setUint16(offset + L.RECORD_FLAGS, record.code, true);
    view.setInt32(offset + L.RECORD_DETAIL, record.detail, true);
    return;
  }
  view.setUint8(offset + L.RECORD_KIND, L.RECORD_LEVEL);
  view.setUint8(offset + L.RECORD_SOURCE, record.filter);
  view.setUint16(offset + L.RECORD_FLAGS, record.flags, true);
  view.setUint32(offset + L.RECORD_AGE, record.ageTicks, true);
  view.setUint8(offset + L.RECORD_STATUS, record.validity);
  view.setUint8(offset + L.RECORD_STATUS + 1, record.cause);
  view.setUint8(offset + L.RECORD_STATUS + 2, record.cautionState);
  view.setUint8(offset + L.RECORD_STATUS + 3, record.statusBits);
  view.setUint32(offset + L.RECORD_WORD, record.word, true);
  view.setFloat32(offset + L.RECORD_SPEED_NOW, record.speedNowRevPerS, true);
  view.setFloat32(offset + L.RECORD_VALUE, record.integrationDistance, true);
}

function encodeExceedance(record: ExceedanceRecord, view: DataView, offset: number): void {
  view.setUint8(offset + L.RECORD_KIND, L.RECORD_EXCEEDANCE);
  view.setUint8(offset + L.RECORD_SOURCE, record.filter);
  setU64(view, offset + L.RECORD_TICK_LOW, offset + L.RECORD_TICK_HIGH, record.endTick);
  setU64(view, offset + L.EXCEEDANCE_ONSET_LOW, offset + L.EXCEEDANCE_ONSET_HIGH, record.onsetTick);
  view.setUint32(offset + L.EXCEEDANCE_PEAK_STEP, record.peakSteps, true);
  view.setUint32(offset + L.RECORD_AGE, record.aboveSteps, true);
  view.setFloat32(offset + L.RECORD_LEVEL_VALUE, record.peakLevel, true);
  view.setInt32(offset + L.RECORD_SHOWN, record.peakShownCounts, true);
  view.setFloat32(offset + L.RECORD_SPEED, record.speedAtPeakRevPerS, true);
  view.setUint32(offset + L.RECORD_REVOLUTION, record.revolutionAtPeak, true);
}

/** Reads the counters block. Shape: COUNTERS_BYTES bytes of `view` from `offset`. */
export function decodeCounters(view: DataView, offset: number): Counters {
  const one = (at: number): number => view.getUint32(offset + at, true);
  const many = (at: number, count: number): number[] =>
    Array.from({ length: count }, (_, i) => one(at + 4 * i));
  return {
    blocks: one(L.COUNTER_BLOCKS),
    samples: u64(view, offset + L.COUNTER_SAMPLES_LOW, offset + L.COUNTER_SAMPLES_HIGH),
    refusedBlocks: one(L.COUNTER_REFUSED_BLOCKS),
    recordsLost: one(L.COUNTER_RECORDS_LOST),
    edges: many(L.COUNTER_EDGES, 2),
    edgesEarly: many(L.COUNTER_EDGES_EARLY, 2),
    edgesMissed: many(L.COUNTER_EDGES_MISSED, 2),
    edgesIrregular: many(L.COUNTER_EDGES_IRREGULAR, 2),
    referenceLost: many(L.COUNTER_REFERENCE_LOST, 2),
    indexContradictions: many(L.COUNTER_INDEX_CONTRADICTIONS, 2),
    samplesNotFinite: many(L.COUNTER_SAMPLES_NOT_FINITE, 4),
    samplesClipped: many(L.COUNTER_SAMPLES_CLIPPED, 4),
    health: many(L.COUNTER_HEALTH, 7),
    revolutions: many(L.COUNTER_REVOLUTIONS, 2),
    samplesLate: many(L.COUNTER_SAMPLES_LATE, 2),
  };
}
