// What must hold of every display's records, whatever made its number: three laws of a caution,
// and that each change of its output has one event. No model: nothing says when a caution comes.
import * as L from "../../shared/layout.ts";
import * as U from "../../shared/units.ts";
import type { DecodedRecord, EventRecord, LevelRecord } from "../../host/record-types.ts";

export interface CautionBounds {
  levelCounts: number;
  hysteresisCounts: number;
  onDelaySteps: number;
  offDelaySteps: number;
  whenInvalid: "end" | "hold";
}

interface Row {
  isValid: boolean;
  isAt: boolean;
  isUnder: boolean;
  isHeld: boolean;
  isOn: boolean;
  isInhibited: boolean;
}

const CHANGES: readonly number[] = [
  U.EVENT_CAUTION_ON,
  U.EVENT_CAUTION_OFF,
  U.EVENT_CAUTION_ENDED_INVALID,
];

function rowOf(bounds: CautionBounds, record: LevelRecord): Row {
  const has = (bit: number): boolean => (record.statusBits & bit) !== 0;
  const isValid = record.validity === U.VALID;
  const low = bounds.levelCounts - bounds.hysteresisCounts;
  return {
    isValid,
    isAt: isValid && record.shownCounts >= bounds.levelCounts,
    isUnder: isValid && record.shownCounts < low,
    isHeld: has(L.STATUS_HELD),
    isOn: has(L.STATUS_CAUTION),
    isInhibited: has(L.STATUS_INHIBITED),
  };
}

/** The laws that one display's records break, in words; empty where all hold. */
export class CautionLaws {
  readonly #bounds: CautionBounds;
  readonly #filter: number;
  #last: Row | undefined;
  /** Steps in a row, this one among them. */
  #at = 0;
  #under = 0;
  #waiting = 0;
  /** Since the output came on, or went off, by the number. */
  #sinceChange = Infinity;
  changes = 0;
  readonly broken: string[] = [];

  constructor(bounds: CautionBounds, filter: number) {
    this.#bounds = bounds;
    this.#filter = filter;
  }

  /** Takes a stream of records, in order. */
  take(records: readonly DecodedRecord[]): this {
    const events = new Map<number, EventRecord[]>();
    for (const one of records) {
      if (one.kind !== "event" || one.source !== this.#filter) continue;
      if (CHANGES.includes(one.code)) events.set(one.tick, [...(events.get(one.tick) ?? []), one]);
    }
    for (const one of records) {
      if (one.kind === "level" && one.filter === this.#filter) {
        this.#step(one, events.get(one.tick) ?? []);
      }
    }
    return this;
  }

  #step(record: LevelRecord, events: readonly EventRecord[]): void {
    const bounds = this.#bounds;
    const now = rowOf(bounds, record);
    const last = this.#last;
    const must = (holds: boolean, law: string): void => {
      if (!holds) this.broken.push(`${law}, at tick ${record.tick}`);
    };
    this.#at = now.isAt ? this.#at + 1 : 0;
    this.#under = now.isUnder ? this.#under + 1 : 0;
    this.#waiting = now.isAt && !now.isOn && !now.isInhibited ? this.#waiting + 1 : 0;
    this.#sinceChange += 1;
    const keepsHeld = now.isHeld && bounds.whenInvalid === "hold";

    must(((record.statusBits & L.STATUS_AT_LEVEL) !== 0) === now.isAt, "the number's own place");
    must(!(now.isOn && now.isInhibited), "nothing is on under an inhibit");
    must(this.#waiting <= bounds.onDelaySteps, "at the level for longer than the on-delay");
    must(
      !now.isOn || !now.isUnder || this.#under <= bounds.offDelaySteps,
      "on for longer than the off-delay",
    );
    must(!now.isOn || now.isValid || keepsHeld, "on over an invalid number");

    const wasOn = last?.isOn ?? false;
    if (now.isOn && !wasOn && !(last?.isInhibited ?? false)) {
      must(now.isValid, "invalid turned into a caution");
      must(this.#at > bounds.onDelaySteps, "on before its delay was over");
      must(this.#sinceChange > bounds.onDelaySteps, "on sooner after off than the on-delay");
    }
    if (wasOn && !now.isOn && !now.isInhibited && now.isValid) {
      must(this.#under > bounds.offDelaySteps, "off before its delay was over");
      must(this.#sinceChange > bounds.offDelaySteps, "off sooner after on than the off-delay");
    }
    if (now.isOn !== wasOn) {
      // What an inhibit hid or gave back is no change of the number's: its delays ran on.
      const isByInhibit = now.isInhibited || (last?.isInhibited ?? false);
      this.#sinceChange = isByInhibit ? Infinity : 0;
      this.changes += 1;
    }
    this.#told(now, wasOn, events, must);
    this.#last = now;
  }

  #told(
    now: Row,
    wasOn: boolean,
    events: readonly EventRecord[],
    must: (holds: boolean, law: string) => void,
  ): void {
    must(events.length === Number(now.isOn !== wasOn), "one event for each change");
    const code = events[0]?.code;
    if (code === U.EVENT_CAUTION_ON) must(now.isOn, "an event that tells what is");
    if (code === U.EVENT_CAUTION_OFF) {
      must(!now.isOn && (now.isValid || now.isInhibited), "lost validity has its own event");
    }
    if (code === U.EVENT_CAUTION_ENDED_INVALID) {
      must(!now.isOn && !now.isValid, "an end by lost validity is one");
    }
  }
}
