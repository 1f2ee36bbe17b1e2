// The caution of one display against the truth (an interval at each step) and, exactly, against the
// number that its own records show. With the number inside its interval, the second implies the
// first, and leaves no room for changes that no sequence of numbers could bring about.
import {
  STATUS_ACKNOWLEDGED,
  STATUS_AT_LEVEL,
  STATUS_CAUTION,
  STATUS_INHIBITED,
} from "../../shared/layout.ts";
import { CAUTION_OFF, VALID } from "../../shared/units.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import type { FilterProfile } from "../scene/scene.ts";
import type { ToleranceTerm } from "../truth/types.ts";
import type { CheckResult } from "./types.ts";
import { CautionAutomaton } from "./caution-automaton.ts";
import { CheckTally } from "./check-tally.ts";
import type { StepClock } from "./clock.ts";
import { cautionName, cautionNames } from "./event-names.ts";
import { numberText, timeText, toleranceText } from "./sentences.ts";

/** Terms of the tolerance that a sentence names. */
const TERMS_TOLD = 3;

/** What was allowed of the caution's output: 0 off, 1 on, 2 either. */
export type CautionAllowed = 0 | 1 | 2;

export class DisplayCaution {
  private readonly byTruth: CautionAutomaton | undefined;
  private readonly byRecord: CautionAutomaton | undefined;
  private readonly tally: CheckTally;
  private readonly decidable: CheckTally;
  private stepCount = 0;
  private eitherCount = 0;
  private eitherFirstS = 0;
  /** What the tolerance is made of at the first step that is open. */
  private eitherTerms: readonly ToleranceTerm[] = [];
  private readonly filter: FilterProfile;
  private readonly clock: StepClock;

  constructor(source: number, filter: FilterProfile, clock: StepClock) {
    this.filter = filter;
    this.clock = clock;
    const { caution } = filter.display;
    if (caution !== undefined) {
      this.byTruth = new CautionAutomaton(caution);
      this.byRecord = new CautionAutomaton(caution);
    }
    this.tally = new CheckTally("caution", source, "s");
    this.tally.smallestCaught = clock.displayPeriodS;
    this.decidable = new CheckTally("decidable", source, "share");
    this.decidable.smallestCaught = 0;
  }

  get eitherShare(): number {
    return this.stepCount === 0 ? 0 : this.eitherCount / this.stepCount;
  }

  /**
   * Takes one step.
   *
   * Shape     low, high: counts that the truth allows, where the number is valid; isHeld: the
   *           number is not valid and still held; isInhibited: the input stands; terms: of the
   *           level's tolerance
   */
  process(
    tick: number,
    record: LevelRecord,
    low: number,
    high: number,
    isHeld: boolean,
    isInhibited: boolean,
    terms: readonly ToleranceTerm[] = [],
  ): CautionAllowed {
    const timeS = this.clock.timeOf(tick);
    const isValid = record.validity === VALID;
    if (this.byTruth === undefined || this.byRecord === undefined) {
      this.without(timeS, record);
      return 0;
    }
    this.byTruth.step({ low, high, isValid, isHeld, isInhibited });
    const shown = record.shownCounts;
    this.byRecord.step({ low: shown, high: shown, isValid, isHeld, isInhibited });
    this.stepCount += 1;
    const { mayBeLit, mayBeDark } = this.byTruth;
    if (mayBeLit && mayBeDark) {
      if (this.eitherCount === 0) {
        this.eitherFirstS = timeS;
        this.eitherTerms = terms;
      }
      this.eitherCount += 1;
    }
    const wrong = this.difference(record, isValid, isInhibited);
    this.tally.fact(wrong === undefined, timeS, () => {
      return `${this.filter.name}: ${wrong} at ${this.at(timeS)}${this.reason(record, isValid)}`;
    });
    return mayBeLit ? (mayBeDark ? 2 : 1) : 0;
  }

  /** A mark of the caution that is wrong beside its state. */
  wrong(timeS: number, what: string): void {
    this.tally.wrong(timeS, () => `${this.filter.name}: ${what} at ${this.at(timeS)}`);
  }

  results(eitherShareMax: number): CheckResult[] {
    const { name } = this.filter;
    if (this.byTruth === undefined) {
      return [
        this.tally.result("step", `${name}: no caution is configured, none came`),
        this.decidable.result("case", `${name}: no caution to decide`),
      ];
    }
    const share = this.eitherShare;
    const percent = `${numberText(100 * share)} % of the steps`;
    const limit = `${numberText(100 * eitherShareMax)} %`;
    this.decidable.value(share, eitherShareMax, this.eitherFirstS, () => {
      const open = `${name}: the caution is undecidable at ${percent}, first at`;
      return `${open} ${this.at(this.eitherFirstS)}, limit ${limit}; tolerance: ${termsText(this.eitherTerms)}`;
    });
    return [
      this.tally.result(
        "step",
        `${name}: the caution is right at all ${this.stepCount} steps`,
        (count) => this.at(count * this.clock.displayPeriodS),
      ),
      this.decidable.result("case", `${name}: the caution is open at ${percent}, limit ${limit}`),
    ];
  }

  /** A display without a caution says nothing of one. */
  private without(timeS: number, record: LevelRecord): void {
    const marks = STATUS_AT_LEVEL | STATUS_CAUTION | STATUS_INHIBITED | STATUS_ACKNOWLEDGED;
    const bits = record.statusBits & marks;
    this.tally.fact(bits === 0 && record.cautionState === CAUTION_OFF, timeS, () => {
      return `${this.filter.name}: a caution at ${this.at(timeS)}, but none is configured`;
    });
  }

  /** What is wrong with the record, first thing first; undefined: nothing. */
  private difference(
    record: LevelRecord,
    isValid: boolean,
    isInhibited: boolean,
  ): string | undefined {
    const isLit = (record.statusBits & STATUS_CAUTION) !== 0;
    const byTruth = this.byTruth!;
    const byRecord = this.byRecord!;
    if (isLit && !byTruth.mayBeLit) return "the caution is on, must be off";
    if (!isLit && !byTruth.mayBeDark) return "the caution is off, must be on";
    if (isLit !== byRecord.mayBeLit) {
      return `the caution is ${isLit ? "on" : "off"}, but its own numbers say otherwise`;
    }
    if ((byRecord.states & (1 << record.cautionState)) === 0) {
      const should = cautionNames(byRecord.states);
      return `the caution's state is "${cautionName(record.cautionState)}", not "${should}",`;
    }
    const level = this.filter.display.caution!.levelCounts;
    const isAtLevel = (record.statusBits & STATUS_AT_LEVEL) !== 0;
    if (isAtLevel !== (isValid && record.shownCounts >= level)) {
      return `"at the level" is ${isAtLevel ? "set" : "not set"}, should be the other,`;
    }
    const isMarked = (record.statusBits & STATUS_INHIBITED) !== 0;
    if (isMarked !== isInhibited) {
      return `"inhibited" is ${isMarked ? "set" : "not set"}, should be the other,`;
    }
    return undefined;
  }

  private reason(record: LevelRecord, isValid: boolean): string {
    const { step, caution } = this.filter.display;
    const level = `level ${numberText(caution!.levelCounts * step)}`;
    return isValid ? ` (shows ${numberText(record.shownCounts * step)}, ${level})` : " (not valid)";
  }

  private at(timeS: number): string {
    return timeText(timeS, this.clock.timeUnit);
  }
}

function termsText(terms: readonly ToleranceTerm[]): string {
  const widest = terms.toSorted((a, b) => b.value - a.value).slice(0, TERMS_TOLD);
  return widest.map((term) => `${term.name} ${toleranceText(term.value)}`).join(", ") || "none";
}
