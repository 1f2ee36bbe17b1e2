// What the scenario itself states beyond the computed truth.
import { STATUS_CAUTION } from "../../shared/layout.ts";
import type { Counters, EventRecord, LevelRecord } from "../../host/record-types.ts";
import type { Expectation } from "../scene/scene.ts";
import type { CheckResult } from "./types.ts";
import { CheckTally } from "./check-tally.ts";
import type { StepClock } from "./clock.ts";
import { counterName, counterValue } from "./counter-check.ts";
import { eventName } from "./event-names.ts";
import { timeText } from "./sentences.ts";

type Window = { filter: number; fromS: number; untilS: number };

export class ExpectationCheck {
  private readonly tally = new CheckTally("expectation", -1, "items");
  /** First time at which a caution that must never come was on; by item. */
  private readonly neverAtS: (number | undefined)[];
  private readonly onSeen: boolean[];
  private readonly offSeen: boolean[];
  private readonly eventSeen: boolean[];
  private readonly eventNeverAtS: (number | undefined)[];
  private readonly expectation: Expectation;
  private readonly names: string[];
  private readonly clock: StepClock;

  constructor(expectation: Expectation, names: string[], clock: StepClock) {
    this.expectation = expectation;
    this.names = names;
    this.clock = clock;
    this.tally.smallestCaught = 1;
    this.neverAtS = (expectation.cautionNever ?? []).map(() => undefined);
    this.onSeen = (expectation.cautionOnWithin ?? []).map(() => false);
    this.offSeen = (expectation.cautionOffWithin ?? []).map(() => false);
    this.eventSeen = (expectation.events ?? []).map(() => false);
    this.eventNeverAtS = (expectation.eventsNever ?? []).map(() => undefined);
  }

  level(record: LevelRecord): void {
    if (this.neverAtS.length + this.onSeen.length + this.offSeen.length === 0) return;
    const timeS = this.clock.timeOf(record.tick);
    const isOn = (record.statusBits & STATUS_CAUTION) !== 0;
    const { cautionNever, cautionOnWithin, cautionOffWithin } = this.expectation;
    const isInside = (window: Window): boolean =>
      window.filter === record.filter && timeS >= window.fromS && timeS <= window.untilS;
    if (isOn) {
      cautionNever?.forEach((one, i) => {
        if (one.filter === record.filter) this.neverAtS[i] ??= timeS;
      });
      cautionOnWithin?.forEach((one, i) => {
        if (isInside(one)) this.onSeen[i] = true;
      });
    } else {
      cautionOffWithin?.forEach((one, i) => {
        if (isInside(one)) this.offSeen[i] = true;
      });
    }
  }

  event(event: EventRecord): void {
    const timeS = this.clock.timeOf(event.tick);
    const name = eventName(event.code);
    this.expectation.events?.forEach((one, i) => {
      const isInside = timeS >= one.fromS && timeS <= one.untilS;
      if (one.name === name && one.source === event.source && isInside) this.eventSeen[i] = true;
    });
    this.expectation.eventsNever?.forEach((one, i) => {
      if (one.name === name) this.eventNeverAtS[i] ??= timeS;
    });
  }

  finish(counters: Counters): CheckResult {
    this.cautions();
    const { events, eventsNever } = this.expectation;
    events?.forEach((one, i) => {
      const said = `event "${one.name}" of ${one.source} was expected ${this.window(one)}`;
      this.tally.fact(this.eventSeen[i] === true, one.fromS, () => `${said}, it did not come`);
    });
    eventsNever?.forEach((one, i) => {
      const seenS = this.eventNeverAtS[i];
      this.never(seenS, `event "${one.name}" must never come`);
    });
    for (const one of this.expectation.counters ?? []) {
      const found = counterValue(counters, one.name, one.index) ?? Number.NaN;
      this.tally.fact(found >= one.min && found <= one.max, 0, () => {
        const label = counterName(counters, one.name, one.index);
        return `counter ${label} reads ${found}, the scenario expects ${one.min} to ${one.max}`;
      });
    }
    const count = this.tally.judgedCount;
    const right =
      count === 1
        ? "the one statement of the scenario holds"
        : `all ${count} statements of the scenario hold`;
    const none = "the scenario states nothing beyond the computed truth";
    return this.tally.result("statement", count === 0 ? none : right);
  }

  private cautions(): void {
    const { cautionNever, cautionOnWithin, cautionOffWithin } = this.expectation;
    cautionNever?.forEach((one, i) => {
      this.never(this.neverAtS[i], `${this.name(one.filter)}: the caution must never come`);
    });
    const within = (windows: Window[] | undefined, seen: boolean[], word: string): void => {
      windows?.forEach((one, i) => {
        const said = `${this.name(one.filter)}: the caution was expected ${word}`;
        this.tally.fact(
          seen[i] === true,
          one.fromS,
          () => `${said} ${this.window(one)}, it was not`,
        );
      });
    };
    within(cautionOnWithin, this.onSeen, "on");
    within(cautionOffWithin, this.offSeen, "off");
  }

  private never(seenS: number | undefined, said: string): void {
    this.tally.fact(
      seenS === undefined,
      seenS ?? 0,
      () => `${said}; it came at ${this.at(seenS ?? 0)}`,
    );
  }

  private name(filter: number): string {
    return this.names[filter] ?? `filter ${filter}`;
  }

  private window(one: { fromS: number; untilS: number }): string {
    return `from ${this.at(one.fromS)} to ${this.at(one.untilS)}`;
  }

  private at(timeS: number): string {
    return timeText(timeS, this.clock.timeUnit);
  }
}
