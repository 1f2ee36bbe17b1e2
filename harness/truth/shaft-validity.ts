// The minimum-speed state of one filter, with all that the tolerance of its speed leaves open.
import type { ShaftProfile } from "../scene/scene.ts";
import type { Certainty } from "./reference.ts";

/** States as below·STRIDE + steps in a row below. */
const STRIDE = 65_536;

/**
 * Below counts when the speed stood below the minimum on this step and the N before; until the
 * first valid number since the acquisition it may count at once. It ends at minimum + hysteresis.
 */
export class MinimumSpeedTruth {
  #possible = new Set<number>([0]);
  #mayHaveBeenValid = false;
  #mayNeverHaveBeenValid = true;
  readonly #least: number;
  readonly #again: number;
  readonly #steps: number;

  constructor(profile: ShaftProfile) {
    this.#least = profile.validSpeedRevPerS;
    this.#again = profile.validSpeedRevPerS + profile.validHysteresisRevPerS;
    this.#steps = profile.validDelaySteps;
  }

  /** Without a computed level nothing is remembered. */
  reset(): void {
    this.#possible = new Set([0]);
    this.#mayHaveBeenValid = false;
    this.#mayNeverHaveBeenValid = true;
  }

  take(speedNow: number, tolerance: number): Certainty {
    const mayBeUnder = speedNow - tolerance < this.#least;
    const mayBeOver = speedNow + tolerance >= this.#least;
    const mayEnd = speedNow + tolerance >= this.#again;
    const mayStay = speedNow - tolerance < this.#again;
    if (!mayBeUnder && !mayStay && this.#possible.size === 1 && this.#possible.has(0)) return "no";
    const next = new Set<number>();
    for (const one of this.#possible) {
      if (one >= STRIDE) {
        if (mayEnd) next.add(0);
        if (mayStay) next.add(STRIDE);
        continue;
      }
      if (mayBeOver) next.add(0);
      if (!mayBeUnder) continue;
      const count = one + 1;
      const isOver = count > this.#steps;
      if (isOver || this.#mayNeverHaveBeenValid) next.add(STRIDE);
      if (!isOver && this.#mayHaveBeenValid) next.add(count);
    }
    this.#possible = next;
    const isBelow = [...next].map((one) => one >= STRIDE);
    if (isBelow.every(Boolean)) return "yes";
    return isBelow.some(Boolean) ? "maybe" : "no";
  }

  /** Tells whether the number of this step may, or must, have been valid. */
  note(validity: Certainty): void {
    if (validity !== "no") this.#mayHaveBeenValid = true;
    if (validity === "yes") this.#mayNeverHaveBeenValid = false;
  }
}
