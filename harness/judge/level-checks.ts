// Level, phase and speed of one tracking filter against the truth of each judged step.
import { FLAG_PHASE_RELATIVE } from "../../shared/layout.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import type { FilterProfile } from "../scene/scene.ts";
import type { StepTruth } from "../truth/types.ts";
import type { CheckResult, NearestStep } from "./types.ts";
import { CheckTally, errorRatio } from "./check-tally.ts";
import type { StepClock } from "./clock.ts";
import { numberText, offText, timeText, toleranceText, traceNumber } from "./sentences.ts";

/** Phase lag of a vector, degrees in [0, 360). */
export function phaseLagDeg(re: number, im: number): number {
  const lag = (-Math.atan2(im, re) * 180) / Math.PI;
  return lag < 0 ? lag + 360 : lag;
}

/** Difference of two angles, degrees in [−180, 180]. */
export function angleDifferenceDeg(a: number, b: number): number {
  const turn = (a - b) % 360;
  if (turn > 180) return turn - 360;
  return turn < -180 ? turn + 360 : turn;
}

export class LevelChecks {
  private readonly level: CheckTally;
  private readonly phase: CheckTally;
  private readonly speed: CheckTally;
  private toleranceMax = 0;
  private levelMax = 0;
  private nearestStep: { tick: number; error: number; truth: StepTruth } | undefined;
  private nearestRatio = -1;
  private readonly filter: FilterProfile;
  private readonly clock: StepClock;

  constructor(source: number, filter: FilterProfile, clock: StepClock) {
    this.filter = filter;
    this.clock = clock;
    this.level = new CheckTally("level", source, `${filter.unit} ${filter.detector}`);
    this.phase = new CheckTally("phase", source, "deg");
    this.speed = new CheckTally("speed", source, "rev/s");
  }

  /** Widest tolerance of a judged step over the greatest level; 0 where nothing was judged. */
  get toleranceShare(): number {
    return this.levelMax > 0 ? this.toleranceMax / this.levelMax : 0;
  }

  /** The judged step at which the level came nearest to its limit; undefined: none was judged. */
  get nearest(): NearestStep | undefined {
    if (this.nearestStep === undefined) return undefined;
    const { tick, error, truth } = this.nearestStep;
    return {
      step: this.clock.stepOf(tick),
      timeS: this.clock.timeOf(tick),
      error: Number.isFinite(error) ? traceNumber(error) : null,
      tolerance: traceNumber(truth.levelTol),
      terms: (truth.terms ?? []).map(({ name, value }) => ({ name, value: traceNumber(value) })),
    };
  }

  process(tick: number, record: LevelRecord | undefined, truth: StepTruth): void {
    const timeS = this.clock.timeOf(tick);
    if (record === undefined) {
      this.level.fact(
        false,
        timeS,
        () => `${this.filter.name}: a record was expected at ${this.at(timeS)}, none came`,
      );
      return;
    }
    if (!truth.isJudged) return;
    this.toleranceMax = Math.max(this.toleranceMax, truth.levelTol);
    this.levelMax = Math.max(this.levelMax, truth.level);
    this.judgeLevel(timeS, record, truth);
    this.note(tick, record.level - truth.level, truth);
    if (truth.phaseIsJudged) this.judgePhase(timeS, record, truth);
    this.judgeSpeed(timeS, record, truth);
  }

  /** A field of a record that is not as it must be; the sentence without name and time. */
  field(tick: number, why: string): void {
    const timeS = this.clock.timeOf(tick);
    this.level.wrong(timeS, () => `${this.filter.name}: ${why} at ${this.at(timeS)}`);
  }

  /** A record that should not be there. */
  stray(record: LevelRecord, why: string): void {
    const timeS = this.clock.timeOf(record.tick);
    this.level.wrong(timeS, () => `${this.filter.name}: a record at ${this.at(timeS)}, but ${why}`);
  }

  results(): CheckResult[] {
    const right = (tally: CheckTally, noun: string): string =>
      tally.judgedCount === 0
        ? `${this.filter.name}: ${noun} could not be judged at any step`
        : `${this.filter.name}: ${noun} is within its tolerance at all ${tally.judgedCount} steps`;
    return [
      this.level.result("step", right(this.level, "level")),
      this.phase.result("step", right(this.phase, "phase")),
      this.speed.result("step", right(this.speed, "speed")),
    ];
  }

  private judgeLevel(timeS: number, record: LevelRecord, truth: StepTruth): void {
    this.level.value(record.level - truth.level, truth.levelTol, timeS, () =>
      this.sentence("level", record.level, truth.level, truth.levelTol, this.level.unit, timeS),
    );
  }

  /** Keeps the step if its error is the largest part of its tolerance so far. */
  private note(tick: number, error: number, truth: StepTruth): void {
    const ratio = errorRatio(error, truth.levelTol);
    if (ratio <= this.nearestRatio) return;
    this.nearestRatio = ratio;
    this.nearestStep = { tick, error, truth };
  }

  private judgePhase(timeS: number, record: LevelRecord, truth: StepTruth): void {
    const found = phaseLagDeg(record.re, record.im);
    if ((record.flags & FLAG_PHASE_RELATIVE) !== 0) {
      this.phase.fact(false, timeS, () => {
        const name = `${this.filter.name}: phase is marked relative at ${this.at(timeS)}`;
        return `${name}, though the index is known`;
      });
      return;
    }
    this.phase.value(angleDifferenceDeg(found, truth.phaseLagDeg), truth.phaseTolDeg, timeS, () =>
      this.sentence("phase", found, truth.phaseLagDeg, truth.phaseTolDeg, "deg", timeS),
    );
  }

  private judgeSpeed(timeS: number, record: LevelRecord, truth: StepTruth): void {
    const { speedRevPerS, speedTolRevPerS, speedNowRevPerS, speedNowTolRevPerS } = truth;
    const found = record.speedRevPerS;
    this.speed.value(found - speedRevPerS, speedTolRevPerS, timeS, () =>
      this.sentence("speed", found, speedRevPerS, speedTolRevPerS, "rev/s", timeS),
    );
    if (speedNowTolRevPerS === undefined) return;
    const now = record.speedNowRevPerS;
    const error = now - speedNowRevPerS;
    if (Math.abs(error) <= speedNowTolRevPerS) return;
    this.speed.wrong(timeS, () =>
      this.sentence("speed now", now, speedNowRevPerS, speedNowTolRevPerS, "rev/s", timeS),
    );
  }

  private sentence(
    noun: string,
    found: number,
    expected: number,
    tolerance: number,
    unit: string,
    timeS: number,
  ): string {
    const reads = `${this.filter.name}: ${noun} reads ${numberText(found)} ${unit}`;
    const range = `${numberText(expected)} ± ${toleranceText(tolerance)}`;
    const error = noun === "phase" ? angleDifferenceDeg(found, expected) : found - expected;
    return `${reads} at ${this.at(timeS)}, expected ${range}${offText(error, tolerance)}`;
  }

  private at(timeS: number): string {
    return timeText(timeS, this.clock.timeUnit);
  }
}
