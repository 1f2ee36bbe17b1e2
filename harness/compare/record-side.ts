// One of two streams of records: what has come of it and is not compared yet.
import { RECORD_BYTES, RECORD_KIND } from "../../shared/layout.ts";
import type { DecodedRecord, EventRecord, LevelRecord } from "../../host/record-types.ts";
import { RecordError, decodeRecord } from "../../host/records.ts";

/** Names told of what one alone has. */
const ONLY_MAX = 8;

/** Bytes of one side that are no record. */
export class SideError extends Error {
  readonly side: 0 | 1;
  constructor(side: 0 | 1, said: string) {
    super(said);
    this.side = side;
  }
}

export const viewOf = (bytes: Uint8Array): DataView =>
  new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);

/** The record at `at` of the bytes, which is number `record` of its stream. Errors: SideError. */
export function sideRecord(side: 0 | 1, view: DataView, at: number, record: number): DecodedRecord {
  try {
    return decodeRecord(view, at);
  } catch (error) {
    if (!(error instanceof RecordError)) throw error;
    const kind = view.getUint8(at + RECORD_KIND);
    const byte = record * RECORD_BYTES;
    throw new SideError(side, `record ${record}, from byte ${byte}: kind ${kind} is not known`);
  }
}

export class Side {
  #rest: Uint8Array = new Uint8Array(0);
  readonly waiting = new Map<string, LevelRecord>();
  readonly events: EventRecord[] = [];
  /** No more of it comes. */
  isOver = false;
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

  /** What is left: once all whole records are taken, bytes that are none. */
  get rest(): Uint8Array {
    return this.#rest;
  }
}

/** Names of what one side alone has: the first few, and how many there are. */
export class Only {
  readonly #first: string[] = [];
  #count = 0;

  push(words: () => string): void {
    this.#count += 1;
    if (this.#first.length < ONLY_MAX) this.#first.push(words());
  }

  list(): string[] {
    const more = this.#count - this.#first.length;
    return more > 0 ? [...this.#first, `and ${more} more`] : this.#first;
  }
}
