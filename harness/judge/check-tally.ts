// Sums one check of a case over its steps: no memory beyond the worst item and a few minima.
import type { CheckName } from "../scene/scene.ts";
import type { CheckResult } from "./types.ts";
import { countText } from "./sentences.ts";

/** Results hold finite numbers only. */
function finite(value: number): number | null {
  return Number.isFinite(value) ? value : null;
}

/** |error| over its tolerance; Infinity where there is none to divide by, or no number. */
export function errorRatio(error: number, tolerance: number): number {
  if (error === 0) return 0;
  const ratio = Math.abs(error) / tolerance;
  return Number.isNaN(ratio) ? Infinity : ratio;
}

/** Errors against tolerances, or plain facts, of one check and source. */
export class CheckTally {
  judgedCount = 0;
  wrongCount = 0;
  /** Set where the smallest error is known from the definition, not from the tolerances. */
  smallestCaught: number | undefined;
  /** Infinity: over any tolerance. */
  private worstRatio = 0;
  private worstError = 0;
  private worstTolerance = 0;
  private worstTimeS = 0;
  private worstWhy = "";
  private roomAbove = Infinity;
  private roomBelow = Infinity;
  readonly check: CheckName;
  readonly source: number;
  readonly unit: string;

  constructor(check: CheckName, source: number, unit: string) {
    this.check = check;
    this.source = source;
    this.unit = unit;
  }

  /** Takes one value: error = found − expected. The sentence is made only where it is needed. */
  value(error: number, tolerance: number, timeS: number, why: () => string): void {
    this.judgedCount += 1;
    const isRight = Math.abs(error) <= tolerance;
    const ratio = errorRatio(error, tolerance);
    if (!isRight) this.wrongCount += 1;
    if (tolerance - error < this.roomAbove) this.roomAbove = tolerance - error;
    if (tolerance + error < this.roomBelow) this.roomBelow = tolerance + error;
    if (ratio > this.worstRatio) {
      this.worstRatio = ratio;
      this.worstError = error;
      this.worstTolerance = tolerance;
      this.worstTimeS = timeS;
      if (!isRight) this.worstWhy = why();
    }
    if (!isRight && this.worstWhy === "") this.worstWhy = why();
  }

  /** Takes one item that is right or wrong; the first wrong one is told. */
  fact(isRight: boolean, timeS: number, why: () => string): void {
    this.judgedCount += 1;
    if (!isRight) this.wrong(timeS, why);
  }

  /** Takes a wrong item that was not counted as judged (something that should not exist). */
  wrong(timeS: number, why: () => string): void {
    this.wrongCount += 1;
    if (this.worstRatio === Infinity) return;
    this.worstRatio = Infinity;
    this.worstError = Number.NaN;
    this.worstTolerance = 0;
    this.worstTimeS = timeS;
    this.worstWhy = why();
  }

  /**
   * The result, once everything was taken.
   *
   * `smallestCaught` is the smallest offset beyond which a constant error of either sign, added to
   * every judged value, would have turned this check wrong: max(min(tol − e), min(tol + e)).
   * `inAll` may say what so many wrong items come to.
   */
  result(item: string, rightWhy: string, inAll?: (wrongCount: number) => string): CheckResult {
    const isRight = this.wrongCount === 0;
    const room = Math.max(this.roomAbove, this.roomBelow, 0);
    const all = Math.max(this.judgedCount, this.wrongCount);
    const sum = inAll === undefined ? "" : ` (${inAll(this.wrongCount)})`;
    const share = `${this.wrongCount} of ${countText(all, item)}${sum} wrong.`;
    return {
      check: this.check,
      source: this.source,
      isRight,
      judgedCount: this.judgedCount,
      wrongCount: this.wrongCount,
      worstRatio: finite(this.worstRatio),
      worstError: finite(this.worstError),
      worstTolerance: this.worstTolerance,
      worstTimeS: this.worstTimeS,
      unit: this.unit,
      smallestCaught: this.smallestCaught ?? (Number.isFinite(room) ? room : 0),
      why: isRight ? rightWhy : `${this.worstWhy}; ${share}`,
    };
  }
}
