// What the truth says between two times: exactly between them, no step more on either side.
import type { ExpectedStep } from "./expected-number.ts";

/** Least and greatest of a value between two times. */
export interface Reach {
  low: number;
  high: number;
  /** Of the truth itself, and of the straight line between its steps. */
  tolerance: number;
}

export interface Window {
  /** False where any of it is not known. */
  isKnown: boolean;
  number: Reach;
  speed: Reach;
}

const NOTHING: Reach = { low: NaN, high: NaN, tolerance: NaN };
const UNKNOWN: Window = { isKnown: false, number: NOTHING, speed: NOTHING };

interface Value {
  of: (step: ExpectedStep) => number;
  toleranceOf: (step: ExpectedStep) => number;
}
const NUMBER: Value = { of: (step) => step.number, toleranceOf: (step) => step.tolerance };
const SPEED: Value = {
  of: (step) => step.speedRevPerS,
  toleranceOf: (step) => step.speedTolerance,
};

export class TruthWindows {
  readonly #steps: readonly ExpectedStep[];

  /** Steps ascending in time. */
  constructor(steps: readonly ExpectedStep[]) {
    this.#steps = steps;
  }

  /** From one time to another, both among the steps' own. */
  between(fromS: number, untilS: number): Window {
    const steps = this.#steps;
    const last = this.#indexAt(untilS);
    const first = this.#indexAt(fromS);
    if (first < 0 || untilS > (steps.at(-1)?.timeS ?? -Infinity)) return UNKNOWN;
    // The step after the end bounds the last stretch, where the end is not itself a step.
    const end = steps[last]!.timeS < untilS ? last + 1 : last;
    for (let i = first; i <= end; i += 1) if (!steps[i]!.isKnown) return UNKNOWN;
    const reach = (value: Value): Reach => {
      const ends = [this.#at(first, fromS, value), this.#at(last, untilS, value)];
      let [low, high] = [Math.min(...ends), Math.max(...ends)];
      let tolerance = 0;
      for (let i = first; i <= end; i += 1) {
        const step = steps[i]!;
        if (i > first && i <= last) {
          low = Math.min(low, value.of(step));
          high = Math.max(high, value.of(step));
        }
        tolerance = Math.max(tolerance, value.toleranceOf(step) + this.#bend(i, value));
      }
      return { low, high, tolerance };
    };
    return { isKnown: true, number: reach(NUMBER), speed: reach(SPEED) };
  }

  /** The last step at or before a time; −1: none. */
  #indexAt(timeS: number): number {
    let [low, high] = [-1, this.#steps.length - 1];
    while (low < high) {
      const middle = Math.ceil((low + high) / 2);
      if (this.#steps[middle]!.timeS <= timeS) low = middle;
      else high = middle - 1;
    }
    return low;
  }

  #at(index: number, timeS: number, { of }: Value): number {
    const [a, b] = [this.#steps[index]!, this.#steps[index + 1]];
    if (b === undefined || timeS <= a.timeS) return of(a);
    return of(a) + ((timeS - a.timeS) / (b.timeS - a.timeS)) * (of(b) - of(a));
  }

  /**
   * How far a straight line between steps may be off: of a parabola through three steps h apart the
   * middle one lies c·h² off the chord, and between two of them c·(h/2)², a quarter of that.
   */
  #bend(index: number, { of }: Value): number {
    const [a, b, c] = [this.#steps[index - 1], this.#steps[index]!, this.#steps[index + 1]];
    if (a?.isKnown !== true || c?.isKnown !== true) return 0;
    const share = (b.timeS - a.timeS) / (c.timeS - a.timeS);
    return Math.abs(of(b) - (of(a) + share * (of(c) - of(a)))) / 4;
  }
}
