// Events: each expected one comes once in its window, none comes unexpected, and an event of a
// display agrees with the level record of its step.
import type { EventRecord, LevelRecord } from "../../host/record-types.ts";
import type { EventTruth } from "../truth/types.ts";
import type { CheckResult, EventResult } from "./types.ts";
import { CheckTally } from "./check-tally.ts";
import type { StepClock } from "./clock.ts";
import { eventName } from "./event-names.ts";
import { isDisplayEvent } from "./record-stream.ts";
import { timeText, traceNumber } from "./sentences.ts";

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

export class EventCheck {
  readonly listed: EventResult[] = [];
  private readonly tally = new CheckTally("events", -1, "events");
  private readonly device: { event: EventRecord; result: EventResult | undefined }[] = [];
  private readonly clock: StepClock;

  constructor(clock: StepClock) {
    this.clock = clock;
    this.tally.smallestCaught = 1;
  }

  /** Keeps an event of a tachometer, a channel or the device until the end. */
  deviceEvent(event: EventRecord): void {
    const result = this.list(event, false);
    if (this.device.length < DEVICE_EVENTS_MAX) this.device.push({ event, result });
    else this.unexpected(event, "more device events than can be kept");
  }

  /** Judges the events of one display at one step. */
  display(
    filter: number,
    name: string,
    due: DueEvent[],
    found: EventRecord[],
    record: LevelRecord | undefined,
  ): void {
    const open = found.filter((event) => event.source === filter);
    for (const one of due) {
      const at = open.findIndex((event) => fits(event, one));
      const event = at < 0 ? undefined : open.splice(at, 1)[0];
      const timeS = this.clock.timeOf(one.untilTick);
      const wrong = event === undefined ? "did not come" : this.disagreement(event, record);
      if (event !== undefined) this.list(event, true);
      this.tally.fact(wrong === undefined, timeS, () => {
        return `${name}: "${eventName(one.code)}" due at ${this.at(timeS)} (${one.why}): ${wrong}`;
      });
    }
    for (const event of open) {
      this.list(event, false);
      this.unexpected(event, "not due then");
    }
  }

  /** An event that no step takes. */
  unexpected(event: EventRecord, why: string): void {
    const timeS = this.clock.timeOf(event.tick);
    this.tally.wrong(timeS, () => {
      const name = `"${eventName(event.code)}" of ${event.source}`;
      return `${name} came at ${this.at(timeS)}, ${why}`;
    });
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
    for (const { event, result } of this.device) {
      const match = open.find(
        ({ one, left }) => left > 0 && one.source === event.source && fits(event, one),
      );
      if (match === undefined) {
        this.unexpected(event, "not expected then");
        continue;
      }
      match.left -= 1;
      if (result !== undefined) result.isExpected = true;
      this.tally.fact(true, 0, () => "");
    }
    for (const { one, left } of open) {
      if (left === 0 || one.isOptional === true) continue;
      const fromS = this.clock.timeOf(one.fromTick);
      this.tally.fact(false, fromS, () => {
        const window = `${this.at(fromS)} to ${this.at(this.clock.timeOf(one.untilTick))}`;
        return `"${eventName(one.code)}" of ${one.source} missing, due ${window} (${one.why})`;
      });
    }
    const count = this.tally.judgedCount;
    const right = `all ${count} events came once, none unexpected`;
    return this.tally.result("event", count === 0 ? "no event was due, none came" : right);
  }

  private disagreement(event: EventRecord, record: LevelRecord | undefined): string | undefined {
    if (record === undefined || event.tick !== record.tick) return undefined;
    const agrees =
      event.shownCounts === record.shownCounts &&
      event.level === record.level &&
      event.re === record.re &&
      event.im === record.im &&
      event.revolution === record.revolution &&
      event.speedRevPerS === record.speedRevPerS;
    return agrees ? undefined : "it disagrees with the level record of its step";
  }

  private list(event: EventRecord, isExpected: boolean): EventResult | undefined {
    if (this.listed.length >= LISTED_MAX) return undefined;
    const result: EventResult = {
      name: eventName(event.code),
      source: event.source,
      timeS: this.clock.timeOf(event.tick),
      speedRevPerS: traceNumber(event.speedRevPerS),
      level: traceNumber(event.level),
      detail: event.detail,
      isExpected,
    };
    this.listed.push(result);
    return result;
  }

  private at(timeS: number): string {
    return timeText(timeS, this.clock.timeUnit);
  }
}

/** What must come is matched before what may. */
function rank(due: EventTruth): number {
  return due.isOptional === true ? 1 : 0;
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
