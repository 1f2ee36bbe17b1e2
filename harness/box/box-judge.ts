// A box's readings against its own specification: each inside, outside, or within the guard band.
import type { Reading } from "../adapter/adapter.ts";
import type { BoxReading } from "../judge/types.ts";
import {
  type Decision,
  type UncertaintyTerm,
  decide,
  expandedUncertainty,
  rectangular,
} from "./decision.ts";
import type { DeviceSpecification } from "./device-file.ts";
import type { ExpectedStep } from "./expected-number.ts";

/** A share of a step by which a number may miss a multiple of it: decimal digits on a wire. */
const STEP_SLACK = 1e-3;
/** A gap between readings that is longer than so many update periods is a missing one. */
const GAP_PERIODS = 1.5;

/** A reading on the scenario's own time. */
export interface TimedReading extends Reading {
  sceneS: number;
}

export interface FilterDecisions {
  inside: number;
  guardBand: number;
  outside: number;
  notJudged: number;
  worst?: BoxReading;
  speed: { judged: number; outside: number; worstRatio: number; worstS: number };
  caution: { judged: number; outside: number; worstS: number };
  step: { judged: number; outside: number; worstS: number };
  gaps: { judged: number; outside: number; worstS: number };
}

interface Window {
  steps: ExpectedStep[];
  isKnown: boolean;
  low: number;
  high: number;
  tolerance: number;
}

/** Expected steps from one time to another, and one more on either side. */
class StepWindows {
  readonly #steps: readonly ExpectedStep[];
  readonly #periodS: number;

  constructor(steps: readonly ExpectedStep[], periodS: number) {
    this.#steps = steps;
    this.#periodS = periodS;
  }

  between(fromS: number, untilS: number): Window {
    const first = this.#steps[0]?.timeS ?? Infinity;
    const last = this.#steps.at(-1)?.timeS ?? -Infinity;
    const at = (timeS: number): number => Math.round((timeS - first) / this.#periodS);
    const steps = this.#steps.slice(
      Math.max(0, Math.floor(at(fromS) - 1)),
      Math.max(0, Math.ceil(at(untilS) + 2)),
    );
    const numbers = steps.map(({ number }) => number);
    return {
      steps,
      isKnown:
        fromS - this.#periodS >= first &&
        untilS <= last + this.#periodS &&
        steps.length > 0 &&
        steps.every((one) => one.isKnown),
      low: Math.min(...numbers),
      high: Math.max(...numbers),
      tolerance: Math.max(0, ...steps.map((one) => one.tolerance)),
    };
  }
}

/** Terms of a reading's uncertainty, display units. */
function termsOf(
  expected: number,
  truthTolerance: number,
  { stimulus, displayStep }: DeviceSpecification,
): UncertaintyTerm[] {
  return [
    { name: "stimulus", standard: (Math.abs(expected) * stimulus.share) / stimulus.coverageFactor },
    { name: "truth of the number", standard: rectangular(truthTolerance) },
    { name: "step of the number", standard: rectangular(displayStep / 2) },
  ];
}

const empty = (): { judged: number; outside: number; worstS: number } => ({
  judged: 0,
  outside: 0,
  worstS: 0,
});

export class BoxJudge {
  readonly #device: DeviceSpecification;
  readonly #windows: StepWindows;
  /** How far a reading's time may be off, beside the stated latency. */
  readonly #slackS: number;
  readonly #periodS: number;
  readonly #result: FilterDecisions = {
    inside: 0,
    guardBand: 0,
    outside: 0,
    notJudged: 0,
    speed: { judged: 0, outside: 0, worstRatio: 0, worstS: 0 },
    caution: empty(),
    step: empty(),
    gaps: empty(),
  };
  #last: TimedReading | undefined;

  constructor(
    device: DeviceSpecification,
    steps: readonly ExpectedStep[],
    periodS: number,
    slackS: number,
  ) {
    this.#device = device;
    this.#windows = new StepWindows(steps, periodS);
    this.#slackS = slackS;
    this.#periodS = periodS;
  }

  /** Takes the readings of the scenario, ascending; answers what each should show, and its limit. */
  take(reading: TimedReading): { expected: number; accuracy: number; caution: 0 | 1 | 2 } {
    this.#gap(reading);
    const level = this.#level(reading);
    this.#speed(reading);
    return { ...level, caution: this.#caution(reading) };
  }

  finish(): FilterDecisions {
    return this.#result;
  }

  /** Steps of the truth that a reading may be of. */
  #window({ sceneS }: TimedReading, settlingS: number): Window {
    const { fromS, toS } = this.#device.latency;
    return this.#windows.between(
      sceneS - toS - settlingS - this.#slackS,
      sceneS - fromS + this.#slackS,
    );
  }

  #level(reading: TimedReading): { expected: number; accuracy: number } {
    const { filter, settlingS, accuracy, decision } = this.#device;
    const window = this.#window(reading, filter === undefined ? settlingS : 0);
    const { low, high, tolerance, isKnown } = window;
    const middle = (low + high) / 2;
    // Of an unknown filter only what stands still long enough is judged.
    const isSteady = high - low <= 2 * tolerance;
    if (!isKnown || (filter === undefined && !isSteady)) {
      this.#result.notJudged += 1;
      return { expected: 0, accuracy: -1 };
    }
    const { shown } = reading;
    const nearest = Math.min(high, Math.max(low, shown));
    const expected = filter === undefined ? middle : nearest;
    const limit = accuracy.share * Math.abs(expected) + accuracy.units;
    const terms = termsOf(expected, tolerance, this.#device);
    const expanded = expandedUncertainty(terms);
    const guardBand = decision.guardFactor * expanded;
    const error = reading.isValid === false ? NaN : shown - expected;
    const decided = decide(error, limit, guardBand, decision.rule);
    this.#count(decided);
    this.#step(reading);
    this.#worst({
      name: reading.filter,
      timeS: reading.sceneS,
      shown,
      expected,
      error,
      accuracy: limit,
      expandedUncertainty: expanded,
      guardBand,
      terms,
      decision: decided,
    });
    return { expected, accuracy: limit };
  }

  #count(decided: Decision): void {
    if (decided === "inside") this.#result.inside += 1;
    else if (decided === "outside") this.#result.outside += 1;
    else this.#result.guardBand += 1;
  }

  #worst(one: BoxReading): void {
    const ratio = ({ error, accuracy }: BoxReading): number =>
      Number.isNaN(error) ? Infinity : Math.abs(error) / accuracy;
    const { worst } = this.#result;
    if (worst === undefined || ratio(one) > ratio(worst)) this.#result.worst = one;
  }

  #step({ shown, sceneS, isValid }: TimedReading): void {
    if (isValid === false) return;
    const { displayStep } = this.#device;
    const { step } = this.#result;
    step.judged += 1;
    const off = Math.abs(shown / displayStep - Math.round(shown / displayStep));
    if (off <= STEP_SLACK) return;
    step.outside += 1;
    step.worstS ||= sceneS;
  }

  #gap(reading: TimedReading): void {
    const { gaps } = this.#result;
    if (this.#last !== undefined) {
      gaps.judged += 1;
      const apartS = reading.sceneS - this.#last.sceneS;
      if (apartS > GAP_PERIODS / this.#device.updateRateHz) {
        gaps.outside += 1;
        gaps.worstS ||= reading.sceneS;
      }
    }
    this.#last = reading;
  }

  #speed(reading: TimedReading): void {
    const { speedShare } = this.#device;
    if (speedShare === undefined || reading.speedRevPerS === undefined) return;
    const window = this.#window(reading, 0);
    if (!window.isKnown) return;
    const speeds = window.steps.map((one) => one.speedRevPerS);
    const [low, high] = [Math.min(...speeds), Math.max(...speeds)];
    const off = Math.max(low - reading.speedRevPerS, reading.speedRevPerS - high, 0);
    const sure = Math.max(...window.steps.map((one) => one.speedTolerance));
    const limit = speedShare * high + sure;
    const { speed } = this.#result;
    speed.judged += 1;
    const ratio = off / limit;
    if (!(ratio <= speed.worstRatio)) [speed.worstRatio, speed.worstS] = [ratio, reading.sceneS];
    if (!(ratio <= 1)) speed.outside += 1;
  }

  /** Right where some step that the reading may be of allows it; a step that may be either does. */
  #caution(reading: TimedReading): 0 | 1 | 2 {
    const { steps } = this.#window(reading, this.#device.settlingS + this.#periodS);
    const states = new Set(steps.map((one) => one.caution));
    const only = states.size === 1 ? [...states][0]! : 2;
    if (reading.isCaution === undefined || only === 2) return only;
    const { caution } = this.#result;
    caution.judged += 1;
    if (reading.isCaution !== (only === 1)) {
      caution.outside += 1;
      caution.worstS ||= reading.sceneS;
    }
    return only;
  }
}
