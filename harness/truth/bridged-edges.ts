// Where a record must say that a missed edge was bridged: from the cycle of the gap on, through the
// two triangles that it reaches, and 6.64 τ longer.
import type { Scene } from "../scene/scene.ts";
import type { FilterState } from "./filter-state.ts";
import type { FilterTruth } from "./filter-truth.ts";
import type { Certainty, ReferenceTruth } from "./reference.ts";
import type { Settling } from "./spoilt-samples.ts";

/** Knots lie so near beside a gap, cycles: twelve or more a cycle, or every position. */
const KNOT_CYCLES = 1 / 12;
/** Cycles by which what is no gap may look like one. */
const AROUND_CYCLES = 3;
const CLOSE = 1e-6;

export class BridgedEdges {
  readonly #reference: ReferenceTruth;
  readonly #truth: FilterTruth;
  readonly #settling: Settling;
  readonly #isCalm: boolean;

  constructor(
    scene: Scene,
    shaft: number,
    reference: ReferenceTruth,
    truth: FilterTruth,
    settling: Settling,
  ) {
    this.#reference = reference;
    this.#truth = truth;
    this.#settling = settling;
    this.#isCalm = this.#edgesAreCalm(scene, shaft);
  }

  /** Jitter, wheel and ripple leave every edge within half of its tolerance. */
  #edgesAreCalm(scene: Scene, shaft: number): boolean {
    const { wheel } = this.#reference;
    const { index, positions, edgeTolerancePitches } = scene.profile.shafts[shaft]!;
    const speedMost = Math.max(...scene.shafts[shaft]!.speed.map((row) => row.revPerS));
    const rippleRev = wheel.motion.ripple.reduce((sum, one) => sum + Math.abs(one.amplitudeRev), 0);
    const shiftRev = 8 * wheel.jitterS * speedMost + 4 * (wheel.errorRev + rippleRev);
    const isSameIndex = positions === 1 || index === wheel.index;
    return isSameIndex && shiftRev < 0.5 * edgeTolerancePitches * wheel.pitchRev;
  }

  /** Whether the flag stands with a state that counts. */
  at(state: FilterState): Certainty {
    if (!this.#isCalm) return "maybe";
    const { gaps, extras, indexLost } = this.#reference.wheel;
    let answer: Certainty = "no";
    for (const gap of gaps) {
      const one = this.#by(state, gap.fromS, gap.untilS);
      if (one === "yes" && gap.missed > 0) return "yes";
      if (one !== "no") answer = "maybe";
    }
    for (const { timeS } of extras) if (this.#mayBeBy(state, timeS, timeS)) return "maybe";
    for (const { fromS, untilS } of indexLost) {
      if (this.#mayBeBy(state, fromS, untilS)) return "maybe";
    }
    return answer;
  }

  /** Boundaries are whole numbers. */
  #placeOf(timeS: number): number {
    return this.#truth.placeAt(timeS);
  }

  #mayBeBy(state: FilterState, fromS: number, untilS: number): boolean {
    if (this.#placeOf(fromS) - AROUND_CYCLES > state.closing) return false;
    const last = Math.ceil(this.#placeOf(untilS)) + AROUND_CYCLES;
    return last > this.#truth.firstBoundary && !this.#isForgotten(state, last);
  }

  #by(state: FilterState, fromS: number, untilS: number): Certainty {
    const from = this.#placeOf(fromS);
    const until = this.#placeOf(untilS);
    const { firstBoundary, beganAt } = this.#truth;
    if (until + KNOT_CYCLES + CLOSE < firstBoundary) return "no";
    const first = Math.floor(from - KNOT_CYCLES - CLOSE) + 1;
    const last = Math.ceil(until + KNOT_CYCLES + CLOSE) + 1;
    if (state.closing < first || this.#isForgotten(state, last)) return "no";
    // Refused triangles are not counted, and what lies before the first cycle is not bridged.
    if (beganAt !== firstBoundary + 2 || from - KNOT_CYCLES < firstBoundary) return "maybe";
    if (state.closing < Math.floor(from + CLOSE) + 1) return "maybe";
    return this.#isRemembered(state, Math.ceil(until - CLOSE) + 1) ? "yes" : "maybe";
  }

  /** The boundary is so long ago that it is surely over. */
  #isForgotten(state: FilterState, last: number): boolean {
    const { timeS, cycles } = this.#settling;
    const lastS = this.#truth.boundaryS(last);
    if (cycles > 0) return state.closing > last + cycles + 1 + 1e-3 * cycles;
    return state.closing > last && state.closingS > lastS + timeS * 1.001 + 1e-6;
  }

  /** The boundary is so near that it is surely not. */
  #isRemembered(state: FilterState, last: number): boolean {
    const { timeS, cycles } = this.#settling;
    if (state.closing <= last) return true;
    if (cycles > 0) return state.closing < last + cycles - 1 - 1e-3 * cycles;
    return state.closingS < this.#truth.boundaryS(last) + timeS * 0.999 - 1e-6;
  }
}
