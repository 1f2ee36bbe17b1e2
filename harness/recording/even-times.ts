// Are times evenly spaced, as far as their digits tell, and how far apart?
import { BandLine } from "./band-line.ts";

/** Share of a period by which a time may stray from even steps: a clock that jitters. */
const STRAY_SHARE = 0.01;

/** A step that is no even one. */
export interface UnevenStep {
  stepS: number;
  /** Of the even steps. */
  periodS: number;
  /** The odd step is the one before: there were two times only, and this one shows which is odd. */
  isStepBefore: boolean;
}

/**
 * Times one by one, each with the step that it was written in.
 *
 * Each stands within half its written step, and a little jitter, of its true time: a band. While
 * one straight line passes all bands the times may be evenly spaced, and the lines that do bound
 * the period. Where none does, a time that lies further off than jitter makes it is a gap or a step
 * back; a clock that drifts leaves the line by next to nothing, and a new line starts.
 */
export class EvenTimes {
  readonly #periodGuessS: number;
  #line = new BandLine();
  #lineCount = 1;
  #count = 0;
  #firstS = 0;
  #lastS = 0;
  #firstHalfS = 0;
  #lastHalfS = 0;
  /** The most by which a step surely differs from an even one, beyond what digits do. */
  #jitterS = 0;
  #slowestS = 0;
  #fastestS = Infinity;

  /** `periodGuessS`: about the period, until the times themselves tell it. */
  constructor(periodGuessS: number) {
    this.#periodGuessS = periodGuessS;
  }

  get count(): number {
    return this.#count;
  }

  get lastS(): number {
    return this.#lastS;
  }

  /** Last minus first time over the steps between them; NaN before the second. */
  get periodS(): number {
    return this.#count < 2 ? Number.NaN : (this.#lastS - this.#firstS) / (this.#count - 1);
  }

  /** Half the width within which digits and jitter of the times leave that period. */
  get uncertaintyS(): number {
    if (this.#count < 2) return Number.NaN;
    const ends = (this.#firstHalfS + this.#lastHalfS + this.#jitterS) / (this.#count - 1);
    if (this.#lineCount > 1) return ends;
    const { slopeLeast, slopeMost } = this.#line;
    return Math.min(ends, Math.max(slopeMost - this.periodS, this.periodS - slopeLeast, 0));
  }

  /** By how much the period of some stretch surely departs from the whole's: a clock that drifts. */
  get driftS(): number {
    if (this.#lineCount === 1) return 0;
    this.#noteLine();
    return Math.max(0, this.#slowestS - this.periodS, this.periodS - this.#fastestS);
  }

  /** Takes the next time; says so where it does not follow in an even step, and leaves it out. */
  take(timeS: number, writtenStepS: number): UnevenStep | undefined {
    if (this.#count === 0) this.#firstS = timeS;
    const stray = (STRAY_SHARE / 2) * this.#periodOfLineS();
    const half = writtenStepS / 2 + stray;
    const from = timeS - this.#firstS;
    if (!this.#line.take(from - half, from + half)) {
      const { reachLeast, reachMost } = this.#line;
      const off = Math.max(from - half - reachMost, reachLeast - from - half);
      const stepS = timeS - this.#lastS;
      if (stepS < -writtenStepS || off > 2 * stray) return this.#uneven(stepS);
      this.#startLine(from, half);
    } else if (this.#line.count > 2) this.#noteJitter(timeS - this.#lastS, writtenStepS);
    if (this.#count === 0) this.#firstHalfS = writtenStepS / 2;
    this.#lastHalfS = writtenStepS / 2;
    this.#lastS = timeS;
    this.#count += 1;
    return undefined;
  }

  #uneven(stepS: number): UnevenStep {
    const beforeS = this.#lastS - this.#firstS;
    const offS = (oneS: number): number => Math.abs(oneS - this.#periodGuessS);
    if (this.#count === 2 && offS(beforeS) > offS(stepS)) {
      return { stepS: beforeS, periodS: this.#periodGuessS, isStepBefore: true };
    }
    return { stepS, periodS: this.#periodOfLineS(), isStepBefore: false };
  }

  /** The middle of what the line at hand allows. */
  #periodOfLineS(): number {
    const { count, slopeLeast, slopeMost } = this.#line;
    return count < 3 ? this.#periodGuessS : (slopeLeast + slopeMost) / 2;
  }

  #noteJitter(stepS: number, writtenStepS: number): void {
    const { slopeLeast, slopeMost } = this.#line;
    const offS = Math.max(stepS - slopeMost, slopeLeast - stepS) - writtenStepS;
    if (offS > this.#jitterS) this.#jitterS = offS;
  }

  #noteLine(): void {
    if (this.#line.count < 3) return;
    this.#slowestS = Math.max(this.#slowestS, this.#line.slopeLeast);
    this.#fastestS = Math.min(this.#fastestS, this.#line.slopeMost);
  }

  #startLine(from: number, half: number): void {
    this.#noteLine();
    const beforeS = this.#lastS - this.#firstS;
    this.#line = new BandLine();
    this.#line.take(beforeS - half, beforeS + half);
    this.#line.take(from - half, from + half);
    this.#lineCount += 1;
  }
}
