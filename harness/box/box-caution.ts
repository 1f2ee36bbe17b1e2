// A box's caution against its own specification: each reading of it, and when it had to come and go.
import type { BoxCaution } from "../judge/types.ts";
import { type Tally, type TimedReading, count, emptyTally } from "./box-judge.ts";
import { AS_IT_IS, type CautionWindows, HIGHER, LOWER, type Shift } from "./caution-windows.ts";
import { COVERAGE_FACTOR, type Decision } from "./decision.ts";
import type { DeviceSpecification } from "./device-file.ts";

/** A box sees a level at its next update, and counts a delay in whole updates: one more. */
const UPDATES_LATE = 2;

export interface CautionDecisions {
  tally: Tally;
  windows: BoxCaution[];
}

interface Change {
  /** The first reading that shows it, and the one before. */
  timeS: number;
  beforeS: number;
  isOn: boolean;
}

export class CautionJudge {
  readonly #name: string;
  readonly #device: DeviceSpecification;
  readonly #windows: CautionWindows;
  readonly #delayStandardS: number;
  readonly #tally = emptyTally();
  readonly #changes: Change[] = [];
  #before: { isOn: boolean; timeS: number } | undefined;
  #lateS = 0;
  #lastS = 0;

  constructor(
    name: string,
    device: DeviceSpecification,
    windows: CautionWindows,
    delayStandardS: number,
  ) {
    this.#name = name;
    this.#device = device;
    this.#windows = windows;
    this.#delayStandardS = delayStandardS;
  }

  /** The box's times that belong to the truth at 0: the earliest and the latest. */
  get #delays(): { fromS: number; toS: number } {
    const { latency, updateRateHz } = this.#device;
    return { fromS: latency.fromS, toS: latency.toS + UPDATES_LATE / updateRateHz };
  }

  /** r·U of a time: with simple acceptance it is not weighed. */
  #guardS(standardS: number): number {
    const { rule, guardFactor } = this.#device.decision;
    if (rule === "simple acceptance") return 0;
    return guardFactor * COVERAGE_FACTOR * Math.hypot(standardS, this.#delayStandardS);
  }

  /** Takes a reading of the scenario; answers what it may be: 0 off, 1 on, 2 either. */
  take({ sceneS, standardS, isCaution }: TimedReading): 0 | 1 | 2 {
    const lateS = this.#guardS(standardS);
    const mayBe = (isLit: boolean): boolean => this.#mayBe(isLit, AS_IT_IS, sceneS, 0);
    const allowed = mayBe(true) ? (mayBe(false) ? 2 : 1) : 0;
    if (isCaution === undefined) return allowed;
    const before = this.#before;
    if (before !== undefined && before.isOn !== isCaution) {
      this.#changes.push({ timeS: sceneS, beforeS: before.timeS, isOn: isCaution });
    } else if (before === undefined && isCaution) {
      this.#changes.push({ timeS: sceneS, beforeS: sceneS, isOn: true });
    }
    this.#before = { isOn: isCaution, timeS: sceneS };
    this.#lateS = Math.max(this.#lateS, lateS);
    this.#lastS = sceneS;
    // Where either could stand nothing is judged.
    const decided = this.#decide(isCaution, sceneS, lateS);
    const isOpen = decided === "inside" && this.#decide(!isCaution, sceneS, lateS) === "inside";
    if (isOpen) this.#tally.notJudged += 1;
    else {
      count(this.#tally, decided);
      const { outside, guardBand } = this.#tally;
      const isFirst = decided === "outside" ? outside === 1 : outside === 0 && guardBand === 1;
      if (isFirst && decided !== "inside") this.#tally.worstS = sceneS;
    }
    return allowed;
  }

  #mayBe(isLit: boolean, shift: Shift, sceneS: number, lateS: number): boolean {
    const { fromS, toS } = this.#delays;
    return this.#windows.mayBeBetween(isLit, shift, sceneS - toS + lateS, sceneS - fromS + lateS);
  }

  /** Inside: allowed wherever in its uncertainty truth and time are; outside: nowhere. */
  #decide(isLit: boolean, sceneS: number, lateS: number): Decision {
    if (this.#device.decision.rule === "simple acceptance") {
      return this.#mayBe(isLit, AS_IT_IS, sceneS, 0) ? "inside" : "outside";
    }
    const hardest = isLit ? LOWER : HIGHER;
    const isSure = [-lateS, 0, lateS].every((by) => this.#mayBe(isLit, hardest, sceneS, by));
    if (isSure) return "inside";
    const { fromS, toS } = this.#delays;
    const easiest = isLit ? HIGHER : LOWER;
    const mayBe = this.#windows.mayBeBetween(
      isLit,
      easiest,
      sceneS - toS - lateS,
      sceneS - fromS + lateS,
    );
    return mayBe ? "within the guard band" : "outside";
  }

  finish(): CautionDecisions {
    return { tally: this.#tally, windows: this.#before === undefined ? [] : this.#told() };
  }

  /** Each time that it had to change, with the change that was found. */
  #told(): BoxCaution[] {
    const told: BoxCaution[] = [];
    const windows = this.#windows;
    const sure = (step: number): boolean | undefined => {
      const [lit, dark] = [true, false].map((one) => windows.mayBe(one, AS_IT_IS, step));
      return lit === dark ? undefined : lit;
    };
    let state = false;
    let openFrom: number | undefined;
    for (let step = 0; step < windows.stepCount; step += 1) {
      const now = sure(step);
      if (now === undefined) openFrom ??= step;
      else {
        if (now !== state) told.push(this.#window(now, openFrom ?? step, step));
        [state, openFrom] = [now, undefined];
      }
    }
    return told;
  }

  /** A change that may come from one step on, and must have come at another. */
  #window(isOn: boolean, first: number, last: number): BoxCaution {
    const { periodS, stepCount } = this.#windows;
    const { fromS, toS } = this.#delays;
    const [soon, late] = isOn ? [HIGHER, LOWER] : [LOWER, HIGHER];
    // Sooner where the truth lies so; later where it lies the other way.
    const firstOf = (shift: Shift, isLit: boolean, isWanted: boolean): number => {
      let step = isWanted ? first : last;
      const is = (at: number): boolean => this.#windows.mayBe(isLit, shift, at) === isWanted;
      while (step > 0 && is(step - 1)) step -= 1;
      while (step < stepCount && !is(step)) step += 1;
      return step;
    };
    const guardS = this.#lateS;
    const window = {
      fromS: first * periodS + fromS,
      untilS: last * periodS + toS,
      surelyFromS: firstOf(late, isOn, true) * periodS + fromS + guardS,
      surelyUntilS: firstOf(soon, !isOn, false) * periodS + toS - guardS,
      earliestS: firstOf(soon, isOn, true) * periodS + fromS - guardS,
      latestS: firstOf(late, !isOn, false) * periodS + toS + guardS,
    };
    const found = this.#changes.find(
      (one) => one.isOn === isOn && one.timeS >= window.earliestS && one.beforeS <= window.latestS,
    );
    let decision: Decision = "within the guard band";
    if (found === undefined) {
      decision = this.#lastS > window.latestS ? "outside" : "within the guard band";
    } else if (found.timeS >= window.surelyFromS && found.beforeS <= window.surelyUntilS) {
      decision = "inside";
    }
    return { name: this.#name, isOn, ...window, foundS: found?.timeS ?? null, decision };
  }
}
