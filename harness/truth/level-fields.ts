// What the other fields of a computed level record must say: age, revolution, marks, integration.
import type { FilterProfile, Scene, ShaftProfile } from "../scene/scene.ts";
import { BridgedEdges } from "./bridged-edges.ts";
import type { FilterState } from "./filter-state.ts";
import type { FilterTruth } from "./filter-truth.ts";
import type { Range, RecordTruth } from "./record-truth.ts";
import type { Certainty, ReferenceTruth } from "./reference.ts";
import type { Settling } from "./spoilt-samples.ts";
import type { StepGrid } from "./step-clock.ts";

/** Cycles that contradict before the index is lost, and one for the cycle that is open. */
const LOSS_CYCLES = 4;
/** Cycles beyond those that lock until an index that came again surely counts. */
const BACK_CYCLES = 6;
/** Units of single precision that a difference of two durations is off by. */
const DURATION_ROUNDINGS = 2 ** -21;

export class LevelFields {
  readonly #scene: Scene;
  readonly #shaft: ShaftProfile;
  readonly #reference: ReferenceTruth;
  readonly #grid: StepGrid;
  readonly #truth: FilterTruth;
  readonly #settling: Settling;
  readonly #bridged: BridgedEdges;
  /** What a random vector's σ is multiplied by to bound it. */
  readonly #randomFactor: number;

  constructor(
    scene: Scene,
    filter: FilterProfile,
    reference: ReferenceTruth,
    grid: StepGrid,
    truth: FilterTruth,
    tolerance: { settling: Settling; randomFactor: number },
  ) {
    const { settling, randomFactor } = tolerance;
    this.#randomFactor = randomFactor;
    this.#scene = scene;
    this.#shaft = scene.profile.shafts[filter.shaft]!;
    this.#reference = reference;
    this.#grid = grid;
    this.#truth = truth;
    this.#settling = settling;
    this.#bridged = new BridgedEdges(scene, filter.shaft, reference, truth, settling);
  }

  /** How far an edge may be recorded from its true time. */
  edgeMarginS(timeS: number): number {
    const { clockHz } = this.#scene.profile;
    const { wheel } = this.#reference;
    const speed = Math.max(1e-9, wheel.motion.meanSpeedAt(timeS));
    return 2 / clockHz + 7 * wheel.jitterS + (1.5 * wheel.errorRev) / speed;
  }

  /** The same of a boundary, which may lie in a gap or beside an edge too many. */
  #boundaryMarginS(state: FilterState): number {
    const { wheel } = this.#reference;
    const speed = Math.max(1e-9, wheel.motion.meanSpeedAt(state.closingS));
    const memoryS = (3 * wheel.cycleRev) / speed;
    const rippleRev = wheel.motion.ripple.reduce((sum, one) => sum + Math.abs(one.amplitudeRev), 0);
    let shiftRev = 0;
    for (const gap of wheel.gaps) {
      if (gap.untilS < state.closingS - memoryS || gap.fromS > state.closingS) continue;
      const lengthS = gap.untilS - gap.fromS;
      shiftRev += 2 * wheel.errorRev + 2 * rippleRev;
      shiftRev += (wheel.motion.slopeMost * lengthS * lengthS) / 8;
    }
    for (const { timeS, misplacedRev } of wheel.extras) {
      if (Math.abs(timeS - state.closingS) < memoryS) shiftRev += 2 * misplacedRev;
    }
    return this.edgeMarginS(state.closingS) + shiftRev / speed;
  }

  /** Adds what a computed level says; `isOpen`: it is open which of two revolutions counts. */
  add(
    fields: RecordTruth,
    step: number,
    state: FilterState,
    isOpen: boolean,
    vectorPk: number,
  ): void {
    const marginS = this.#boundaryMarginS(state);
    fields.isSettled = this.#isSettled(state, marginS);
    fields.isBridged = this.#bridged.at(state);
    if (isOpen) return;
    fields.ageTicks = this.#ageTicks(step, state, marginS);
    fields.revolution = state.closing - this.#truth.firstBoundary;
    const distance = this.#distance(state, vectorPk, marginS);
    if (distance !== undefined) fields.integrationDistance = distance;
  }

  #ageTicks(step: number, state: FilterState, marginS: number): Range {
    const { clockHz } = this.#scene.profile;
    const ageS = this.#grid.timeOf(step) - state.closingS;
    return { least: (ageS - marginS) * clockHz, most: (ageS + marginS) * clockHz + 1 };
  }

  /** 6.64 τ since the first vector, as the sum of the cycles' shares. */
  #isSettled(state: FilterState, marginS: number): Certainty {
    const { timeS, cycles } = this.#settling;
    const closed = state.closing - this.#truth.beganAt;
    const share = 1e-4 + 4e-8 * Math.max(1, closed);
    if (cycles > 0) {
      const slack = 1 + share * cycles;
      if (closed >= cycles + slack) return "yes";
      return closed < cycles - slack ? "no" : "maybe";
    }
    const sinceS = state.closingS - this.#truth.boundaryS(this.#truth.beganAt);
    const slackS = share * timeS + 2 * marginS + 1e-6;
    if (sinceS >= timeS + slackS) return "yes";
    return sinceS < timeS - slackS ? "no" : "maybe";
  }

  /** n·(slope of the speed over ω² and change of the amplitude over ω)², by what both leave open. */
  #distance(state: FilterState, vectorPk: number, marginS: number): Range | undefined {
    const { integration } = state;
    if (integration === undefined) return undefined;
    const { count, slope, modulus, modulusChange, durationS, turnRad } = integration;
    if (count === 0) return { least: 0, most: 0 };
    // Both moduli may be off, each by its own; the newer one stands below the line as well.
    const { bound, variance } = integration.before ?? { bound: 0, variance: 0 };
    const offBefore = bound + this.#randomFactor * Math.sqrt(variance);
    const off = vectorPk + modulus * DURATION_ROUNDINGS;
    const both = off + offBefore + (modulusChange + modulus) * DURATION_ROUNDINGS;
    const changeLeast = Math.max(0, modulusChange - both) / (modulus + off) / turnRad;
    const changeMost =
      modulus > off ? (modulusChange + both) / (modulus - off) / turnRad : Infinity;
    const durationOff = 4 * marginS + DURATION_ROUNDINGS * durationS;
    const slopeOff = (2.02 * durationOff) / (durationS * turnRad);
    return {
      least: count * Math.max(0, slope - slopeOff + changeLeast) ** 2 * (1 - 1e-5),
      most: count * (slope + slopeOff + changeMost) ** 2 * (1 + 1e-5),
    };
  }

  /** The phase refers to the index: fitted, not lost, and one revolution a cycle. */
  isPhaseRelative(stepS: number): Certainty {
    const { revolutions, positions, index, lockRevolutions } = this.#shaft;
    if (revolutions !== 1) return "yes";
    if (index === "none") return positions > 1 ? "yes" : "no";
    if (positions === 1) return "no";
    const { motion, cycleRev, indexLost } = this.#reference.wheel;
    const after = (timeS: number, cycles: number): number =>
      motion.timeAt(motion.angleAt(Math.min(timeS, 1e12)) + cycles * cycleRev);
    let answer: Certainty = "no";
    for (const { fromS, untilS } of indexLost) {
      if (stepS < fromS) continue;
      // What is found anew has its index, and what is lost keeps its mark.
      const isSteady = this.#standsFrom(fromS, stepS);
      if (isSteady && stepS > after(fromS, LOSS_CYCLES) + this.#grid.periodS && stepS <= untilS) {
        return "yes";
      }
      const isBack = stepS > after(untilS, lockRevolutions + BACK_CYCLES);
      if (!isBack || this.#reference.at(stepS) !== "yes") answer = "maybe";
    }
    return answer;
  }

  /** One life of the reference surely holds both times. */
  #standsFrom(fromS: number, untilS: number): boolean {
    return this.#reference.spans.some(
      ({ foundUntilS, lostFromS }) => foundUntilS <= fromS && untilS < lostFromS,
    );
  }
}
