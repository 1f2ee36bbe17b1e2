// The caution of a display as tables. A delay is no counter here, but the distance to the last step
// that broke its condition.
import * as L from "../../shared/layout.ts";
import * as U from "../../shared/units.ts";
import type { CautionRules } from "./model-types.ts";

export type Place = "at" | "between" | "under" | "held" | "blank";

/** [stands before, place, delay over] → stands after; "policy" where the profile says. */
const STANDS: [before: boolean, Place, over: boolean | "any", after: boolean | "policy"][] = [
  [false, "at", true, true],
  [false, "at", false, false],
  [false, "between", "any", false],
  [false, "under", "any", false],
  [false, "held", "any", false],
  [false, "blank", "any", false],
  [true, "at", "any", true],
  [true, "between", "any", true],
  [true, "under", false, true],
  [true, "under", true, false],
  [true, "held", "any", "policy"],
  [true, "blank", "any", false],
];

/** [stands, inhibited, place] → the state told; the first row that fits. */
const TOLD: [stands: boolean, inhibited: boolean | "any", Place | "any", state: number][] = [
  [true, true, "any", U.CAUTION_INHIBITED],
  [true, false, "between", U.CAUTION_HELD],
  [true, false, "under", U.CAUTION_TIMING_OFF],
  [true, false, "any", U.CAUTION_ON],
  [false, "any", "at", U.CAUTION_TIMING_ON],
  [false, "any", "any", U.CAUTION_OFF],
];

export interface CautionAnswer {
  state: number;
  bits: number;
  events: number[];
}

export class CautionPart {
  readonly #rules: CautionRules;
  #stands = false;
  #notAtStep = 0;
  #notUnderStep = 0;
  #wasOn = false;
  #wasInhibited = false;
  #isAcknowledged = false;

  constructor(rules: CautionRules) {
    this.#rules = rules;
  }

  placeOf(number: number | "held" | "blank"): Place {
    if (typeof number !== "number") return number;
    if (number >= this.#rules.level) return "at";
    return number < this.#rules.level - this.#rules.hysteresis ? "under" : "between";
  }

  step(step: number, place: Place, isInhibited: boolean, rose: boolean): CautionAnswer {
    const rules = this.#rules;
    const mayTime = !isInhibited || rules.runsUnderInhibit;
    if (place !== "at" || !mayTime) this.#notAtStep = step;
    if (place !== "under") this.#notUnderStep = step;
    const isOver =
      place === "at"
        ? step - this.#notAtStep > rules.onSteps
        : step - this.#notUnderStep > rules.offSteps;
    const before = this.#stands;
    const row = STANDS.find(
      (one) => one[0] === before && one[1] === place && (one[2] === "any" || one[2] === isOver),
    )!;
    this.#stands = row[3] === "policy" ? rules.staysWhileHeld : row[3];
    const isLostInvalid = before && !this.#stands && (place === "held" || place === "blank");
    const told = TOLD.find(
      (one) =>
        one[0] === this.#stands &&
        (one[1] === "any" || one[1] === isInhibited) &&
        (one[2] === "any" || one[2] === place),
    )!;
    // Without an on-delay nothing but the inhibit keeps a number at the level from its caution.
    const isHeldBack = isInhibited && !this.#stands && place === "at" && rules.onSteps === 0;
    const state = isHeldBack ? U.CAUTION_INHIBITED : told[3];
    return this.#outputs(state, place === "at", isInhibited, rose, isLostInvalid);
  }

  #outputs(
    state: number,
    isAt: boolean,
    isInhibited: boolean,
    rose: boolean,
    isLostInvalid: boolean,
  ): CautionAnswer {
    const isOn = this.#stands && !isInhibited;
    const wasOn = this.#wasOn;
    const acknowledges = rose && wasOn;
    this.#isAcknowledged = isOn && wasOn && (acknowledges || this.#isAcknowledged);
    const events: number[] = [];
    if (isInhibited && !this.#wasInhibited) events.push(U.EVENT_INHIBIT_ON);
    if (!isInhibited && this.#wasInhibited) events.push(U.EVENT_INHIBIT_OFF);
    if (acknowledges) events.push(U.EVENT_ACKNOWLEDGED);
    if (isOn && !wasOn) events.push(U.EVENT_CAUTION_ON);
    if (!isOn && wasOn && !isLostInvalid) events.push(U.EVENT_CAUTION_OFF);
    if (!isOn && wasOn && isLostInvalid) events.push(U.EVENT_CAUTION_ENDED_INVALID);
    this.#wasOn = isOn;
    this.#wasInhibited = isInhibited;
    const bits =
      (isAt ? L.STATUS_AT_LEVEL : 0) |
      (isOn ? L.STATUS_CAUTION : 0) |
      (this.#isAcknowledged ? L.STATUS_ACKNOWLEDGED : 0) |
      (isInhibited ? L.STATUS_INHIBITED : 0);
    return { state, bits, events };
  }
}
