// Whether a filter's level is valid at a display step, and if not, why: a table in its order of
// precedence. A delay is no counter here, but the distance to the last step that broke it.
import * as U from "../../shared/units.ts";
import type { FilterFacts, FilterRules, ShaftRules, StepFacts } from "./model-types.ts";

const f32 = Math.fround;
const CYCLES_TO_BE_CLEAN = 3;

interface Situation {
  isTest: boolean;
  isFaulty: boolean;
  isLocked: boolean;
  hasBeenLocked: boolean;
  turnsElsewhere: boolean;
  isSlow: boolean;
  isResponseLow: boolean;
  isSettled: boolean;
}

/** The first row that applies is told. */
const PRECEDENCE: [applies: (s: Situation) => boolean, validity: number, cause: number][] = [
  [(s) => s.isTest, U.FUNCTIONAL_TEST, U.CAUSE_FUNCTIONAL_TEST],
  [(s) => s.isFaulty, U.FAILURE, U.CAUSE_TRANSDUCER],
  [(s) => !s.isLocked && s.turnsElsewhere, U.FAILURE, U.CAUSE_REFERENCE_LOST],
  [(s) => !s.isLocked && s.hasBeenLocked, U.NO_COMPUTED_DATA, U.CAUSE_STOPPED],
  [(s) => !s.isLocked, U.NO_COMPUTED_DATA, U.CAUSE_NO_REFERENCE],
  [(s) => s.isSlow, U.NO_COMPUTED_DATA, U.CAUSE_BELOW_MINIMUM_SPEED],
  [(s) => s.isResponseLow, U.NO_COMPUTED_DATA, U.CAUSE_RESPONSE],
  [(s) => !s.isSettled, U.NO_COMPUTED_DATA, U.CAUSE_SETTLING],
  [() => true, U.VALID, U.CAUSE_NONE],
];

export class FilterPart {
  readonly #rules: FilterRules;
  readonly #shaft: ShaftRules;
  validity = U.NO_COMPUTED_DATA;
  cause = U.CAUSE_NO_REFERENCE;
  level = 0;
  speedNow = 0;
  #acquisition = 0;
  #isSlow = false;
  #notSlowStep = 0;
  #hasBeenValid = false;
  /** Cycles from which on a vector is clean of spoiled samples, and the step that first had one. */
  #clean: { fromRevolution: number; sinceStep: number | undefined } | undefined;

  constructor(rules: FilterRules, shaft: ShaftRules) {
    this.#rules = rules;
    this.#shaft = shaft;
  }

  step(step: number, facts: StepFacts, turnsElsewhere: boolean): void {
    const own = facts.filters[this.#rules.index]!;
    const { isLocked, hasBeenLocked } = facts.shafts[this.#rules.shaft]!;
    const value = own.isComputed ? f32(own.levelPk * this.#rules.levelFactor) : 0;
    const isNumber = Number.isFinite(value);
    this.level = isNumber ? value : 0;
    this.speedNow = own.isComputed ? own.speedNow : 0;
    const isFaulty = facts.isFaulty[this.#rules.channel]! || !isNumber;
    if (own.acquisition !== this.#acquisition) this.#startAnew(step, own.acquisition);
    const isSpoiled = facts.isTest || facts.testWasSeen || isFaulty;
    this.#followSpoil(step, own, isLocked, isSpoiled);
    this.#followSpeed(step, own, isLocked);
    const situation: Situation = {
      isTest: facts.isTest,
      isFaulty,
      isLocked,
      hasBeenLocked,
      turnsElsewhere,
      isSlow: this.#isSlow,
      isResponseLow: own.isResponseLow,
      isSettled: own.isComputed && own.isSettled && this.#clean === undefined,
    };
    const row = PRECEDENCE.find((one) => one[0](situation))!;
    this.validity = row[1];
    this.cause = row[2];
    if (this.validity === U.VALID) this.#hasBeenValid = true;
  }

  #startAnew(step: number, acquisition: number): void {
    this.#acquisition = acquisition;
    this.#isSlow = false;
    this.#notSlowStep = step - 1;
    this.#hasBeenValid = false;
    this.#clean = undefined;
  }

  /** After a test or a fault, and the step behind it, the filter settles as from a start. */
  #followSpoil(step: number, own: FilterFacts, isLocked: boolean, isSpoiled: boolean): void {
    const wasSpoiled = this.cause === U.CAUSE_FUNCTIONAL_TEST || this.cause === U.CAUSE_TRANSDUCER;
    if (!isLocked) {
      this.#clean = undefined;
    } else if (isSpoiled || wasSpoiled) {
      const fromRevolution = own.revolution + CYCLES_TO_BE_CLEAN + (own.isComputed ? 0 : 1);
      this.#clean = { fromRevolution, sinceStep: undefined };
    } else if (this.#clean !== undefined && own.revolution >= this.#clean.fromRevolution) {
      this.#clean.sinceStep ??= step;
      const { isPerCycle, count } = this.#rules.settling;
      const gone = isPerCycle
        ? own.revolution - this.#clean.fromRevolution
        : step - this.#clean.sinceStep;
      if (gone >= count) this.#clean = undefined;
    }
  }

  #followSpeed(step: number, own: FilterFacts, isLocked: boolean): void {
    const { minimumSpeed, hysteresis, delaySteps } = this.#shaft;
    if (!isLocked || !own.isComputed) {
      this.#isSlow = false;
      this.#hasBeenValid = false;
    } else if (this.#isSlow) {
      this.#isSlow = own.speedNow < f32(minimumSpeed + hysteresis);
    } else if (own.speedNow < minimumSpeed) {
      // The delay bridges a dip in a number that is shown; before there is one it does not count.
      this.#isSlow = !this.#hasBeenValid || step - this.#notSlowStep > delaySteps;
      return;
    }
    if (!this.#isSlow) this.#notSlowStep = step;
  }
}
