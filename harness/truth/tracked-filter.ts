// One filter at the display steps: acquisition, the revolution that counts, level, tolerance,
// validity.
import type { FilterProfile, Scene, ShaftProfile } from "../scene/scene.ts";
import type { ChannelTruth } from "./channel-truth.ts";
import { distance } from "./complex.ts";
import { FilterTruth, RESPONSE_LEAST } from "./filter-truth.ts";
import type { FilterState } from "./filter-state.ts";
import { LevelDeadline } from "./level-deadline.ts";
import { LevelFields } from "./level-fields.ts";
import { LevelTolerance } from "./level-tolerance.ts";
import type { StepTolerance } from "./level-tolerance.ts";
import type { RecordTruth } from "./record-truth.ts";
import type { Certainty, ReferenceSpan, ReferenceTruth } from "./reference.ts";
import { MinimumSpeedTruth } from "./shaft-validity.ts";
import { SpoiltSamples } from "./spoilt-samples.ts";
import type { StepGrid } from "./step-clock.ts";
import type { StepTruth } from "./types.ts";
import { allowedOf, validCertainty } from "./validity-truth.ts";

/** What a step knows of the rest of the device. */
export interface StepFacts {
  test: Certainty;
  transducer: Certainty;
  evidence: Certainty;
  isTesting: boolean;
}

/** A fault's remainder over this share of the level: not judged. */
const FAULT_SHARE = 0.005;
/** Length of the vector, its factor and the record: a few halves of a unit of single precision. */
const LEVEL_ROUNDINGS = 2 ** -22;

export class TrackedFilter {
  readonly #scene: Scene;
  readonly #filter: FilterProfile;
  readonly #shaft: ShaftProfile;
  readonly #grid: StepGrid;
  readonly #reference: ReferenceTruth;
  readonly #truth: FilterTruth;
  readonly #tolerance: LevelTolerance;
  readonly #minimum: MinimumSpeedTruth;
  readonly #deadline: LevelDeadline;
  readonly #spoilt: SpoiltSamples;
  readonly #fields: LevelFields;
  #span: ReferenceSpan | undefined;
  #offset = 0;

  constructor(
    scene: Scene,
    filter: FilterProfile,
    channel: ChannelTruth,
    reference: ReferenceTruth,
    grid: StepGrid,
  ) {
    this.#scene = scene;
    this.#filter = filter;
    this.#shaft = scene.profile.shafts[filter.shaft]!;
    this.#grid = grid;
    this.#reference = reference;
    this.#truth = new FilterTruth(scene, filter, channel, reference.wheel);
    this.#tolerance = new LevelTolerance(scene, filter, reference.wheel);
    this.#minimum = new MinimumSpeedTruth(this.#shaft);
    this.#deadline = new LevelDeadline(scene, filter, reference);
    const settling = {
      timeS: this.#tolerance.settlingS,
      cycles: this.#deadline.settlingCycles,
    };
    this.#spoilt = new SpoiltSamples(reference, grid.periodS, settling);
    this.#fields = new LevelFields(scene, filter, reference, grid, this.#truth, {
      settling,
      randomFactor: this.#tolerance.factor,
    });
  }

  acquired(
    step: number,
    closingTick: number,
    revolution: number,
  ): { isAllowed: boolean; why: string } {
    const stepS = this.#grid.timeOf(step);
    const spans = this.#reference.spansAt(stepS);
    if (spans.length === 0) {
      return { isAllowed: false, why: "but no reference can stand at this step" };
    }
    const { wheel } = this.#reference;
    const { motion, pitchRev, cycleRev } = wheel;
    const { clockHz } = this.#scene.profile;
    const places = motion.angleAt((closingTick + 0.5) / clockHz) / pitchRev;
    const place = Math.round(places);
    const offset = modulo(place, this.#shaft.positions);
    const hasIndex = this.#shaft.index !== "none" && this.#shaft.positions > 1;
    if (Math.abs(places - place) > 0.45) {
      return { isAllowed: false, why: "but no position of the wheel passes there" };
    }
    if (hasIndex && offset !== 0) {
      return { isAllowed: false, why: `but that is ${offset} positions beside the index` };
    }
    const first = (place - offset) / this.#shaft.positions - revolution;
    if (this.#truth.isRunning && this.#isRunningFrom(first, offset)) {
      return { isAllowed: true, why: "it was acquired before" };
    }
    this.#offset = offset;
    this.#truth.place(offset * pitchRev);
    this.#truth.start(first);
    this.#minimum.reset();
    const startS = this.#truth.boundaryS(first);
    const cycleS = cycleRev / Math.max(1e-9, motion.meanSpeedAt(startS));
    const shakeS = 6 * wheel.jitterS + 1e-6 + 1 / clockHz;
    // A life is told by its count of cycles, which an edge too many or a doubted one has moved.
    const doubts = wheel.extras.filter(({ mayLose, timeS }) => mayLose && timeS < stepS).length;
    const countS = 2 * doubts * cycleS;
    const isLate = (span: ReferenceSpan): boolean =>
      startS > span.foundUntilS + cycleS + shakeS + countS;
    const isSoon = (span: ReferenceSpan): boolean =>
      startS < span.foundFromS - shakeS - countS - wheel.errorRev * cycleS;
    const span = spans.find((one) => !isLate(one) && !isSoon(one)) ?? spans[0]!;
    this.#span = span;
    if (isSoon(span)) {
      const why = `but the reference cannot be found before ${span.foundFromS} s`;
      return { isAllowed: false, why };
    }
    if (isLate(span)) {
      return { isAllowed: false, why: `but the reference is found by ${span.foundUntilS} s` };
    }
    if (doubts === 0 && this.#stoodBefore(step, first)) {
      return { isAllowed: false, why: "but the level stood at the step before" };
    }
    return { isAllowed: true, why: "within the rules of lock" };
  }

  /** A recursion that has just started would have been told at the step before. */
  #stoodBefore(step: number, first: number): boolean {
    const limitS = this.#grid.countLimitS(step - 1);
    const firstS = this.#truth.boundaryS(first + 2);
    if (!(this.#truth.countedS(firstS) < limitS - this.#fields.edgeMarginS(firstS))) return false;
    this.#truth.advance(limitS);
    return this.#truth.state!.isComputed && !this.#isNearRefusal(this.#truth.state!);
  }

  #isRunningFrom(first: number, offset: number): boolean {
    return this.#truth.firstBoundary === first && this.#offset === offset;
  }

  step(step: number, facts: StepFacts, closingTick: number | undefined): StepTruth {
    const stepS = this.#grid.timeOf(step);
    if (this.#span !== undefined && stepS >= this.#span.lostUntilS + this.#grid.periodS) {
      this.#truth.stop();
      this.#span = undefined;
    }
    this.#outliveDoubt(stepS);
    this.#truth.advance(this.#grid.countLimitS(step));
    const { state, isOpen } = this.#counted(step, closingTick);
    const reference = this.#reference.at(stepS);
    if (state === undefined) this.#deadline.advance(stepS, this.#grid.countLimitS(step));
    const tolerance =
      state?.isComputed === true ? this.#tolerance.take(this.#truth, state) : undefined;
    const allowed = this.#allowed(stepS, facts, reference, state, tolerance);
    const { before } = this.#truth;
    const record = this.#record(step, reference, state, isOpen, tolerance?.vectorPk);
    if (state === undefined || tolerance === undefined || this.#span === undefined) {
      return { ...NOTHING, allowed, record };
    }
    const vectorPk = tolerance.vectorPk + (isOpen ? distance(state, before ?? state) : 0);
    const pk = Math.hypot(state.re, state.im);
    const isBounded = !this.#isInDoubt(stepS);
    const isJudged =
      isBounded &&
      facts.transducer === "no" &&
      facts.test === "no" &&
      tolerance.faultPk <= FAULT_SHARE * pk;
    const { levelFactor } = this.#filter;
    const { terms } = tolerance;
    if (isOpen) {
      const value = distance(state, before ?? state) * levelFactor;
      terms.push({ name: "which revolution counts", value });
    }
    const roundings = pk * levelFactor * LEVEL_ROUNDINGS;
    terms.push({ name: "level as single precision", value: roundings });
    const levelTol = vectorPk * levelFactor + roundings;
    const share = pk > 0 ? vectorPk / pk : Infinity;
    const lagDeg = (-Math.atan2(state.im, state.re) * 180) / Math.PI;
    return {
      isJudged,
      isBounded,
      re: state.re,
      im: state.im,
      level: pk * levelFactor,
      levelTol,
      terms,
      phaseLagDeg: lagDeg < 0 ? lagDeg + 360 : lagDeg,
      phaseTolDeg: share < 1 ? ((Math.asin(share) + tolerance.turnRad) * 180) / Math.PI : 180,
      phaseIsJudged: isJudged && share + tolerance.turnRad < 0.5 && this.#phaseIsKnown(record),
      speedRevPerS: state.speed,
      speedTolRevPerS: tolerance.speed + (isOpen ? Math.abs(state.speedNow - state.speed) : 0),
      speedNowRevPerS: state.speedNow,
      speedNowTolRevPerS:
        tolerance.speedNow + (isOpen ? Math.abs(state.speedNow - (before ?? state).speedNow) : 0),
      allowed,
      record,
    };
  }

  /** What the record's other fields must say. */
  #record(
    step: number,
    reference: Certainty,
    state: FilterState | undefined,
    isOpen: boolean,
    vectorPk: number | undefined,
  ): RecordTruth {
    const stepS = this.#grid.timeOf(step);
    const record: RecordTruth = {
      isComputed: this.#isComputed(stepS, reference, state, isOpen),
      isSettled: "maybe",
      isBridged: "maybe",
      isPhaseRelative: this.#fields.isPhaseRelative(stepS),
    };
    if (state === undefined || vectorPk === undefined || this.#isInDoubt(stepS)) return record;
    this.#fields.add(record, step, state, isOpen, vectorPk);
    return record;
  }

  /** The phase stands against the index: fitted, and counted as such. */
  #phaseIsKnown(record: RecordTruth): boolean {
    const { wheel } = this.#reference;
    if (this.#shaft.positions === 1 && wheel.positions !== 1) return false;
    return record.isPhaseRelative === "no";
  }

  /** Whether a level is computed. */
  #isComputed(
    stepS: number,
    reference: Certainty,
    state: FilterState | undefined,
    isOpen: boolean,
  ): Certainty {
    if (reference !== "yes") return reference;
    if (state === undefined) return this.#deadline.isDue ? "yes" : "maybe";
    if (isOpen || this.#isInDoubt(stepS) || this.#isNearRefusal(state)) return "maybe";
    return state.isComputed ? "yes" : "no";
  }

  /** The revolution that counts; the record's own where two may, within the edges' uncertainty. */
  #counted(
    step: number,
    closingTick: number | undefined,
  ): { state: FilterState | undefined; isOpen: boolean } {
    const { state, before } = this.#truth;
    if (state === undefined) return { state, isOpen: false };
    const limitS = this.#grid.countLimitS(step);
    const { clockHz } = this.#scene.profile;
    const marginS = this.#fields.edgeMarginS(state.closingS);
    const nextS = this.#truth.nextS;
    const mayBeNext = this.#truth.countedS(nextS) < limitS + marginS;
    const mayBeBefore =
      before !== undefined && this.#truth.countedS(state.closingS) > limitS - marginS;
    if (!mayBeNext && !mayBeBefore) return { state, isOpen: false };
    if (closingTick === undefined) return { state, isOpen: true };
    const closedS = (closingTick + 0.5) / clockHz;
    if (mayBeNext && Math.abs(closedS - nextS) <= marginS) {
      this.#truth.advance(Math.max(limitS, this.#truth.countedS(nextS)) + 1e-12 + marginS * 1e-6);
      return { state: this.#truth.state, isOpen: false };
    }
    if (mayBeBefore && Math.abs(closedS - before.closingS) <= marginS) {
      return { state: before, isOpen: false };
    }
    return { state, isOpen: false };
  }

  #allowed(
    stepS: number,
    facts: StepFacts,
    reference: Certainty,
    state: FilterState | undefined,
    tolerance: StepTolerance | undefined,
  ): StepTruth["allowed"] {
    this.#noteSpoilt(stepS, facts);
    let belowMinimum: Certainty = "no";
    if (reference === "no" || state === undefined || tolerance === undefined) this.#minimum.reset();
    else belowMinimum = this.#minimum.take(state.speedNow, tolerance.speedNow);
    // A filter that started anew remembers nothing, and knows no speed at first.
    if (belowMinimum === "yes" && this.#isInDoubt(stepS)) belowMinimum = "maybe";
    const allowed = allowedOf({
      test: facts.test,
      transducer: facts.transducer,
      reference,
      hasBeenFound: this.#reference.hasBeen(stepS),
      evidence: facts.evidence,
      belowMinimum: state === undefined ? this.#belowUnseen(stepS, reference) : belowMinimum,
      responseLow: this.#responseLow(stepS, reference, state),
      settled: this.#settled(stepS, state),
    });
    this.#minimum.note(validCertainty(allowed));
    return allowed;
  }

  /**
   * Before a level is computed the firmware knows no speed; where it should be, the true one rules.
   */
  #belowUnseen(stepS: number, reference: Certainty): Certainty {
    if (reference !== "yes" || !this.#isLate(stepS)) return "no";
    const { wheel } = this.#reference;
    const speed = wheel.motion.meanSpeedAt(stepS) * wheel.speedFactor;
    const { validSpeedRevPerS, validHysteresisRevPerS } = this.#shaft;
    return speed < validSpeedRevPerS + validHysteresisRevPerS ? "maybe" : "no";
  }

  /** A level should have been computed by now. */
  #isLate(stepS: number): boolean {
    const span = this.#reference.spanAt(stepS);
    return span !== undefined && this.#hasShown(span, stepS);
  }

  /** Since a reference was found there was time for a level. */
  #hasShown(span: ReferenceSpan, stepS: number): boolean {
    const { motion, cycleRev } = this.#reference.wheel;
    const byS = motion.timeAt(motion.angleAt(Math.min(span.foundUntilS, 1e12)) + 4 * cycleRev);
    return stepS > byS + this.#grid.periodS;
  }

  #responseLow(stepS: number, reference: Certainty, state: FilterState | undefined): Certainty {
    if (state === undefined) return reference === "no" ? "no" : this.#deadline.refusal(stepS);
    if (this.#isNearRefusal(state)) return "maybe";
    return state.isComputed ? "no" : "yes";
  }

  /** The newest triangle's response lies so near the least that it may fall either side. */
  #isNearRefusal(state: FilterState): boolean {
    const near = 1e-4 + 2 * this.#reference.wheel.jitterS * state.speedNow;
    return Math.abs(this.#truth.responseNow - RESPONSE_LEAST) < near;
  }

  /** What no record says to have started anew by the end of a doubt is the life before it. */
  #outliveDoubt(stepS: number): void {
    const now = this.#reference.spansAt(stepS)[0];
    if (this.#span === undefined || now === undefined) return;
    if (now.isVague && this.#hasShown(now, stepS)) this.#span = now;
  }

  /** A reference that may have been lost and found again may have started the filter anew. */
  #isInDoubt(stepS: number): boolean {
    if (this.#span === undefined) return false;
    const { isVague, lostFromS } = this.#span;
    return stepS >= lostFromS || (isVague && !this.#hasShown(this.#span, stepS));
  }

  #settled(stepS: number, state: FilterState | undefined): Certainty {
    if (state === undefined) return this.#settledUnseen(stepS);
    if (!state.isComputed) return "no";
    const { settledAfterS } = this.#truth;
    const cycleS = this.#shaft.revolutions / Math.max(1e-9, state.speedNow);
    const marginS = 1e-4 * this.#tolerance.settlingS + 1e-6 + 1.01 * cycleS;
    let settled: Certainty = "maybe";
    if (state.closingS >= settledAfterS + marginS && !this.#isInDoubt(stepS)) settled = "yes";
    else if (stepS < settledAfterS - marginS) settled = "no";
    return this.#withSpoilt(stepS, settled);
  }

  /** Before a record says that a level is computed, the latest one of all may have settled. */
  #settledUnseen(stepS: number): Certainty {
    if (!this.#isLate(stepS)) return "no";
    const { motion, cycleRev } = this.#reference.wheel;
    const cycleS = cycleRev / Math.max(1e-9, motion.meanSpeedAt(stepS));
    const settled = this.#deadline.isSettled(stepS - 2 * cycleS) ? "yes" : "maybe";
    return this.#withSpoilt(stepS, settled);
  }

  /** A functional test or a failed transducer leaves the poles full of what was not measured. */
  #noteSpoilt(stepS: number, facts: StepFacts): void {
    const isSure = facts.transducer === "yes" || facts.isTesting;
    const isOpen = facts.transducer !== "no" || facts.test !== "no";
    this.#spoilt.note(stepS, isSure ? "yes" : isOpen ? "maybe" : "no");
  }

  #withSpoilt(stepS: number, settled: Certainty): Certainty {
    const { isRunning, firstBoundary } = this.#truth;
    const acquiredS = isRunning ? this.#truth.boundaryS(firstBoundary) : Infinity;
    return this.#spoilt.settled(stepS, settled, acquiredS);
  }
}

const NOTHING: Omit<StepTruth, "allowed"> = {
  isJudged: false,
  re: 0,
  im: 0,
  level: 0,
  levelTol: 0,
  phaseLagDeg: 0,
  phaseTolDeg: 0,
  phaseIsJudged: false,
  speedRevPerS: 0,
  speedTolRevPerS: 0,
  speedNowRevPerS: 0,
};

function modulo(a: number, n: number): number {
  return ((a % n) + n) % n;
}
