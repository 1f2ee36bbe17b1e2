// From bounds and variances at the filter to the tolerances of level, phase and speed at one step.
import type { FilterProfile, Scene } from "../scene/scene.ts";
import { RANDOM_NAMES, TERM_NAMES } from "./error-bounds.ts";
import type { FilterState } from "./filter-state.ts";
import type { FilterTruth } from "./filter-truth.ts";
import { timeConstantS } from "./filter-response.ts";
import { randomFactor } from "./random-factor.ts";
import type { ToleranceTerm } from "./types.ts";
import type { WheelTruth } from "./wheel-truth.ts";

const F32_UNIT = 2 ** -24;

export interface StepTolerance {
  /** Vector, SI pk. */
  vectorPk: number;
  terms: ToleranceTerm[];
  faultPk: number;
  speed: number;
  speedNow: number;
  /** What turns the vector without changing its length, rad. */
  turnRad: number;
}

export class LevelTolerance {
  readonly #scene: Scene;
  readonly #filter: FilterProfile;
  readonly #wheel: WheelTruth;
  readonly #factor: number;

  constructor(scene: Scene, filter: FilterProfile, wheel: WheelTruth) {
    this.#scene = scene;
    this.#filter = filter;
    this.#wheel = wheel;
    const { profile, durationS } = scene;
    this.#factor = randomFactor(durationS, profile.displayPeriodS, profile.filters.length);
  }

  get factor(): number {
    return this.#factor;
  }

  get settlingS(): number {
    const { bandwidth } = this.#filter;
    return bandwidth.kind === "fixed" ? 6.64 * timeConstantS(bandwidth.fullWidthHz) : 0;
  }

  /** Evaluates for the state that a step counts. */
  take(truth: FilterTruth, state: FilterState): StepTolerance {
    const factor = this.#filter.levelFactor;
    const terms: ToleranceTerm[] = [];
    let vectorPk = 0;
    const bounds = truth.boundsNow();
    bounds.forEach((value, i) => {
      vectorPk += value;
      if (value > 0) terms.push({ name: TERM_NAMES[i]!, value: value * factor });
    });
    const variances = truth.variancesNow();
    const variance = variances.reduce((sum, one) => sum + one, 0);
    const random = this.#factor * Math.sqrt(variance);
    vectorPk += random;
    variances.forEach((value, i) => {
      if (value <= 0) return;
      terms.push({ name: RANDOM_NAMES[i]!, value: (random * factor * value) / variance });
    });
    const faultPk = bounds[TERM_NAMES.indexOf("fault of the channel")]!;
    return { vectorPk, terms, faultPk, ...this.#speeds(truth, state) };
  }

  #speeds(
    truth: FilterTruth,
    state: FilterState,
  ): { speed: number; speedNow: number; turnRad: number } {
    const { clockHz } = this.#scene.profile;
    const revolutions = this.#scene.profile.shafts[this.#filter.shaft]!.revolutions;
    const cyclesPerS = state.speedNow / revolutions;
    // Two cycles of 2/cyclesPerS, each end a tick late at most; twice that for the weights.
    const clock = (state.speedNow * cyclesPerS) / clockHz;
    const jitter =
      (this.#factor * state.speedNow * Math.SQRT2 * this.#wheel.jitterS * cyclesPerS) / 2;
    const bridged = this.#bridgedRev(state) / this.#wheel.cycleRev;
    const common = clock + bridged * state.speedNow;
    // A boundary beside its place reads the speed of another moment, and runs the poles by it.
    const { motion, errorRev } = this.#wheel;
    const wheel = (motion.slopeMost * errorRev) / Math.max(1e-9, state.speedNow);
    const lag = Math.abs(state.speed - state.speedNow) / Math.max(1e-9, state.speedNow);
    // An end's part of the speed goes with its square; two vectors are two cycles apart.
    const slope = Math.abs(motion.slopeAt(state.closingS));
    const change = (4 * slope) / Math.max(1e-9, state.speedNow * cyclesPerS);
    const turns = this.#filter.order * revolutions;
    const edgeRev = this.#wheel.errorRev / this.#wheel.cycleRev;
    return {
      speedNow: common + wheel + jitter + state.speedNow * 8 * F32_UNIT,
      speed:
        common +
        wheel * (1 + lag) +
        jitter * (1 + lag) ** 2 * truth.speedShare(change) +
        state.speedNow * F32_UNIT * (8 + 2 / Math.min(1, state.h)),
      turnRad: truth.turnRad + 2 * Math.PI * turns * (cyclesPerS / clockHz + edgeRev),
    };
  }

  /** An end inside a bridged gap is off by what the acceleration does there, and by the wheel. */
  #bridgedRev(state: FilterState): number {
    let error = 0;
    for (const gap of this.#wheel.gaps) {
      const cycleS = 3 / Math.max(1e-9, state.speedNow);
      if (gap.untilS < state.closingS - 40 * cycleS || gap.fromS > state.closingS) continue;
      const lengthS = gap.untilS - gap.fromS;
      const slope = Math.abs(this.#wheel.motion.slopeAt(gap.fromS));
      error = Math.max(error, (slope * lengthS * lengthS) / 8 + 2 * this.#wheel.errorRev);
    }
    for (const { timeS, misplacedRev } of this.#wheel.extras) {
      const sinceS = state.closingS - timeS;
      const cycleS = 3 / Math.max(1e-9, state.speedNow);
      if (sinceS < -cycleS || sinceS > 40 * cycleS) continue;
      error = Math.max(error, 2 * misplacedRev);
    }
    return error;
  }
}
