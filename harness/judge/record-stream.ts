// Cuts a stream of records into display steps; records that fit no step are handed out as strays.
import { RECORD_BYTES } from "../../shared/layout.ts";
import { EVENT_CAUTION_ON, EVENT_SUBSTITUTE_OFF } from "../../shared/units.ts";
import { decodeRecord } from "../../host/records.ts";
import type {
  DecodedRecord,
  EventRecord,
  ExceedanceRecord,
  LevelRecord,
} from "../../host/record-types.ts";

/** All that came with one display step. */
export interface StepGroup {
  step: number;
  tick: number;
  /** By filter; a record that did not come is undefined. */
  levels: (LevelRecord | undefined)[];
  /** Events of displays, up to and at the step. */
  events: EventRecord[];
  exceedances: ExceedanceRecord[];
}

export interface RecordSink {
  /** Called for steps 1, 2, 3 … in order, once each, also where no record came. */
  step(group: StepGroup): void;
  /** Events of tachometers, channels and the device. */
  deviceEvent(event: EventRecord): void;
  /** A level record at a step that does not exist, twice, too late, or of no filter. */
  stray(record: LevelRecord, why: string): void;
  /** Bytes that are no record, or events after the last step. */
  garbage(why: string): void;
}

/** Whether an event code belongs to a display (caution, validity, inputs, substitute). */
export function isDisplayEvent(code: number): boolean {
  return code >= EVENT_CAUTION_ON && code <= EVENT_SUBSTITUTE_OFF;
}

/** Takes bytes in pieces of any size and hands out whole display steps in order. */
export class RecordStream {
  private step = 1;
  private sequence = 0;
  private levels: (LevelRecord | undefined)[];
  private events: EventRecord[] = [];
  private exceedances: ExceedanceRecord[] = [];
  private rest = new Uint8Array(RECORD_BYTES);
  private restBytes = 0;
  private readonly none: undefined[];
  private readonly stepTicks: number;
  private readonly stepCount: number;
  private readonly filterCount: number;
  private readonly sink: RecordSink;

  constructor(stepTicks: number, stepCount: number, filterCount: number, sink: RecordSink) {
    this.stepTicks = stepTicks;
    this.stepCount = stepCount;
    this.filterCount = filterCount;
    this.sink = sink;
    this.none = Array.from({ length: filterCount }, () => undefined);
    this.levels = this.emptyLevels();
  }

  take(records: Uint8Array): void {
    let at = 0;
    if (this.restBytes > 0) {
      at = Math.min(RECORD_BYTES - this.restBytes, records.byteLength);
      this.rest.set(records.subarray(0, at), this.restBytes);
      this.restBytes += at;
      if (this.restBytes < RECORD_BYTES) return;
      this.restBytes = 0;
      this.decode(new DataView(this.rest.buffer), 0);
    }
    const view = new DataView(records.buffer, records.byteOffset, records.byteLength);
    for (; at + RECORD_BYTES <= records.byteLength; at += RECORD_BYTES) this.decode(view, at);
    this.restBytes = records.byteLength - at;
    if (this.restBytes > 0) this.rest.set(records.subarray(at));
  }

  finish(): void {
    if (this.restBytes > 0) this.sink.garbage(`${this.restBytes} bytes are left over at the end`);
    while (this.step <= this.stepCount) this.close();
    for (const event of this.events) {
      this.sink.garbage(`event ${event.code} of filter ${event.source} comes after the last step`);
    }
    for (const { filter } of this.exceedances) {
      this.sink.garbage(`exceedance of filter ${filter} comes after the last step`);
    }
  }

  private decode(view: DataView, at: number): void {
    let record: DecodedRecord;
    try {
      record = decodeRecord(view, at);
    } catch (error) {
      this.sink.garbage(error instanceof Error ? error.message : String(error));
      return;
    }
    this.takeRecord(record);
  }

  takeRecord(record: DecodedRecord): void {
    const { sequence } = record;
    // The first is 0; each takes the next number, a lost one too.
    if (sequence !== this.sequence) {
      this.sink.garbage(`a record's sequence is ${sequence}, expected ${this.sequence}`);
    }
    this.sequence = (sequence + 1) >>> 0;
    if (record.kind === "level") this.takeLevel(record);
    else if (record.kind === "exceedance") this.exceedances.push(record);
    else if (isDisplayEvent(record.code)) this.events.push(record);
    else this.sink.deviceEvent(record);
  }

  private takeLevel(record: LevelRecord): void {
    const step = record.tick / this.stepTicks;
    if (record.filter >= this.filterCount) {
      this.sink.stray(record, "no such filter");
    } else if (!Number.isInteger(step) || step < 1 || step > this.stepCount) {
      this.sink.stray(record, "no display step stands there");
    } else if (step < this.step) {
      this.sink.stray(record, "its step was over");
    } else {
      while (this.step < step) this.close();
      if (this.levels[record.filter] === undefined) this.levels[record.filter] = record;
      else this.sink.stray(record, "it comes twice");
    }
  }

  /** Hands out the step; events of a later tick wait for theirs. */
  private close(): void {
    const tick = this.step * this.stepTicks;
    const events = this.events;
    const exceedances = this.exceedances;
    this.events = events.filter((event) => event.tick > tick);
    this.exceedances = exceedances.filter((one) => one.endTick > tick);
    this.sink.step({
      step: this.step,
      tick,
      levels: this.levels,
      events: events.filter((event) => event.tick <= tick),
      exceedances: exceedances.filter((one) => one.endTick <= tick),
    });
    this.levels = this.emptyLevels();
    this.step += 1;
  }

  private emptyLevels(): (LevelRecord | undefined)[] {
    return this.none.slice();
  }
}
