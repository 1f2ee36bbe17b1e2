// When a caution must, may and must not be on, by the truth within the box's stated accuracy, and where
// the truth lies lower or higher by its expanded uncertainty.
import { CautionAutomaton } from "../judge/caution-automaton.ts";
import type { CautionProfile } from "../scene/scene.ts";
import { COVERAGE_FACTOR, rectangular } from "./decision.ts";
import type { DeviceSpecification } from "./device-file.ts";
import type { TruthWindows } from "./truth-window.ts";

/** Parts of a display step by which numbers are told apart here. */
const PARTS = 1024;

const MAY_BE_LIT = 1;
const MAY_BE_DARK = 2;

/** The truth lower by U, as it is, higher by U. */
export type Shift = 0 | 1 | 2;
export const LOWER: Shift = 0;
export const AS_IT_IS: Shift = 1;
export const HIGHER: Shift = 2;

/** The profile's delays in steps of the truth, by the box's own clock, and in finer counts. */
function boxCaution(
  one: CautionProfile,
  displayPeriodS: number,
  periodS: number,
  drift: number,
): CautionProfile {
  const steps = (delaySteps: number): number =>
    Math.round((delaySteps * displayPeriodS) / (1 + drift) / periodS);
  return {
    ...one,
    levelCounts: one.levelCounts * PARTS,
    hysteresisCounts: one.hysteresisCounts * PARTS,
    onDelaySteps: steps(one.onDelaySteps),
    offDelaySteps: steps(one.offDelaySteps),
    whenInvalid: "end",
  };
}

/** Standard uncertainty of a delay that the box counts by its own clock, s. */
export function delayStandardS(
  { onDelaySteps, offDelaySteps }: CautionProfile,
  displayPeriodS: number,
  periodS: number,
  driftUncertainty: number,
): number {
  const delayS = Math.max(onDelaySteps, offDelaySteps) * displayPeriodS;
  return Math.hypot((delayS * driftUncertainty) / COVERAGE_FACTOR, rectangular(periodS / 2));
}

export interface CautionTruth {
  caution: CautionProfile;
  /** Of the profile's display, in which its delays and levels are counted. */
  displayPeriodS: number;
  displayStep: number;
  /** How close the truth's own steps stand. */
  periodS: number;
  durationS: number;
  drift: number;
}

/** What a caution may be, on a grid of the scenario's time. */
export class CautionWindows {
  /** Of each shift, MAY_BE_… at each step. */
  readonly #may: readonly [Uint8Array, Uint8Array, Uint8Array];
  readonly periodS: number;

  constructor(truth: CautionTruth, windows: TruthWindows, device: DeviceSpecification) {
    const { caution, periodS, displayPeriodS, durationS, drift } = truth;
    this.periodS = periodS;
    const profile = boxCaution(caution, displayPeriodS, periodS, drift);
    const stepCount = Math.floor(durationS / periodS) + 1;
    const automata = [0, 1, 2].map(() => new CautionAutomaton(profile));
    this.#may = [new Uint8Array(stepCount), new Uint8Array(stepCount), new Uint8Array(stepCount)];
    const { stimulus, accuracy, decision, filter, settlingS } = device;
    const settledS = filter === undefined ? settlingS : 0;
    const isSimple = decision.rule === "simple acceptance";
    for (let step = 0; step < stepCount; step += 1) {
      const timeS = step * periodS;
      const { isKnown, number } = windows.between(timeS - settledS, timeS);
      const share = stimulus.share / stimulus.coverageFactor;
      const limit = (value: number): number => accuracy.share * value + accuracy.units;
      const unsure = (value: number): number =>
        isSimple
          ? 0
          : decision.guardFactor *
            COVERAGE_FACTOR *
            Math.hypot(
              value * share,
              rectangular(number.tolerance),
              rectangular(device.displayStep / 2),
            );
      automata.forEach((automaton, shift) => {
        const low = number.low - limit(number.low) + (shift - 1) * unsure(number.low);
        const high = number.high + limit(number.high) + (shift - 1) * unsure(number.high);
        automaton.step({
          low: isKnown ? counts(low, truth.displayStep, Math.floor) : 0,
          // A display that ends below the caution's level ends no caution.
          high: isKnown ? counts(high, truth.displayStep, Math.ceil) : Infinity,
          isValid: true,
          isHeld: false,
          isInhibited: false,
        });
        const { mayBeLit, mayBeDark } = automaton;
        this.#may[shift as Shift][step] =
          (mayBeLit ? MAY_BE_LIT : 0) | (mayBeDark ? MAY_BE_DARK : 0);
      });
    }
  }

  get stepCount(): number {
    return this.#may[AS_IT_IS].length;
  }

  mayBe(isLit: boolean, shift: Shift, step: number): boolean {
    // Before the scenario nothing was played, and what was lit by then has gone out.
    if (step < 0) return !isLit;
    const kept = this.#may[shift][Math.min(step, this.stepCount - 1)]!;
    return (kept & (isLit ? MAY_BE_LIT : MAY_BE_DARK)) !== 0;
  }

  /** Whether it may be so at some time between two. */
  mayBeBetween(isLit: boolean, shift: Shift, fromS: number, untilS: number): boolean {
    const until = Math.floor(untilS / this.periodS);
    for (let step = Math.max(-1, Math.floor(fromS / this.periodS)); step <= until; step += 1) {
      if (this.mayBe(isLit, shift, step)) return true;
      if (step >= this.stepCount) break;
    }
    return until < -1 && !isLit;
  }
}

function counts(value: number, step: number, round: (value: number) => number): number {
  return Math.max(0, round((PARTS * value) / step));
}
