// Faults of a tachometer as a watch over the places that pass. Times compare with the true passage,
// before jitter; a passage this little before a stated time counts as at it.
import type { TachFault } from "../scene/scene.ts";
import type { WheelPlace } from "./wheel.ts";

const TIME_GUARD_S = 1e-9;

type Timed = Exclude<TachFault, { kind: "drop-out" } | { kind: "index-lost" }>;

export class TachFaults {
  readonly #byEdge: Timed[];
  readonly #byPosition: Timed[];
  readonly #indexLost: { fromS: number; untilS: number }[];
  readonly #isNone: boolean;
  #toMiss = 0;
  /** Fractions of a pitch after the place seen last at which an extra edge comes. */
  readonly glitches: number[] = [];

  constructor(faults: readonly TachFault[], positions: number) {
    for (const fault of faults) refuse(fault, positions);
    this.#isNone = faults.length === 0;
    const timed = faults.filter((one) => one.kind !== "drop-out" && one.kind !== "index-lost");
    timed.sort((a, b) => a.atS - b.atS);
    this.#byEdge = timed.filter((one) => one.kind === "glitch" || one.kind === "missed");
    this.#byPosition = timed.filter((one) => !this.#byEdge.includes(one));
    this.#indexLost = faults.filter((one) => one.kind === "index-lost");
  }

  /** Takes note of a place that passes; true where its edge comes. */
  pass(place: WheelPlace, timeS: number): boolean {
    if (this.#isNone) return place.isFitted;
    this.glitches.length = 0;
    const now = timeS + TIME_GUARD_S;
    const isLost = this.#indexLost.some((one) => one.fromS <= now && timeS < one.untilS);
    const isReal = place.isFitted !== (place.isIndexMark && isLost);
    if (!place.isExtra) {
      this.#fire(
        this.#byPosition,
        now,
        (one) => "position" in one && one.position === place.position,
      );
    }
    if (!isReal) return false;
    this.#fire(this.#byEdge, now, (one) => one.kind === "missed" || !place.isExtra);
    if (this.#toMiss === 0) return true;
    this.#toMiss -= 1;
    return false;
  }

  /** Fires and removes the faults whose time has come and that apply to the place. */
  #fire(faults: Timed[], now: number, applies: (one: Timed) => boolean): void {
    let i = 0;
    while (i < faults.length && faults[i]!.atS <= now) {
      const one = faults[i]!;
      if (!applies(one)) {
        i += 1;
        continue;
      }
      faults.splice(i, 1);
      if ("count" in one) this.#toMiss = Math.max(this.#toMiss, one.count);
      else this.glitches.push(one.fraction);
    }
  }
}

/** Errors: a fault that could never come, or that would come before the edge it follows. */
function refuse(fault: TachFault, positions: number): void {
  if ("position" in fault && !(fault.position >= 0 && fault.position < positions)) {
    throw new Error(`a fault at position ${fault.position} of a wheel of ${positions}`);
  }
  if ("fraction" in fault && !(fault.fraction > 0)) {
    throw new Error(`a glitch ${fault.fraction} of a pitch after an edge: more than 0`);
  }
}
