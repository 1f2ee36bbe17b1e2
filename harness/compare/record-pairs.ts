// Two streams of records of one scene, held against each other as they come: where they first part,
// and what that does to levels, numbers, cautions and events. Memory does not grow with the flight.
import { RECORD_BYTES } from "../../shared/layout.ts";
import {
  EVENT_CAUTION_ENDED_INVALID,
  EVENT_CAUTION_OFF,
  EVENT_CAUTION_ON,
} from "../../shared/units.ts";
import type { DecodedRecord, EventRecord, LevelRecord } from "../../host/record-types.ts";
import { encodeRecord } from "../../host/records.ts";
import type { MonitorProfile } from "../scene/scene.ts";
import { EVENT_NAMES } from "../judge/event-names.ts";
import { SourceNames } from "../judge/source-names.ts";
import { ulpsApart } from "./float-distance.ts";
import { Only, Side, sideRecord, viewOf } from "./record-side.ts";

/** Level records of one stream that wait for the other's, at most: a lag, not a flight. */
const WAITING_MAX = 1 << 14;
/** Events that are kept to be paired; a flight has dozens. */
const EVENTS_MAX = 1 << 16;
/** Fields that are single-precision numbers. */
const FLOATS = new Set([
  "speedRevPerS",
  "speedNowRevPerS",
  "re",
  "im",
  "level",
  "integrationDistance",
  "peakLevel",
  "speedAtPeakRevPerS",
]);
const CAUTION_EDGES = [EVENT_CAUTION_ON, EVENT_CAUTION_OFF, EVENT_CAUTION_ENDED_INVALID];

export interface FieldDifference {
  field: string;
  a: number | string;
  b: number | string;
  /** Of single-precision fields. */
  ulps?: number;
}

/** The first record that is not the same. */
export interface FirstDifference {
  /** Place in the stream, from 0. */
  record: number;
  kind: string;
  /** Name of the number, shaft or channel that it is of. */
  of: string;
  timeS: number;
  /** Empty where one stream has no record there, or one of another kind. */
  fields: FieldDifference[];
  /** Said where the two are not of one kind. */
  note?: string;
}

export interface Worst {
  value: number;
  timeS: number;
  filter: string;
}

/** What the differences do. Counts are of display steps of one filter each. */
export interface Effects {
  levelsCompared: number;
  levelsDiffering: number;
  ulps?: Worst;
  /** |a − b| over the greater of the two. */
  share?: Worst;
  counts?: Worst;
  shownDiffering: number;
  validityDiffering: number;
  cautionDiffering: number;
  /** Greatest distance of paired caution edges, display periods. */
  cautionMovedPeriods: number;
  /** Records or events that one alone has. */
  onlyA: string[];
  onlyB: string[];
}

/** One record as it came, and what it says. */
interface OneRecord {
  bytes: Uint8Array;
  record: DecodedRecord;
}

/** The bytes that the fields stand for: those that are of no field are 0. */
function bytesOfFields(record: DecodedRecord): Uint8Array {
  const bytes = new Uint8Array(RECORD_BYTES);
  encodeRecord(record, viewOf(bytes), 0);
  return bytes;
}

/** Every field that differs, then every byte that differs without a field that tells it. */
function fieldDifferences(a: OneRecord, b: OneRecord): FieldDifference[] {
  const found: FieldDifference[] = [];
  const other = b.record as unknown as Record<string, number>;
  for (const [field, value] of Object.entries(a.record) as [string, number][]) {
    const theirs = other[field]!;
    if (Object.is(value, theirs)) continue;
    const ulps = FLOATS.has(field) ? ulpsApart(value, theirs) : undefined;
    found.push({ field, a: told(value), b: told(theirs), ...(ulps === undefined ? {} : { ulps }) });
  }
  // Beside bytes of no field, those of a NaN that is another one, which no field tells either.
  const areTold = found.length > 0;
  const [ofA, ofB] = [bytesOfFields(a.record), bytesOfFields(b.record)];
  for (let i = 0; i < RECORD_BYTES; i += 1) {
    const [byteA, byteB] = [a.bytes[i]!, b.bytes[i]!];
    const isTold = areTold && ofA[i] !== ofB[i];
    if (byteA === byteB || isTold) continue;
    found.push({ field: `byte ${i}`, a: byteA, b: byteB });
  }
  return found;
}

/** What JSON cannot hold as a number becomes text. */
const told = (value: number): number | string =>
  Object.is(value, -0) ? "-0" : Number.isFinite(value) ? value : String(value);

const isEqualBytes = (a: Uint8Array, b: Uint8Array): boolean =>
  Buffer.from(a.buffer, a.byteOffset, a.byteLength).equals(b);

const keyOf = ({ filter, tick }: LevelRecord): string => `${filter} ${tick}`;

/** Takes both streams in pieces of any size; `finish` says what came out. */
export class RecordPairs {
  readonly #profile: MonitorProfile;
  readonly #names: SourceNames;
  readonly #sides = [new Side(), new Side()] as const;
  readonly #only = [new Only(), new Only()] as const;
  #first: FirstDifference | undefined;
  readonly #effects: Effects = {
    levelsCompared: 0,
    levelsDiffering: 0,
    shownDiffering: 0,
    validityDiffering: 0,
    cautionDiffering: 0,
    cautionMovedPeriods: 0,
    onlyA: [],
    onlyB: [],
  };
  #index = 0;
  #lastS = 0;

  constructor(profile: MonitorProfile) {
    this.#profile = profile;
    this.#names = new SourceNames(profile);
  }

  /** Errors: SideError where bytes are no record of this layout. */
  take(a: Uint8Array, b: Uint8Array): void {
    this.#sides[0].add(a);
    this.#sides[1].add(b);
    this.#drain(Math.min(this.#sides[0].ready, this.#sides[1].ready));
    if (this.#sides[1].isOver) this.#alone(0);
    if (this.#sides[0].isOver) this.#alone(1);
  }

  /** No more comes of a side: what the other has beyond it is its own, and need not be kept. */
  over(side: 0 | 1): void {
    this.#sides[side].isOver = true;
  }

  #drain(count: number): void {
    const [a, b] = [this.#sides[0].take(count), this.#sides[1].take(count)];
    const [viewA, viewB] = [viewOf(a), viewOf(b)];
    const isEqual = isEqualBytes(a, b);
    for (let i = 0; i < count; i += 1) {
      const at = i * RECORD_BYTES;
      const recordA = sideRecord(0, viewA, at, this.#index);
      const recordB = sideRecord(1, viewB, at, this.#index);
      if (!isEqual && this.#first === undefined) {
        const bytesOf = (all: Uint8Array): Uint8Array => all.subarray(at, at + RECORD_BYTES);
        this.#compare(
          { bytes: bytesOf(a), record: recordA },
          { bytes: bytesOf(b), record: recordB },
        );
      }
      this.#index += 1;
      this.#keep(0, recordA);
      this.#keep(1, recordB);
    }
  }

  #compare(a: OneRecord, b: OneRecord): void {
    if (isEqualBytes(a.bytes, b.bytes)) return;
    const [ofA, ofB] = [a.record, b.record];
    const isOneKind = ofA.kind === ofB.kind && this.#of(ofA) === this.#of(ofB);
    this.#first = {
      record: this.#index,
      ...this.#place(ofA),
      fields: isOneKind ? fieldDifferences(a, b) : [],
      ...(isOneKind ? {} : { note: `A has ${this.#words(ofA)}, B ${this.#words(ofB)}` }),
    };
  }

  #place(record: DecodedRecord): { kind: string; of: string; timeS: number } {
    return { kind: record.kind, of: this.#of(record), timeS: this.#timeOf(tickOf(record)) };
  }

  #timeOf(tick: number): number {
    return tick / this.#profile.clockHz;
  }

  #of(record: DecodedRecord): string {
    return record.kind === "event"
      ? `${EVENT_NAMES[record.code] ?? `event ${record.code}`} of ` +
          this.#names.ofEvent(record.code, record.source)
      : this.#names.ofFilter(record.filter);
  }

  #words(record: DecodedRecord): string {
    const { kind, of, timeS } = this.#place(record);
    return kind === "event" ? `${of} at ${timeS} s` : `the ${kind} of ${of} at ${timeS} s`;
  }

  #keep(side: 0 | 1, record: DecodedRecord): void {
    this.#lastS = this.#timeOf(tickOf(record));
    if (record.kind === "event") {
      const { events } = this.#sides[side];
      if (events.length < EVENTS_MAX) events.push(record);
    }
    if (record.kind !== "level") return;
    const other = this.#sides[1 - side]!.waiting;
    const key = keyOf(record);
    const match = other.get(key);
    if (match === undefined) {
      const { waiting } = this.#sides[side];
      waiting.set(key, record);
      if (waiting.size > WAITING_MAX) this.#drop(side, waiting.keys().next().value!);
      return;
    }
    other.delete(key);
    this.#pair(side === 0 ? record : match, side === 0 ? match : record);
  }

  #drop(side: 0 | 1, key: string): void {
    const { waiting } = this.#sides[side];
    const record = waiting.get(key)!;
    this.#only[side].push(() => this.#words(record));
    waiting.delete(key);
  }

  #pair(a: LevelRecord, b: LevelRecord): void {
    const effects = this.#effects;
    effects.levelsCompared += 1;
    if (a.validity !== b.validity || a.cause !== b.cause) effects.validityDiffering += 1;
    if (a.cautionState !== b.cautionState) effects.cautionDiffering += 1;
    const where = { timeS: this.#timeOf(a.tick), filter: this.#names.ofFilter(a.filter) };
    const note = (name: "ulps" | "share" | "counts", value: number): void => {
      if (value > (effects[name]?.value ?? 0)) effects[name] = { value, ...where };
    };
    if (a.shownCounts !== b.shownCounts) {
      effects.shownDiffering += 1;
      note("counts", Math.abs(a.shownCounts - b.shownCounts));
    }
    const ulps = ulpsApart(a.level, b.level);
    if (ulps === 0) return;
    effects.levelsDiffering += 1;
    // A NaN on one side alone is no number of places away.
    if (ulps === undefined) return;
    note("ulps", ulps);
    const greater = Math.max(Math.abs(a.level), Math.abs(b.level));
    note("share", Math.abs(a.level - b.level) / greater);
  }

  /** Pairs events of one kind and source in their order; caution edges tell how far they moved. */
  #pairEvents(): void {
    const [a, b] = [this.#sides[0].events, this.#sides[1].events];
    const keys = new Set([...a, ...b].map(({ code, source }) => `${code} ${source}`));
    for (const key of keys) {
      const own = (events: EventRecord[]): EventRecord[] =>
        events.filter(({ code, source }) => `${code} ${source}` === key);
      const [ofA, ofB] = [own(a), own(b)];
      const paired = Math.min(ofA.length, ofB.length);
      for (let i = 0; i < paired; i += 1) {
        if (!CAUTION_EDGES.includes(ofA[i]!.code)) continue;
        const periodTicks = this.#profile.displayPeriodS * this.#profile.clockHz;
        const moved = Math.abs(ofA[i]!.tick - ofB[i]!.tick) / periodTicks;
        const { cautionMovedPeriods } = this.#effects;
        this.#effects.cautionMovedPeriods = Math.max(cautionMovedPeriods, Math.round(moved));
      }
      for (const one of ofA.slice(paired)) this.#only[0].push(() => this.#words(one));
      for (const one of ofB.slice(paired)) this.#only[1].push(() => this.#words(one));
    }
  }

  /** What has come of a side, beyond the end of the other, is its own. */
  #alone(side: 0 | 1): void {
    const one = this.#sides[side];
    const count = one.ready;
    if (count === 0) return;
    const from = one.records;
    const view = viewOf(one.take(count));
    for (let i = 0; i < count; i += 1) {
      const record = sideRecord(side, view, i * RECORD_BYTES, from + i);
      this.#first ??= {
        record: from + i,
        ...this.#place(record),
        fields: [],
        note: `${side === 0 ? "A" : "B"} alone has a record here`,
      };
      this.#keep(side, record);
    }
  }

  #end(): void {
    this.#alone(0);
    this.#alone(1);
    for (const side of [0, 1] as const) {
      for (const key of this.#sides[side].waiting.keys()) this.#drop(side, key);
    }
    this.#pairEvents();
  }

  finish(): {
    isEqual: boolean;
    records: [number, number];
    first?: FirstDifference;
    effects: Effects;
  } {
    this.#end();
    const [a, b] = this.#sides;
    const isCut = !isEqualBytes(a.rest, b.rest);
    // Only where all whole records are the same: else the first of those is told.
    if (isCut && this.#first === undefined) {
      const note = `A ends with ${a.rest.length} bytes of a record, B with ${b.rest.length}`;
      const place = { kind: "end", of: "of the records", timeS: this.#lastS };
      this.#first = { record: a.records, ...place, fields: [], note };
    }
    return {
      isEqual: this.#first === undefined,
      records: [a.records, b.records],
      ...(this.#first === undefined ? {} : { first: this.#first }),
      effects: {
        ...this.#effects,
        onlyA: this.#only[0].list(),
        onlyB: this.#only[1].list(),
      },
    };
  }
}

const tickOf = (record: DecodedRecord): number =>
  record.kind === "exceedance" ? record.endTick : record.tick;
