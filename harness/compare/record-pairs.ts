// Two streams of records of one scene, held against each other as they come: where they first part,
// and what that does to levels, numbers, cautions and events. Memory does not grow with the flight.
import { RECORD_BYTES } from "../../shared/layout.ts";
import {
  EVENT_CAUTION_ENDED_INVALID,
  EVENT_CAUTION_OFF,
  EVENT_CAUTION_ON,
} from "../../shared/units.ts";
import type { DecodedRecord, EventRecord, LevelRecord } from "../../host/record-types.ts";
import { decodeRecord } from "../../host/records.ts";
import type { MonitorProfile } from "../scene/scene.ts";
import { EVENT_NAMES } from "../judge/event-names.ts";
import { SourceNames } from "../judge/source-names.ts";
import { ulpsApart } from "./float-distance.ts";

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

/** Names told of what one alone has. */
const ONLY_MAX = 8;

const isSame = (a: unknown, b: unknown): boolean => Object.is(a, b) || a === b;

function fieldDifferences(a: DecodedRecord, b: DecodedRecord): FieldDifference[] {
  const found: FieldDifference[] = [];
  const other = b as unknown as Record<string, number>;
  for (const [field, value] of Object.entries(a) as [string, number][]) {
    const theirs = other[field]!;
    if (isSame(value, theirs)) continue;
    const ulps = FLOATS.has(field) ? ulpsApart(value, theirs) : undefined;
    found.push({ field, a: told(value), b: told(theirs), ...(ulps === undefined ? {} : { ulps }) });
  }
  return found;
}

/** What JSON cannot hold as a number becomes text. */
const told = (value: number): number | string => (Number.isFinite(value) ? value : String(value));

class Side {
  #rest: Uint8Array = new Uint8Array(0);
  readonly waiting = new Map<string, LevelRecord>();
  readonly events: EventRecord[] = [];
  records = 0;

  /** Whole records that have come and not yet been taken. */
  add(bytes: Uint8Array): void {
    const all = new Uint8Array(this.#rest.byteLength + bytes.byteLength);
    all.set(this.#rest);
    all.set(bytes, this.#rest.byteLength);
    this.#rest = all;
  }

  get ready(): number {
    return Math.floor(this.#rest.byteLength / RECORD_BYTES);
  }

  take(count: number): Uint8Array {
    const bytes = this.#rest.subarray(0, count * RECORD_BYTES);
    this.#rest = this.#rest.slice(count * RECORD_BYTES);
    this.records += count;
    return bytes;
  }

  /** Bytes that are no whole record. */
  get oddBytes(): number {
    return this.#rest.byteLength % RECORD_BYTES;
  }
}

const viewOf = (bytes: Uint8Array): DataView =>
  new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);

const keyOf = ({ filter, tick }: LevelRecord): string => `${filter} ${tick}`;

/** Takes both streams in pieces of any size; `finish` says what came out. */
export class RecordPairs {
  readonly #profile: MonitorProfile;
  readonly #names: SourceNames;
  readonly #sides = [new Side(), new Side()] as const;
  readonly #only: [string[], string[]] = [[], []];
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

  constructor(profile: MonitorProfile) {
    this.#profile = profile;
    this.#names = new SourceNames(profile);
  }

  /** Errors: RecordError where bytes are no record of this layout. */
  take(a: Uint8Array, b: Uint8Array): void {
    this.#sides[0].add(a);
    this.#sides[1].add(b);
    this.#drain(Math.min(this.#sides[0].ready, this.#sides[1].ready));
  }

  #drain(count: number): void {
    const [a, b] = [this.#sides[0].take(count), this.#sides[1].take(count)];
    const [viewA, viewB] = [viewOf(a), viewOf(b)];
    const isEqual = Buffer.from(a.buffer, a.byteOffset, a.byteLength).equals(b);
    for (let i = 0; i < count; i += 1) {
      const recordA = decodeRecord(viewA, i * RECORD_BYTES);
      const recordB = decodeRecord(viewB, i * RECORD_BYTES);
      if (!isEqual) this.#compare(recordA, recordB);
      this.#index += 1;
      this.#keep(0, recordA);
      this.#keep(1, recordB);
    }
  }

  #compare(a: DecodedRecord, b: DecodedRecord): void {
    if (this.#first !== undefined) return;
    const fields = fieldDifferences(a, b);
    if (fields.length === 0) return;
    const isOneKind = a.kind === b.kind && this.#of(a) === this.#of(b);
    this.#first = {
      record: this.#index,
      ...this.#place(a),
      fields: isOneKind ? fields : [],
      ...(isOneKind ? {} : { note: `A has ${this.#words(a)}, B ${this.#words(b)}` }),
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
    this.#only[side].push(this.#words(waiting.get(key)!));
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
    if (isSame(a.level, b.level)) return;
    effects.levelsDiffering += 1;
    note("ulps", ulpsApart(a.level, b.level) ?? Infinity);
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
      this.#only[0].push(...ofA.slice(paired).map((one) => this.#words(one)));
      this.#only[1].push(...ofB.slice(paired).map((one) => this.#words(one)));
    }
  }

  /** The rest of the longer stream counts as its own. */
  #end(): void {
    for (const side of [0, 1] as const) {
      const one = this.#sides[side];
      const count = one.ready;
      const view = viewOf(one.take(count));
      for (let i = 0; i < count; i += 1) {
        const record = decodeRecord(view, i * RECORD_BYTES);
        this.#first ??= {
          record: this.#index + i,
          ...this.#place(record),
          fields: [],
          note: `${side === 0 ? "A" : "B"} alone has a record here`,
        };
        this.#keep(side, record);
      }
    }
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
    const odd = this.#sides.map((one) => one.oddBytes);
    const [a, b] = this.#only;
    const few = (all: string[]): string[] =>
      all.length <= ONLY_MAX
        ? all
        : [...all.slice(0, ONLY_MAX), `and ${all.length - ONLY_MAX} more`];
    return {
      isEqual: this.#first === undefined && odd[0] === odd[1],
      records: [this.#sides[0].records, this.#sides[1].records],
      ...(this.#first === undefined ? {} : { first: this.#first }),
      effects: { ...this.#effects, onlyA: few(a), onlyB: few(b) },
    };
  }
}

const tickOf = (record: DecodedRecord): number =>
  record.kind === "exceedance" ? record.endTick : record.tick;
