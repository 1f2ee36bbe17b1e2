// The shown number of one display: inside the interval that the truth allows, inside the one that
// the recorded levels allow, and held, then blank, where it is not valid.
import { STATUS_BLANK, STATUS_HELD } from "../../shared/layout.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import type { FilterProfile } from "../scene/scene.ts";
import type { StepTruth } from "../truth/types.ts";
import type { CheckResult } from "./types.ts";
import { CheckTally } from "./check-tally.ts";
import type { StepClock } from "./clock.ts";
import type { Serving } from "./display-sources.ts";
import { stepFromRecords, stepFromTruth } from "./display-sources.ts";
import { NumberInterval } from "./number-interval.ts";
import type { StepGroup } from "./record-stream.ts";
import { countText, numberText, timeText } from "./sentences.ts";

function word(bits: number): string {
  if (bits === 0) return "live";
  if (bits === STATUS_HELD) return "held";
  return bits === STATUS_BLANK ? "blank" : "held and blank";
}

export class DisplayNumber {
  /** From level ± tolerance; meaningful after a valid step. */
  readonly fromTruth: NumberInterval;
  private readonly fromRecords: NumberInterval;
  private readonly tally: CheckTally;
  private invalidSteps = 0;
  private hasNumber = false;
  private shownBefore = 0;
  private readonly filter: FilterProfile;
  private readonly clock: StepClock;

  constructor(source: number, filter: FilterProfile, clock: StepClock) {
    this.filter = filter;
    this.clock = clock;
    this.fromTruth = new NumberInterval(filter.display, clock.displayPeriodS);
    this.fromRecords = new NumberInterval(filter.display, clock.displayPeriodS);
    this.tally = new CheckTally("shown", source, "counts");
  }

  /** Takes a step on which the record's number is valid. */
  valid(group: StepGroup, record: LevelRecord, serving: Serving, truths: StepTruth[]): void {
    stepFromTruth(this.fromTruth, serving, truths, group);
    stepFromRecords(this.fromRecords, serving, group);
    const timeS = this.clock.timeOf(group.tick);
    this.judge(timeS, record.shownCounts);
    this.status(timeS, record, 0, "the number is valid");
    this.invalidSteps = 0;
    this.hasNumber = true;
    this.shownBefore = record.shownCounts;
  }

  /** Takes a step on which it is not; true while the last number is held. */
  invalid(group: StepGroup, record: LevelRecord): boolean {
    this.fromTruth.restart();
    this.fromRecords.restart();
    this.invalidSteps += 1;
    const isHeld = this.hasNumber && this.invalidSteps <= this.filter.display.holdSteps;
    if (!isHeld) this.hasNumber = false;
    const timeS = this.clock.timeOf(group.tick);
    const since = `not valid for ${countText(this.invalidSteps, "step")}`;
    this.status(timeS, record, isHeld ? STATUS_HELD : STATUS_BLANK, since);
    const expected = isHeld ? this.shownBefore : 0;
    this.tally.fact(record.shownCounts === expected, timeS, () => {
      const found = `${this.filter.name}: shows ${this.text(record.shownCounts)}`;
      return `${found} at ${this.at(timeS)}, ${since}, expected ${this.text(expected)}`;
    });
    return isHeld;
  }

  result(): CheckResult {
    const { name } = this.filter;
    const count = this.tally.judgedCount;
    const right = `the number is inside its interval at all ${count} steps`;
    return this.tally.result("step", `${name}: ${count === 0 ? "no number was recorded" : right}`);
  }

  private judge(timeS: number, shown: number): void {
    let low = Math.max(this.fromTruth.low, this.fromRecords.low);
    let high = Math.min(this.fromTruth.high, this.fromRecords.high);
    if (low > high) {
      // The recorded level lies outside the truth's tolerance: the number follows the truth or is wrong.
      low = this.fromTruth.low;
      high = this.fromTruth.high;
    }
    const tolerance = (high - low) / 2 + 0.5;
    this.tally.value(shown - (high + low) / 2, tolerance, timeS, () => {
      const range = low === high ? this.text(low) : `${this.text(low)} to ${this.text(high)}`;
      const found = `${this.filter.name}: shows ${this.text(shown)}`;
      const over = shown > high ? shown - high : shown - low;
      const off = `: ${this.text(Math.abs(over))} too ${over > 0 ? "high" : "low"}`;
      return `${found} at ${this.at(timeS)}, expected ${range}${off}`;
    });
  }

  private status(timeS: number, record: LevelRecord, expected: number, why: string): void {
    const found = record.statusBits & (STATUS_HELD | STATUS_BLANK);
    if (found === expected) return;
    this.tally.wrong(timeS, () => {
      const name = `${this.filter.name}: the number is marked ${word(found)}`;
      return `${name} at ${this.at(timeS)}, expected ${word(expected)}: ${why}`;
    });
  }

  private text(counts: number): string {
    return numberText(counts * this.filter.display.step);
  }

  private at(timeS: number): string {
    return timeText(timeS, this.clock.timeUnit);
  }
}
