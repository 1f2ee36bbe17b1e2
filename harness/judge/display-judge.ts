// One display: validity, number, caution, exceedances and the events that these must send.
import {
  FLAG_COMPUTED,
  STATUS_ACKNOWLEDGED,
  STATUS_BLANK,
  STATUS_CAUTION,
  STATUS_SUBSTITUTE,
} from "../../shared/layout.ts";
import {
  EVENT_ACKNOWLEDGED,
  EVENT_CAUTION_ENDED_INVALID,
  EVENT_CAUTION_OFF,
  EVENT_CAUTION_ON,
  EVENT_INHIBIT_OFF,
  EVENT_INHIBIT_ON,
  EVENT_INVALID,
  EVENT_SUBSTITUTE_OFF,
  EVENT_SUBSTITUTE_ON,
  EVENT_VALID,
  VALID,
} from "../../shared/units.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import type { FilterProfile, Scene } from "../scene/scene.ts";
import type { StepTruth } from "../truth/types.ts";
import type { CheckResult } from "./types.ts";
import { CheckTally } from "./check-tally.ts";
import type { StepClock } from "./clock.ts";
import { InputBit } from "./clock.ts";
import type { CautionAllowed } from "./display-caution.ts";
import { DisplayCaution } from "./display-caution.ts";
import { DisplayNumber } from "./display-number.ts";
import type { Serving } from "./display-sources.ts";
import { servingFilters, servingLevel } from "./display-sources.ts";
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
  private readonly inhibit: InputBit;
  private readonly acknowledge: InputBit;
  private severalCount = 0;
  private isValid = false;
  private isOn = false;
  private isAcknowledged = false;
  private isReplaced = false;
  private isInhibited = false;
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
    const { caution } = this.filter.display;
    this.exceedance = new ExceedanceCheck(own, this.filter.name, caution, clock);
    const bit = 1 << own;
    this.inhibit = new InputBit(clock, scene.inputs, (row) => (row.inhibit & bit) !== 0);
    this.acknowledge = new InputBit(clock, scene.inputs, (row) => (row.acknowledge & bit) !== 0);
  }

  /** An acquisition that the definition does not allow there. */
  acquisition(timeS: number, isAllowed: boolean, why: string): void {
    if (isAllowed) return;
    this.validity.wrong(timeS, () => `${this.filter.name}: acquired at ${this.at(timeS)}, ${why}`);
  }

  /** Judges one step; answers what was allowed of the caution and the events that must come. */
  process(group: StepGroup, truths: StepTruth[]): { allowed: CautionAllowed; due: DueEvent[] } {
    this.inhibit.advance(group.tick);
    this.acknowledge.advance(group.tick);
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
    const isInhibited = this.filter.display.caution !== undefined && this.inhibit.isSet;
    const allowed = this.caution.process(group.tick, record, low, high, isHeld, isInhibited);
    const level = servingLevel(this.filter.display, serving, group, this.own);
    this.exceedance.process(group.tick, record, isValid, level, exceedances);
    const due = this.due(group.tick, record, isHeld, isInhibited);
    return { allowed, due };
  }

  results(eitherShareMax: number, terms: string): CheckResult[] {
    const { name } = this.filter;
    const count = countText(this.validity.judgedCount, "step");
    const several = `where at ${this.severalCount} more than one was`;
    return [
      this.number.result(),
      this.validity.result(
        "step",
        `${name}: the validity is an allowed one at ${count}, ${several}`,
      ),
      ...this.caution.results(eitherShareMax, terms),
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
      return `${this.filter.name}: "${found}" at ${this.at(timeS)}, expected "${should}"`;
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
    if (source.kind === "own" && isBlankOrHeld === false && (record.flags & FLAG_COMPUTED) === 0) {
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

  /** The events of this step, by what its own records say; these are judged elsewhere. */
  private due(
    tick: number,
    record: LevelRecord,
    isHeld: boolean,
    isInhibited: boolean,
  ): DueEvent[] {
    const due: DueEvent[] = [];
    const add = (code: number, why: string, detail?: number): void => {
      due.push({ code, fromTick: tick, untilTick: tick, detail, why });
    };
    const isValid = record.validity === VALID;
    const isOn = (record.statusBits & STATUS_CAUTION) !== 0;
    const isReplaced = (record.statusBits & STATUS_SUBSTITUTE) !== 0;
    if (isValid && !this.isValid) add(EVENT_VALID, "the number became valid");
    if (!isValid && this.isValid) add(EVENT_INVALID, "the number is no longer valid", record.cause);
    if (isReplaced && !this.isReplaced) {
      const { source } = this.filter.display;
      const detail = source.kind === "substitute" ? source.filter : undefined;
      add(EVENT_SUBSTITUTE_ON, "a substitute serves", detail);
    }
    if (!isReplaced && this.isReplaced) add(EVENT_SUBSTITUTE_OFF, "the substitute serves no more");
    if (isOn && !this.isOn) add(EVENT_CAUTION_ON, "the caution came on");
    if (!isOn && this.isOn) {
      const isKept = isHeld && this.filter.display.caution?.whenInvalid === "hold";
      const isByLoss = !isValid && !isKept;
      add(isByLoss ? EVENT_CAUTION_ENDED_INVALID : EVENT_CAUTION_OFF, "the caution went off");
    }
    this.dueByInput(due, tick, record, isOn, isInhibited);
    this.isValid = isValid;
    this.isOn = isOn;
    this.isReplaced = isReplaced;
    this.isInhibited = isInhibited;
    return due;
  }

  /** Inhibit as it stands at the step; an acknowledge counts where the caution was on before it. */
  private dueByInput(
    due: DueEvent[],
    tick: number,
    record: LevelRecord,
    isOn: boolean,
    isInhibited: boolean,
  ): void {
    const add = (code: number, input: InputBit, why: string): void => {
      due.push({ code, fromTick: input.firstTick, untilTick: tick, why });
    };
    if (isInhibited && !this.isInhibited) add(EVENT_INHIBIT_ON, this.inhibit, "inhibit set");
    if (!isInhibited && this.isInhibited) add(EVENT_INHIBIT_OFF, this.inhibit, "inhibit ended");
    const isAcknowledge = this.isOn && this.acknowledge.riseCount > 0;
    if (isAcknowledge) add(EVENT_ACKNOWLEDGED, this.acknowledge, "acknowledge rose while on");
    const expected = isOn && this.isOn && (isAcknowledge || this.isAcknowledged);
    const found = (record.statusBits & STATUS_ACKNOWLEDGED) !== 0;
    if (found !== expected) {
      const timeS = this.clock.timeOf(tick);
      this.caution.wrong(
        timeS,
        `"acknowledged" is ${found ? "set" : "not set"}, should be the other`,
      );
    }
    this.isAcknowledged = expected;
  }

  private at(timeS: number): string {
    return timeText(timeS, this.clock.timeUnit);
  }
}

/** Display units of a record, −1 where the number is blank. */
export function shownValue(record: LevelRecord, step: number): number {
  return (record.statusBits & STATUS_BLANK) !== 0 ? -1 : record.shownCounts * step;
}
