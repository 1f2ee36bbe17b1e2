// One display: validity, number, caution, exceedances and the events that these must send.
import { FLAG_COMPUTED, STATUS_BLANK, STATUS_SUBSTITUTE } from "../../shared/layout.ts";
import { VALID } from "../../shared/units.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import type { FilterProfile, Scene } from "../scene/scene.ts";
import type { StepTruth } from "../truth/types.ts";
import type { CheckResult } from "./types.ts";
import { CheckTally } from "./check-tally.ts";
import type { StepClock } from "./clock.ts";
import type { CautionAllowed } from "./display-caution.ts";
import { DisplayCaution } from "./display-caution.ts";
import { DisplayDue, isMarkedRight } from "./display-due.ts";
import { DisplayNumber } from "./display-number.ts";
import type { Serving } from "./display-sources.ts";
import { servingFilters, servingRecord } from "./display-sources.ts";
import { displayAllowed, mayBe, mustBe } from "./display-validity.ts";
import type { DueEvent } from "./event-check.ts";
import { validityName } from "./event-names.ts";
import { ExceedanceCheck } from "./exceedance-check.ts";
import type { StepGroup } from "./record-stream.ts";
import { countText, timeText } from "./sentences.ts";

export class DisplayJudge {
  readonly caution: DisplayCaution;
  private readonly number: DisplayNumber;
  private readonly exceedance: ExceedanceCheck;
  private readonly validity: CheckTally;
  private readonly events: DisplayDue;
  private severalCount = 0;
  private readonly filters: FilterProfile[];
  private readonly filter: FilterProfile;
  private readonly own: number;
  private readonly clock: StepClock;

  constructor(own: number, scene: Scene, clock: StepClock) {
    this.own = own;
    this.clock = clock;
    this.filters = scene.profile.filters;
    this.filter = this.filters[own]!;
    this.validity = new CheckTally("validity", own, "steps");
    this.validity.smallestCaught = 1;
    this.number = new DisplayNumber(own, this.filter, clock);
    this.caution = new DisplayCaution(own, this.filter, clock);
    this.exceedance = new ExceedanceCheck(own, this.filter, clock);
    this.events = new DisplayDue(own, this.filter.display, scene, clock);
  }

  /** An acquisition that the definition does not allow there. */
  acquisition(timeS: number, isAllowed: boolean, why: string): void {
    if (isAllowed) return;
    this.validity.wrong(timeS, () => `${this.filter.name}: acquired at ${this.at(timeS)}, ${why}`);
  }

  /** Judges one step; answers what was allowed of the caution and the events that must come. */
  process(group: StepGroup, truths: StepTruth[]): { allowed: CautionAllowed; due: DueEvent[] } {
    this.events.advance(group.tick);
    const record = group.levels[this.own];
    const exceedances = group.exceedances.filter((one) => one.filter === this.own);
    if (record === undefined) {
      for (const one of exceedances) this.exceedance.unexpected(one);
      return { allowed: 0, due: [] };
    }
    this.judgeValidity(group.tick, record, truths);
    const isValid = record.validity === VALID;
    let isHeld = false;
    let serving: Serving = { certain: [], possible: [] };
    if (isValid) {
      serving = servingFilters(this.filters, this.own, group, truths);
      this.number.valid(group, record, serving, truths);
    } else {
      isHeld = this.number.invalid(group, record);
    }
    const { low, high } = this.number.fromTruth;
    const { isInhibited } = this.events;
    const { terms } = truths[this.own]!;
    const allowed = this.caution.process(group.tick, record, low, high, isHeld, isInhibited, terms);
    const served = servingRecord(this.filter.display, serving, group, this.own);
    this.exceedance.process(group.tick, record, isValid, served, exceedances);
    const due = this.events.process(record, isHeld);
    if (!isMarkedRight(record, this.events.isAcknowledged)) {
      const found = this.events.isAcknowledged ? "not set" : "set";
      this.caution.wrong(
        this.clock.timeOf(group.tick),
        `"acknowledged" is ${found}, should not be`,
      );
    }
    return { allowed, due };
  }

  results(eitherShareMax: number): CheckResult[] {
    const { name } = this.filter;
    const count = countText(this.validity.judgedCount, "step");
    const open = this.severalCount;
    const several = open === 0 ? "" : `, where at ${open} more than one was`;
    return [
      this.number.result(),
      this.validity.result("step", `${name}: the validity is an allowed one at ${count}${several}`),
      ...this.caution.results(eitherShareMax),
      this.exceedance.result(),
    ];
  }

  private judgeValidity(tick: number, record: LevelRecord, truths: StepTruth[]): void {
    const timeS = this.clock.timeOf(tick);
    const allowed = displayAllowed(this.filter.display.source, this.own, truths);
    if (allowed.length > 1) this.severalCount += 1;
    const isAllowed = allowed.some(
      (one) => one.validity === record.validity && one.cause === record.cause,
    );
    this.validity.fact(isAllowed, timeS, () => {
      const found = validityName(record.validity, record.cause);
      const should = allowed.map((one) => validityName(one.validity, one.cause)).join(" or ");
      return `${this.filter.name}: validity is "${found}" at ${this.at(timeS)}, expected "${should}"`;
    });
    const wrong = this.sourceDifference(record, truths);
    if (wrong !== undefined) {
      this.validity.wrong(timeS, () => `${this.filter.name}: ${wrong} at ${this.at(timeS)}`);
    }
  }

  /** A substitute serves where the filter itself cannot, and only there. */
  private sourceDifference(record: LevelRecord, truths: StepTruth[]): string | undefined {
    const { source } = this.filter.display;
    const isReplaced = (record.statusBits & STATUS_SUBSTITUTE) !== 0;
    const isBlankOrHeld = record.validity !== VALID;
    if (source.kind === "own" && !isBlankOrHeld && (record.flags & FLAG_COMPUTED) === 0) {
      return "a valid number without a computed level";
    }
    if (source.kind !== "substitute" || isBlankOrHeld) {
      return isReplaced ? "a substitute is said to serve" : undefined;
    }
    const own = truths[this.own]!.allowed;
    if (isReplaced) {
      if (mustBe(own, VALID)) return "a substitute serves a filter that is valid";
      const { allowed } = truths[source.filter]!;
      return mayBe(allowed, VALID) ? undefined : "a substitute serves that is not valid";
    }
    return mayBe(own, VALID) ? undefined : "no substitute serves a filter that is not valid";
  }

  private at(timeS: number): string {
    return timeText(timeS, this.clock.timeUnit);
  }
}

/** Display units of a record, −1 where the number is blank. */
export function shownValue(record: LevelRecord, step: number): number {
  return (record.statusBits & STATUS_BLANK) !== 0 ? -1 : record.shownCounts * step;
}
