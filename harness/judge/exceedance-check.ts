// Exceedances against the level records that they sum up. The records themselves are held against
// the truth step by step, so an exceedance that agrees with them is inside the truth's interval.
import type { ExceedanceRecord, LevelRecord } from "../../host/record-types.ts";
import type { CautionProfile, FilterProfile } from "../scene/scene.ts";
import type { CheckResult, ExceedanceResult } from "./types.ts";
import { CheckTally } from "./check-tally.ts";
import type { StepClock } from "./clock.ts";
import { numberText, timeText, traceNumber } from "./sentences.ts";

interface Peak {
  shownCounts: number;
  steps: number;
  /** Record of the filter that served at that step. */
  served: LevelRecord;
}

interface OpenExceedance {
  onsetTick: number;
  aboveSteps: number;
  /** The greatest number; among equal ones the greatest level, then the first. */
  peak: Peak;
}

function differs(noun: string, is: string, should: string): string {
  return `${noun} is ${is}, expected ${should}`;
}

/** Exceedances of one display. */
export class ExceedanceCheck {
  private readonly tally: CheckTally;
  private open: OpenExceedance | undefined;
  private readonly name: string;
  private readonly caution: CautionProfile | undefined;
  private readonly displayStep: number;
  private readonly clock: StepClock;

  constructor(source: number, { name, display }: FilterProfile, clock: StepClock) {
    this.name = name;
    this.caution = display.caution;
    this.displayStep = display.step;
    this.clock = clock;
    this.tally = new CheckTally("exceedances", source, "s");
    this.tally.smallestCaught = clock.displayPeriodS;
  }

  process(
    tick: number,
    record: LevelRecord,
    isValid: boolean,
    served: LevelRecord,
    found: ExceedanceRecord[],
  ): void {
    const ended = this.follow(tick, record, isValid, served);
    const [first, ...others] = found;
    if (ended !== undefined) this.judge(tick, ended, first);
    else if (first !== undefined) this.unexpected(first);
    for (const other of others) this.unexpected(other);
  }

  /** An exceedance that came where its display has no record at all. */
  unexpected(found: ExceedanceRecord): void {
    const timeS = this.clock.timeOf(found.endTick);
    this.tally.wrong(timeS, () => {
      return `${this.name}: exceedance ended at ${this.at(timeS)}, none was expected then`;
    });
  }

  result(): CheckResult {
    const count = this.tally.judgedCount;
    const right =
      count === 1
        ? "the one exceedance agrees with the level records"
        : `all ${count} agree with the level records`;
    return this.tally.result(
      "item",
      `${this.name}: ${count === 0 ? "no exceedance ended" : right}`,
    );
  }

  private follow(
    tick: number,
    record: LevelRecord,
    isValid: boolean,
    served: LevelRecord,
  ): OpenExceedance | undefined {
    if (this.caution === undefined) return undefined;
    const { levelCounts, hysteresisCounts } = this.caution;
    const isAbove = isValid && record.shownCounts >= levelCounts;
    if (this.open === undefined) {
      if (!isAbove) return undefined;
      this.open = {
        onsetTick: tick,
        aboveSteps: 1,
        peak: { shownCounts: record.shownCounts, steps: 0, served },
      };
      return undefined;
    }
    const open = this.open;
    if (!isValid || record.shownCounts < levelCounts - hysteresisCounts) {
      this.open = undefined;
      return open;
    }
    if (isAbove) open.aboveSteps += 1;
    const steps = Math.round((tick - open.onsetTick) / this.clock.stepTicks);
    const { shownCounts } = record;
    const more = shownCounts - open.peak.shownCounts;
    if (more > 0 || (more === 0 && served.level > open.peak.served.level)) {
      open.peak = { shownCounts, steps, served };
    }
    return undefined;
  }

  private judge(tick: number, due: OpenExceedance, found: ExceedanceRecord | undefined): void {
    const timeS = this.clock.timeOf(tick);
    const wrong = found === undefined ? "expected, none came" : this.difference(tick, due, found);
    this.tally.fact(wrong === undefined, timeS, () => {
      const onset = this.at(this.clock.timeOf(due.onsetTick));
      return `${this.name}: exceedance from ${onset} to ${this.at(timeS)}: ${wrong ?? ""}`;
    });
  }

  /** What is wrong with it, first thing first; undefined: nothing. */
  private difference(
    tick: number,
    due: OpenExceedance,
    found: ExceedanceRecord,
  ): string | undefined {
    const time = (value: number): string => this.at(this.clock.timeOf(value));
    if (found.onsetTick !== due.onsetTick) {
      return differs("onset", time(found.onsetTick), time(due.onsetTick));
    }
    if (found.endTick !== tick) return differs("end", time(found.endTick), time(tick));
    if (found.aboveSteps !== due.aboveSteps) {
      return differs("time above", `${found.aboveSteps} steps`, `${due.aboveSteps} steps`);
    }
    if (found.peakShownCounts !== due.peak.shownCounts) {
      const shown = (counts: number): string => numberText(counts * this.displayStep);
      return differs("peak", shown(found.peakShownCounts), shown(due.peak.shownCounts));
    }
    return this.peakDifference(due.peak, found);
  }

  private peakDifference(peak: Peak, found: ExceedanceRecord): string | undefined {
    const { served } = peak;
    if (found.peakSteps !== peak.steps) {
      return `peak is ${found.peakSteps} steps after the onset, expected ${peak.steps}`;
    }
    if (found.peakLevel !== served.level) {
      return `peak level is ${numberText(found.peakLevel)}, expected ${numberText(served.level)}`;
    }
    const speed = found.speedAtPeakRevPerS;
    if (speed !== served.speedRevPerS && speed !== served.speedNowRevPerS) {
      const should = numberText(served.speedRevPerS);
      return `speed at peak is ${numberText(speed)} rev/s, expected ${should} rev/s`;
    }
    if (found.revolutionAtPeak !== served.revolution) {
      return `revolution at peak is ${found.revolutionAtPeak}, expected ${served.revolution}`;
    }
    return undefined;
  }

  private at(timeS: number): string {
    return timeText(timeS, this.clock.timeUnit);
  }
}

/** An exceedance as results list it. */
export function exceedanceResult(
  record: ExceedanceRecord,
  displayStep: number,
  clock: StepClock,
): ExceedanceResult {
  const onsetS = clock.timeOf(record.onsetTick);
  return {
    filter: record.filter,
    onsetS,
    endS: clock.timeOf(record.endTick),
    peakS: onsetS + record.peakSteps * clock.displayPeriodS,
    peakLevel: traceNumber(record.peakLevel),
    peakShown: traceNumber(record.peakShownCounts * displayStep),
    speedAtPeakRevPerS: traceNumber(record.speedAtPeakRevPerS),
    timeAboveS: record.aboveSteps * clock.displayPeriodS,
  };
}
