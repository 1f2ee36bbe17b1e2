// When a shaft's reference stands: windows within which it must be found and lost, from the rules
// of lock and loss and the true passage of the edges.
import { BRIDGE_POSITIONS_MAX } from "../../shared/capacity.ts";
import type { Scene, ShaftProfile } from "../scene/scene.ts";
import type { MotionTruth } from "./shaft-motion.ts";
import { WheelTruth } from "./wheel-truth.ts";

/** One life of the reference; Infinity where it does not come to that. */
export interface ReferenceSpan {
  /** Found no sooner than, and by. */
  foundFromS: number;
  foundUntilS: number;
  /** Lost no sooner than, and by. */
  lostFromS: number;
  lostUntilS: number;
  /** No cycle closes after this time, at the earliest: the last edge before the loss. */
  edgesUntilS: number;
  whyLost: string;
  /** It may be the life before, that was not lost. */
  isVague: boolean;
}

/** The acceleration is measured over so long and so many cycles, to the next cycle's end. */
const WINDOW_S = 0.25;
const WINDOW_CYCLES = 4;

export type Certainty = "no" | "maybe" | "yes";

/** A reason that ends the reference, and when edges are good again. */
interface Outage {
  fromS: number;
  lostUntilS: number;
  goodFromS: number;
  edgesUntilS: number;
  why: string;
}

export class ReferenceTruth {
  readonly spans: ReferenceSpan[] = [];
  readonly wheel: WheelTruth;
  readonly #profile: ShaftProfile;
  readonly #motion: MotionTruth;
  readonly #endS: number;
  readonly #indexFits: boolean;
  readonly #indexIsSure: boolean;

  constructor(scene: Scene, shaft: number, motion: MotionTruth) {
    this.#profile = scene.profile.shafts[shaft]!;
    this.#motion = motion;
    this.#endS = scene.durationS;
    this.wheel = new WheelTruth(scene, shaft, motion);
    const wanted = this.#profile.positions === 1 ? "none" : this.#profile.index;
    const isSameWheel = this.wheel.positions === this.#profile.positions;
    this.#indexFits = wanted === "none" || (wanted === this.wheel.index && isSameWheel);
    this.#indexIsSure = wanted !== "none" || this.wheel.index === "none";
    this.#build(this.#outages());
  }

  /** Whether the reference stands at a time. */
  at(timeS: number): Certainty {
    let answer: Certainty = "no";
    for (const span of this.spans) {
      if (timeS >= span.foundUntilS && timeS < span.lostFromS) return "yes";
      if (timeS >= span.foundFromS && timeS < span.lostUntilS) answer = "maybe";
    }
    return answer;
  }

  /** Whether it was ever found before a time. */
  hasBeen(timeS: number): Certainty {
    const first = this.spans[0];
    if (first === undefined || timeS < first.foundFromS) return "no";
    return timeS >= first.foundUntilS ? "yes" : "maybe";
  }

  /** The span that a time lies in, with its uncertain ends. */
  spanAt(timeS: number): ReferenceSpan | undefined {
    return this.spans.findLast((span) => timeS >= span.foundFromS && timeS < span.lostUntilS);
  }

  /** The time after one at which a number of positions have gone by. */
  #after(timeS: number, positions: number): number {
    return this.#motion.timeAt(this.#motion.angleAt(timeS) + positions * this.wheel.pitchRev);
  }

  #rangeOutages(): Outage[] {
    const { speedMinRevPerS, speedMaxRevPerS, timeoutS, positions } = this.#profile;
    const found: Outage[] = [];
    const collect = (limit: number, isGoodAbove: boolean, why: string): void => {
      const crossings = this.#motion.crossings(limit / this.wheel.speedFactor);
      for (const [i, { timeS, isAbove }] of crossings.entries()) {
        if (isAbove === isGoodAbove) continue;
        // Read over two intervals, so the speed is known late, or, turning slowly, not at all.
        const byEdges = this.#after(timeS, 3 + positions);
        found.push({
          fromS: i === 0 ? -Infinity : timeS - 1e-6 - this.wheel.jitterS * 12,
          edgesUntilS: timeS,
          lostUntilS: Math.min(byEdges, this.#after(timeS, 3) + timeoutS, timeS + 3 * timeoutS),
          goodFromS: crossings[i + 1]?.timeS ?? Infinity,
          why,
        });
      }
    };
    collect(speedMinRevPerS, true, "speed under the reference's range");
    collect(speedMaxRevPerS, false, "speed over the reference's range");
    return found;
  }

  #gapOutages(): Outage[] {
    const { timeoutS } = this.#profile;
    const found: Outage[] = [];
    for (const gap of this.wheel.gaps) {
      const lengthS = gap.untilS - gap.fromS;
      const isBridged = gap.positions <= BRIDGE_POSITIONS_MAX;
      if (!gap.isFirst && isBridged && lengthS < timeoutS) continue;
      const timedOutS = gap.fromS + timeoutS;
      const shakeS = this.wheel.edgeShakeS(gap.fromS);
      const isTimedOut = lengthS >= timeoutS;
      found.push({
        // Before the first edge there was nothing to lose.
        fromS: gap.isFirst ? -Infinity : (isTimedOut ? timedOutS : gap.untilS) - 1e-6 - shakeS,
        lostUntilS: isTimedOut
          ? timedOutS + 1e-6 + shakeS
          : Math.max(timedOutS, this.#after(gap.untilS, 4)),
        goodFromS: gap.untilS,
        edgesUntilS: gap.fromS,
        why: isTimedOut ? "time-out" : "a gap that cannot be bridged",
      });
    }
    return found;
  }

  /** The end of an acceleration window that begins at a time, at the latest. */
  #windowAfter(timeS: number): number {
    const { cycleRev } = this.wheel;
    const cycles = (fromS: number, count: number): number =>
      this.#motion.timeAt(this.#motion.angleAt(fromS) + count * cycleRev);
    const leastS = Math.max(timeS + WINDOW_S, cycles(timeS, WINDOW_CYCLES));
    return cycles(leastS, 1);
  }

  /**
   * Stretches in which the acceleration is over the limit: the reference may go, and may not. It is
   * held against the limit from one window to the next, so it may go two windows later.
   */
  #accelerationOutages(): Outage[] {
    const { accelerationMaxRevPerS2 } = this.#profile;
    const found: Outage[] = [];
    let fromS = 0;
    while (fromS < this.#endS) {
      const untilS = Math.min(this.#motion.cornerAfter(fromS), this.#endS);
      const slope = Math.abs(this.#motion.slopeAt(fromS)) * this.wheel.speedFactor;
      if (slope > 0.98 * accelerationMaxRevPerS2) {
        found.push({
          fromS,
          lostUntilS: Infinity,
          goodFromS: this.#windowAfter(this.#windowAfter(untilS)),
          edgesUntilS: fromS,
          why: "acceleration at or over the limit",
        });
      }
      fromS = untilS;
    }
    return found;
  }

  #outages(): Outage[] {
    return [
      ...this.#rangeOutages(),
      ...this.#gapOutages(),
      ...this.#accelerationOutages(),
    ].toSorted((a, b) => a.fromS - b.fromS);
  }

  #build(outages: Outage[]): void {
    let goodFromS = 0;
    let vagueFromS: number | undefined;
    for (const outage of outages) {
      const startS = Math.max(outage.fromS, 0);
      if (outage.fromS > 0 && startS > goodFromS) this.#add(goodFromS, outage, vagueFromS);
      goodFromS = Math.max(goodFromS, outage.goodFromS);
      vagueFromS = outage.lostUntilS === Infinity ? startS : undefined;
    }
    if (goodFromS < this.#endS) {
      const never = Infinity;
      const end = { fromS: never, lostUntilS: never, goodFromS: never, edgesUntilS: never };
      this.#add(goodFromS, { ...end, why: "" }, vagueFromS);
    }
    this.#drop();
  }

  #add(goodFromS: number, outage: Outage, vagueFromS: number | undefined): void {
    if (!this.#indexFits) return;
    const { lockRevolutions, positions } = this.#profile;
    const hasIndex = this.#profile.index !== "none" && positions > 1;
    const lockPositions = Math.max(2, lockRevolutions * positions);
    // The run may have begun one position before all was well; the search may start anew once, and
    // an index is first seen up to a cycle later.
    const later = hasIndex ? 2 * positions + 4 : 4;
    const edge = this.wheel.positionAtOrAfter(goodFromS);
    const isFirst = goodFromS === 0;
    const sooner = isFirst ? 0 : 2;
    const at = (position: number): number => this.wheel.positionTimeS(position);
    const shakeS = 1e-6 + this.wheel.edgeShakeS(goodFromS);
    this.spans.push({
      foundFromS: vagueFromS ?? at(edge + lockPositions - sooner) - shakeS,
      foundUntilS: this.#indexIsSure ? at(edge + lockPositions + later) + shakeS : Infinity,
      isVague: vagueFromS !== undefined,
      lostFromS: outage.fromS,
      lostUntilS: outage.lostUntilS,
      edgesUntilS: outage.edgesUntilS,
      whyLost: outage.why,
    });
  }

  /** Spans that cannot come to a lock before they end are none. */
  #drop(): void {
    const real = this.spans.filter(
      (span) => span.foundFromS < Math.min(span.lostUntilS, this.#endS),
    );
    this.spans.length = 0;
    this.spans.push(...real);
  }
}
