// What the scenario itself states beyond the computed truth.
import { STATUS_CAUTION } from "../../shared/layout.ts";
import type { Counters, EventRecord, LevelRecord } from "../../host/record-types.ts";
import type { Expectation } from "../scene/scene.ts";
import type { CheckResult } from "./types.ts";
import { CheckTally } from "./check-tally.ts";
import type { StepClock } from "./clock.ts";
import { countOffText, counterValue } from "./counter-check.ts";
import { EVENT_NAMES, eventName } from "./event-names.ts";
import { timeText, toleranceText } from "./sentences.ts";
import type { SourceNames } from "./source-names.ts";

type Window = { fromS: number; untilS: number };

/** What is awaited within a window, and the nearest time at which it was. */
class Awaited {
  private nearestS: number | undefined;
  private distanceS = Infinity;
  readonly window: Window;

  constructor(window: Window) {
    this.window = window;
  }

  get isSeen(): boolean {
    return this.distanceS === 0;
  }

  seen(timeS: number): void {
    const { fromS, untilS } = this.window;
    const awayS = Math.max(0, fromS - timeS, timeS - untilS);
    if (awayS >= this.distanceS) return;
    this.distanceS = awayS;
    this.nearestS = timeS;
  }

  /** "at 5.3 s: 1.3 s too late"; undefined: never. */
  nearest(at: (timeS: number) => string, unit: string): string | undefined {
    if (this.nearestS === undefined) return undefined;
    const side = this.nearestS > this.window.untilS ? "late" : "early";
    return `at ${at(this.nearestS)}: ${toleranceText(this.distanceS)} ${unit} too ${side}`;
  }

  /** Of a state that lasts: "until 5.3 s, 1.3 s before that"; undefined: never. */
  nearestEnd(at: (timeS: number) => string, unit: string): string | undefined {
    if (this.nearestS === undefined) return undefined;
    const away = `${toleranceText(this.distanceS)} ${unit}`;
    return this.nearestS > this.window.untilS
      ? `from ${at(this.nearestS)} on, ${away} after that`
      : `until ${at(this.nearestS)}, ${away} before that`;
  }
}

export class ExpectationCheck {
  private readonly tally = new CheckTally("expectation", -1, "items");
  /** First time at which a caution that must never come was on; by item. */
  private readonly neverAtS: (number | undefined)[];
  private readonly on: Awaited[];
  private readonly off: Awaited[];
  private readonly events: Awaited[];
  private readonly eventNever: ({ timeS: number; of: string } | undefined)[];
  private readonly expectation: Expectation;
  private readonly names: SourceNames;
  private readonly clock: StepClock;

  constructor(expectation: Expectation, names: SourceNames, clock: StepClock) {
    this.expectation = expectation;
    this.names = names;
    this.clock = clock;
    this.tally.smallestCaught = 1;
    this.neverAtS = (expectation.cautionNever ?? []).map(() => undefined);
    const awaited = (windows: Window[] = []): Awaited[] => windows.map((one) => new Awaited(one));
    this.on = awaited(expectation.cautionOnWithin);
    this.off = awaited(expectation.cautionOffWithin);
    this.events = awaited(expectation.events);
    this.eventNever = (expectation.eventsNever ?? []).map(() => undefined);
  }

  level(record: LevelRecord): void {
    if (this.neverAtS.length + this.on.length + this.off.length === 0) return;
    const timeS = this.clock.timeOf(record.tick);
    const isOn = (record.statusBits & STATUS_CAUTION) !== 0;
    const { cautionNever, cautionOnWithin, cautionOffWithin } = this.expectation;
    const [windows, awaited] = isOn ? [cautionOnWithin, this.on] : [cautionOffWithin, this.off];
    windows?.forEach(({ filter }, i) => {
      if (filter === record.filter) awaited[i]!.seen(timeS);
    });
    if (!isOn) return;
    cautionNever?.forEach((one, i) => {
      if (one.filter === record.filter) this.neverAtS[i] ??= timeS;
    });
  }

  event(event: EventRecord): void {
    const timeS = this.clock.timeOf(event.tick);
    const name = eventName(event.code);
    this.expectation.events?.forEach((one, i) => {
      if (one.name === name && one.source === event.source) this.events[i]!.seen(timeS);
    });
    this.expectation.eventsNever?.forEach((one, i) => {
      if (one.name !== name) return;
      this.eventNever[i] ??= { timeS, of: this.names.ofEvent(event.code, event.source) };
    });
  }

  finish(counters: Counters): CheckResult {
    this.cautions();
    const { events, eventsNever } = this.expectation;
    events?.forEach((one, i) => {
      const seen = this.events[i]!;
      this.tally.fact(seen.isSeen, one.fromS, () => {
        const came = seen.nearest(this.at, this.clock.timeUnit);
        const of = this.names.ofEvent(eventCode(one.name), one.source);
        const said = `${of}: event "${one.name}" expected ${this.window(one)}`;
        return came === undefined ? `${said}, none came` : `${said}, came ${came}`;
      });
    });
    eventsNever?.forEach((one, i) => {
      const seen = this.eventNever[i];
      const of = seen === undefined ? "" : `${seen.of}: `;
      this.never(seen?.timeS, `${of}event "${one.name}" must never come`);
    });
    for (const one of this.expectation.counters ?? []) {
      const found = counterValue(counters, one.name, one.index) ?? Number.NaN;
      this.tally.fact(found >= one.min && found <= one.max, 0, () => {
        const label = this.names.ofCounter(one.name, one.index);
        const off = countOffText(found, one.min, one.max);
        return `${label}: count is ${found} at the end, expected ${rangeText(one.min, one.max)}${off}`;
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
      this.never(
        this.neverAtS[i],
        `${this.names.ofFilter(one.filter)}: the caution must never come`,
      );
    });
    const within = (windows: { filter: number }[] | undefined, all: Awaited[], word: string) => {
      windows?.forEach(({ filter }, i) => {
        const seen = all[i]!;
        this.tally.fact(seen.isSeen, seen.window.fromS, () => {
          const was = seen.nearestEnd(this.at, this.clock.timeUnit);
          const name = this.names.ofFilter(filter);
          const said = `${name}: the caution was expected ${word} ${this.window(seen.window)}`;
          return was === undefined ? `${said}, it never was` : `${said}; it was so ${was}`;
        });
      });
    };
    within(cautionOnWithin, this.on, "on");
    within(cautionOffWithin, this.off, "off");
  }

  private never(seenS: number | undefined, said: string): void {
    this.tally.fact(
      seenS === undefined,
      seenS ?? 0,
      () => `${said}; it came at ${this.at(seenS ?? 0)}`,
    );
  }

  private window(one: Window): string {
    return `from ${this.at(one.fromS)} to ${this.at(one.untilS)}`;
  }

  private readonly at = (timeS: number): string => timeText(timeS, this.clock.timeUnit);
}

/** The code of an event's name; none has 0. */
function eventCode(name: string): number {
  return Number(Object.entries(EVENT_NAMES).find(([, one]) => one === name)?.[0] ?? 0);
}

/** "at least 3", "at most 9", "1 to 9". */
function rangeText(min: number, max: number): string {
  if (max >= Number.MAX_SAFE_INTEGER) return `at least ${min}`;
  return min === max ? String(min) : `${min} to ${max}`;
}
