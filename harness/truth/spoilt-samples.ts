// Samples that were not the transducer's: those of a functional test or of a failed transducer.
// They leave the triangle by cycles; then the poles settle anew, by cycles or by time.
import type { Certainty, ReferenceTruth } from "./reference.ts";

/** Clean cycles that a filter waits for after spoilt samples. */
const CLEAN_CYCLES = 3;

/** What the poles take to settle, as time or as cycles; the other is 0. */
export interface Settling {
  timeS: number;
  cycles: number;
}

export class SpoiltSamples {
  readonly #reference: ReferenceTruth;
  readonly #periodS: number;
  readonly #settling: Settling;
  #maybeS = -Infinity;
  #sureS = -Infinity;

  constructor(reference: ReferenceTruth, periodS: number, settling: Settling) {
    this.#reference = reference;
    this.#periodS = periodS;
    this.#settling = settling;
  }

  /** Takes a step: whether samples since the one before were surely, or maybe, spoilt. */
  note(stepS: number, spoilt: Certainty): void {
    if (spoilt !== "no") this.#maybeS = stepS;
    if (spoilt === "yes") this.#sureS = stepS;
  }

  /** Whether a filter has settled, that would have without them; acquired at a time, or not yet. */
  settled(stepS: number, settled: Certainty, acquiredS: number): Certainty {
    if (settled === "no" || this.#maybeS === -Infinity || this.#isOver(stepS)) return settled;
    return this.#isUnder(stepS, acquiredS) ? "no" : "maybe";
  }

  #cyclesSince(fromS: number, stepS: number): number {
    const { motion, cycleRev } = this.#reference.wheel;
    return (motion.angleAt(stepS) - motion.angleAt(Math.max(0, fromS))) / cycleRev;
  }

  #isOver(stepS: number): boolean {
    const { motion, cycleRev } = this.#reference.wheel;
    // The step after the last spoilt one counts as well; a cycle may be open at either end.
    const fromS = this.#maybeS + 2 * this.#periodS;
    if (this.#cyclesSince(fromS, stepS) <= this.#settling.cycles + CLEAN_CYCLES + 4) return false;
    const cleanS = motion.timeAt(motion.angleAt(fromS) + (CLEAN_CYCLES + 3) * cycleRev);
    return stepS > cleanS + this.#settling.timeS * 1.0001 + 2 * this.#periodS;
  }

  #isUnder(stepS: number, acquiredS: number): boolean {
    if (stepS <= this.#sureS) return true;
    // An acquisition after it settles from its own start.
    if (acquiredS >= this.#sureS) return false;
    const least = this.#settling.cycles + CLEAN_CYCLES - 2;
    return (
      this.#cyclesSince(this.#sureS, stepS) < least ||
      stepS < this.#sureS + this.#settling.timeS * 0.9999
    );
  }
}
