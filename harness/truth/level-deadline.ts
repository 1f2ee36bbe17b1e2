// When a filter must have a level at the latest, from the scene alone: a recursion that begins at
// the latest moment at which the reference can be found. It rules while no record says that a level
// is computed.
import type { FilterProfile, Scene } from "../scene/scene.ts";
import { responseAt } from "./channel-response.ts";
import { proportionalPole, timeConstantS } from "./filter-response.ts";
import { RESPONSE_LEAST } from "./filter-truth.ts";
import type { Certainty, ReferenceSpan, ReferenceTruth } from "./reference.ts";

/** A vector's two cycles, and one for where the boundaries really lie. */
const SEEN_CYCLES = 3;
/** Looks at the response in each cycle. */
const LOOKS = 4;
/** Cycles back to where the newest triangle that counts can have begun, and its edge's samples. */
const BACK_CYCLES = 4;

export class LevelDeadline {
  readonly #filter: FilterProfile;
  readonly #scene: Scene;
  readonly #reference: ReferenceTruth;
  readonly #settlingS: number;
  /** Cycles that proportional poles take to settle; 0 where they settle by time. */
  readonly settlingCycles: number;
  #span: ReferenceSpan | undefined;
  /** Angle at which the recursion begins at the latest, rev, and cycles closed since. */
  #startRev = 0;
  #closed = 0;
  #nextS = Infinity;
  #acceptedS: number | undefined;
  #settledAt: { timeS: number; closed: number } = { timeS: Infinity, closed: Infinity };
  /** Cycles in a row that were surely accepted. */
  #passedCount = 0;

  constructor(scene: Scene, filter: FilterProfile, reference: ReferenceTruth) {
    this.#scene = scene;
    this.#filter = filter;
    this.#reference = reference;
    const { bandwidth, shaft } = filter;
    const { revolutions } = scene.profile.shafts[shaft]!;
    const isFixed = bandwidth.kind === "fixed";
    this.#settlingS = isFixed ? 6.64 * timeConstantS(bandwidth.fullWidthHz) * 1.0001 : 0;
    this.settlingCycles = isFixed
      ? 0
      : Math.ceil(6.64 / (proportionalPole(bandwidth.fullWidthRatio) * revolutions));
  }

  /** Brings it up to a step; `limitS`: what closed before it counts. */
  advance(stepS: number, limitS: number): void {
    const span = this.#sureSpan(stepS);
    if (span === undefined) this.#span = undefined;
    else if (span !== this.#span) this.#start(span);
    if (span === undefined) return;
    while (this.#nextS < limitS) this.#close();
  }

  /** A level stands at the step, whatever was left open. */
  get isDue(): boolean {
    return this.#span !== undefined && this.#acceptedS !== undefined;
  }

  /** It has settled as well. */
  isSettled(stepS: number): boolean {
    const { timeS, closed } = this.#settledAt;
    return this.isDue && stepS > timeS && this.#closed > closed;
  }

  /** Whether the response refuses the newest triangle, where there may be no number of it yet. */
  refusal(stepS: number): Certainty {
    const { motion, gaps, cycleRev } = this.#reference.wheel;
    const open = gaps.find((gap) => stepS >= gap.fromS && stepS <= gap.untilS);
    const fromRev = motion.angleAt(open?.fromS ?? stepS) - BACK_CYCLES * cycleRev;
    const passes = this.#passes(fromRev, motion.angleAt(stepS));
    if (passes === "yes") return "no";
    return passes === "no" && this.#span !== undefined && this.#closed > BACK_CYCLES
      ? "yes"
      : "maybe";
  }

  #sureSpan(stepS: number): ReferenceSpan | undefined {
    return this.#reference.spans.findLast(
      (span) => stepS >= span.foundUntilS && stepS < span.lostFromS,
    );
  }

  #start(span: ReferenceSpan): void {
    const { motion, cycleRev } = this.#reference.wheel;
    this.#span = span;
    // The first cycle begins with the next boundary: within a cycle.
    this.#startRev = motion.angleAt(span.foundUntilS) + cycleRev;
    this.#closed = 0;
    this.#acceptedS = undefined;
    this.#settledAt = { timeS: Infinity, closed: Infinity };
    this.#passedCount = 0;
    this.#nextS = this.#boundaryS(1);
  }

  #boundaryS(closed: number): number {
    const { motion, cycleRev, gaps } = this.#reference.wheel;
    const timeS = motion.timeAt(this.#startRev + closed * cycleRev);
    const gap = gaps.find((one) => timeS > one.fromS && timeS < one.untilS);
    return (gap?.untilS ?? timeS) + this.#reference.wheel.edgeShakeS(timeS);
  }

  #close(): void {
    this.#closed += 1;
    const { cycleRev } = this.#reference.wheel;
    const endRev = this.#startRev + this.#closed * cycleRev;
    const passes = this.#passes(endRev - cycleRev, endRev);
    this.#passedCount = passes === "yes" ? this.#passedCount + 1 : 0;
    if (this.#passedCount < SEEN_CYCLES) this.#acceptedS = undefined;
    else if (this.#acceptedS === undefined) {
      this.#acceptedS = this.#nextS;
      this.#settledAt = {
        timeS: this.#nextS + this.#settlingS,
        closed: this.#closed + this.settlingCycles + 1,
      };
    }
    this.#nextS = this.#boundaryS(this.#closed + 1);
  }

  /** Whether the response lets everything between two angles pass. */
  #passes(fromRev: number, untilRev: number): Certainty {
    const { response } = this.#scene.profile.channels[this.#filter.channel]!;
    if (response.kind === "none") return "yes";
    const { motion, cycleRev, speedFactor, jitterS } = this.#reference.wheel;
    const count = Math.ceil((LOOKS * (untilRev - fromRev)) / cycleRev);
    let passed = 0;
    let refused = 0;
    for (let i = 0; i <= count; i += 1) {
      const timeS = Math.max(0, motion.timeAt(fromRev + (i / count) * (untilRev - fromRev)));
      const speed = motion.meanSpeedAt(timeS) * speedFactor;
      const near = 1e-4 + 2 * jitterS * speed;
      const { re, im } = responseAt(response, this.#filter.order * speed);
      const size = Math.hypot(re, im);
      if (size > RESPONSE_LEAST + near) passed += 1;
      if (size < RESPONSE_LEAST - near) refused += 1;
    }
    if (passed > count) return "yes";
    return refused > count ? "no" : "maybe";
  }
}
