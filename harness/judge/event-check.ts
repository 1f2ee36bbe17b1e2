// Events: each expected one comes once in its window, none comes unexpected, and an event of a
// display agrees with the level record of its step.
import { EVENT_REFERENCE_LOST } from "../../shared/units.ts";
import type { EventRecord, LevelRecord } from "../../host/record-types.ts";
import type { EventTruth } from "../truth/types.ts";
import type { CheckResult, EventResult } from "./types.ts";
import { CheckTally } from "./check-tally.ts";
import type { StepClock } from "./clock.ts";
import { eventName, isLostReason } from "./event-names.ts";
import { isDisplayEvent } from "./record-stream.ts";
import { numberText, timeText, toleranceText, traceNumber } from "./sentences.ts";
import type { SourceNames } from "./source-names.ts";

/** Events that results list, and device events that are kept for matching: a bound on memory. */
const LISTED_MAX = 2000;
const DEVICE_EVENTS_MAX = 20_000;

/** An event that a display must send at one step. */
export interface DueEvent {
  code: number;
  fromTick: number;
  untilTick: number;
  detail?: number;
  why: string;
}

/** A device event that fitted nothing, with the list's row for it. */
type Kept = { event: EventRecord; result: EventResult | undefined };

/** Fields in which an event of a display repeats the level record of its step. */
const REPEATED = [
  ["shownCounts", "number"],
  ["level", "level"],
  ["re", "vector"],
  ["im", "vector"],
  ["revolution", "revolution"],
  ["speedRevPerS", "speed"],
] as const;

export class EventCheck {
  readonly listed: EventResult[] = [];
  private readonly tally = new CheckTally("events", -1, "events");
  private readonly device: Kept[] = [];
  private readonly names: SourceNames;
  private readonly clock: StepClock;

  constructor(names: SourceNames, clock: StepClock) {
    this.names = names;
    this.clock = clock;
    this.tally.smallestCaught = 1;
  }

  /** Keeps an event of a tachometer, a channel or the device until the end. */
  deviceEvent(event: EventRecord): void {
    const result = this.list(event, false);
    if (event.code === EVENT_REFERENCE_LOST && !isLostReason(event.detail)) {
      this.unexpected(event, `and there is no reason ${event.detail}`);
    }
    if (this.device.length < DEVICE_EVENTS_MAX) this.device.push({ event, result });
    else this.unexpected(event, "more device events than can be kept");
  }

  /** Judges the events of one display at one step. */
  display(
    filter: number,
    due: DueEvent[],
    found: EventRecord[],
    record: LevelRecord | undefined,
  ): void {
    const open = found.filter((event) => event.source === filter);
    for (const one of due) {
      const at = open.findIndex((event) => fits(event, one));
      const event = at < 0 ? undefined : open.splice(at, 1)[0];
      const timeS = this.clock.timeOf(one.untilTick);
      const wrong = event === undefined ? "none came" : disagreement(event, record);
      if (event !== undefined) this.list(event, true);
      this.tally.fact(wrong === undefined, timeS, () => {
        const what = this.what(one.code, filter);
        return `${what} expected at ${this.at(timeS)} (${one.why}), ${wrong}`;
      });
    }
    for (const event of open) {
      this.list(event, false);
      this.unexpected(event, "none was expected then");
    }
  }

  /** An event that no step takes. */
  unexpected(event: EventRecord, why: string): void {
    this.wrong(event, () => why);
  }

  garbage(why: string): void {
    this.tally.wrong(0, () => why);
  }

  /**
   * Matches the device's events with the truth's, each in its window: what must come before what
   * may, the earliest window first.
   */
  finish(truth: EventTruth[]): CheckResult {
    const due = truth.filter((one) => !isDisplayEvent(one.code));
    const open = due
      .map((one) => ({ one, left: one.isOptional === true ? (one.countMax ?? 1) : 1 }))
      .toSorted((a, b) => rank(a.one) - rank(b.one) || a.one.untilTick - b.one.untilTick);
    const strays: EventRecord[] = [];
    for (const { event, result } of this.device) {
      const match = open.find(
        ({ one, left }) => left > 0 && one.source === event.source && fits(event, one),
      );
      if (match === undefined) {
        strays.push(event);
        continue;
      }
      match.left -= 1;
      if (result !== undefined) result.isExpected = true;
      this.tally.fact(true, 0, () => "");
    }
    // What is missing is told first: a stray of its kind is then told with it.
    for (const { one, left } of open) {
      if (left > 0 && one.isOptional !== true) this.missing(one, strays);
    }
    for (const event of strays) this.stray(event, due);
    const count = this.tally.judgedCount;
    const right = `all ${count} events came once, none unexpected`;
    return this.tally.result("event", count === 0 ? "no event was due, none came" : right);
  }

  /** An event that must come and did not; the nearest of its kind is told. */
  private missing(due: EventTruth, strays: EventRecord[]): void {
    this.tally.fact(false, this.clock.timeOf(due.fromTick), () => {
      const said = `${this.what(due.code, due.source)} expected ${this.window(due)}`;
      const near = nearest(strays, due, (event) => tickDistance(due, event.tick));
      if (near === undefined) return `${said}, none came`;
      return `${said}, came at ${this.at(this.clock.timeOf(near.tick))}${this.off(due, near)}`;
    });
  }

  /** An event that nothing expected; the nearest expectation of its kind is told. */
  private stray(event: EventRecord, due: EventTruth[]): void {
    this.wrong(event, () => {
      const near = nearest(due, event, (one) => tickDistance(one, event.tick));
      if (near === undefined) return "none was expected";
      const off = fits(event, near) ? ": one too many" : this.off(near, event);
      return `expected ${this.window(near)}${off}`;
    });
  }

  private wrong(event: EventRecord, why: () => string): void {
    const timeS = this.clock.timeOf(event.tick);
    this.tally.wrong(timeS, () => {
      return `${this.what(event.code, event.source)} came at ${this.at(timeS)}, ${why()}`;
    });
  }

  /** By how much an event misses what was due. */
  private off(due: EventTruth, event: EventRecord): string {
    const ticks = tickDistance(due, event.tick);
    if (ticks > 0) {
      const by = toleranceText(this.clock.timeOf(ticks));
      return `: ${by} ${this.clock.timeUnit} too ${event.tick > due.untilTick ? "late" : "early"}`;
    }
    const says = (detail: number): string => {
      return `"${this.names.detail(event.code, detail) || detail}"`;
    };
    return due.detail === undefined || due.detail === event.detail
      ? ""
      : ` and says ${says(event.detail)}, expected ${says(due.detail)}`;
  }

  /** "shaft N1: reference-lost". */
  private what(code: number, source: number): string {
    return `${this.names.ofEvent(code, source)}: event "${eventName(code)}"`;
  }

  private window({ fromTick, untilTick, why }: EventTruth): string {
    const [from, until] = [fromTick, untilTick].map((tick) => this.at(this.clock.timeOf(tick)));
    return from === until ? `at ${from} (${why})` : `from ${from} to ${until} (${why})`;
  }

  private list(event: EventRecord, isExpected: boolean): EventResult | undefined {
    if (this.listed.length >= LISTED_MAX) return undefined;
    const result: EventResult = {
      name: eventName(event.code),
      source: event.source,
      of: this.names.ofEvent(event.code, event.source),
      timeS: this.clock.timeOf(event.tick),
      speedRevPerS: traceNumber(event.speedRevPerS),
      level: traceNumber(event.level),
      detail: event.detail,
      detailText: this.names.detail(event.code, event.detail),
      isExpected,
    };
    this.listed.push(result);
    return result;
  }

  private at(timeS: number): string {
    return timeText(timeS, this.clock.timeUnit);
  }
}

/** Where an event says something else than the level record of its step; undefined: nowhere. */
function disagreement(event: EventRecord, record: LevelRecord | undefined): string | undefined {
  if (record === undefined || event.tick !== record.tick) return undefined;
  const differing = REPEATED.find(([field]) => event[field] !== record[field]);
  if (differing === undefined) return undefined;
  const [field, word] = differing;
  const [says, should] = [event[field], record[field]].map(numberText);
  return `it disagrees with the level record of its step: ${word} ${says}, the record's ${should}`;
}

/** What must come is matched before what may. */
function rank(due: EventTruth): number {
  return due.isOptional === true ? 1 : 0;
}

function tickDistance(due: DueEvent, tick: number): number {
  return Math.max(0, due.fromTick - tick, tick - due.untilTick);
}

/** Of those with this code and source the one at the least distance; the first of equals. */
function nearest<T extends { code: number; source: number }>(
  all: readonly T[],
  to: { code: number; source: number },
  distance: (one: T) => number,
): T | undefined {
  let best: T | undefined;
  for (const one of all) {
    if (one.code !== to.code || one.source !== to.source) continue;
    if (best === undefined || distance(one) < distance(best)) best = one;
  }
  return best;
}

/** Whether an event is one that is due: its code, its time and, where known, its detail. */
export function fits(event: EventRecord, due: DueEvent): boolean {
  return (
    event.code === due.code &&
    event.tick >= due.fromTick &&
    event.tick <= due.untilTick &&
    (due.detail === undefined || event.detail === due.detail)
  );
}
