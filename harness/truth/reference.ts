// When a shaft's reference stands: windows within which it must be found and lost, from the rules
// of lock and loss and the true passage of the edges.
import { BRIDGE_POSITIONS_MAX } from "../../shared/capacity.ts";
import type { Scene, ShaftProfile } from "../scene/scene.ts";
import type { MotionTruth } from "./shaft-motion.ts";
import { RangeOutages } from "./range-outages.ts";
import type { Outage } from "./range-outages.ts";
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
  /** It may be the life before, that was not lost; or none at all. */
  isVague: boolean;
  /** Between its two losses it may be lost and found again, any number of times. */
  mayRepeat: boolean;
  /** Where it stood it surely goes; else it may be the life of a later span. */
  isSurelyLost: boolean;
}

/** The acceleration is measured over so long and so many cycles, to the next cycle's end. */
const WINDOW_S = 0.25;
const WINDOW_CYCLES = 4;
/** Cycles within which a reference that a glitch has put out is lost, if it is. */
const GLITCH_CYCLES = 6;

export type Certainty = "no" | "maybe" | "yes";

/** What lies behind, on the way through the outages: bad edges, and doubt. */
interface Outlook {
  mayBeGoodFromS: number;
  goodFromS: number;
  /** Start of the doubt since the last sure life or outage, where it lasts beyond that. */
  doubtFromS: number | undefined;
  doubtUntilS: number;
}

export class ReferenceTruth {
  readonly spans: ReferenceSpan[] = [];
  readonly wheel: WheelTruth;
  readonly #profile: ShaftProfile;
  readonly #motion: MotionTruth;
  readonly #endS: number;
  /** Faults that a search does not pass over. */
  readonly #disturbances: { fromS: number; untilS: number }[];
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
    this.#disturbances = [
      ...this.wheel.extras.map(({ timeS }) => ({ fromS: timeS, untilS: timeS })),
      ...this.wheel.gaps,
      ...this.wheel.indexLost,
    ].toSorted((a, b) => a.fromS - b.fromS);
    this.#build(this.#outages(scene, shaft));
  }

  /** Whether the reference stands at a time. */
  at(timeS: number): Certainty {
    let answer: Certainty = "no";
    for (const span of this.spans.toReversed()) {
      // What came before a life that surely began is over.
      if (timeS >= span.foundUntilS && timeS < span.lostFromS) return "yes";
      if (timeS >= span.foundFromS && timeS < span.lostUntilS) answer = "maybe";
      if (timeS >= span.foundUntilS) return answer;
    }
    return answer;
  }

  /** Whether it was ever found before a time. */
  hasBeen(timeS: number): Certainty {
    const first = this.spans[0];
    if (first === undefined || timeS < first.foundFromS) return "no";
    const isSure = this.spans.some(
      ({ foundUntilS, lostFromS }) => timeS >= foundUntilS && foundUntilS <= lostFromS,
    );
    return isSure ? "yes" : "maybe";
  }

  /** The span that a time lies in, with its uncertain ends. */
  spanAt(timeS: number): ReferenceSpan | undefined {
    return this.spansAt(timeS)[0];
  }

  /** All spans that a time may lie in, the latest first. */
  spansAt(timeS: number): ReferenceSpan[] {
    return this.spans
      .filter((span) => timeS >= span.foundFromS && timeS < span.lostUntilS)
      .toReversed();
  }

  /** The time after one at which a number of positions have gone by. */
  #after(timeS: number, positions: number): number {
    return this.#motion.timeAt(this.#motion.angleAt(timeS) + positions * this.wheel.pitchRev);
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
        mayBeGoodFromS: gap.untilS,
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
        const goodFromS = this.#windowAfter(this.#windowAfter(untilS));
        found.push({
          fromS,
          lostUntilS: Infinity,
          mayBeGoodFromS: goodFromS,
          goodFromS,
          edgesUntilS: fromS,
          why: "acceleration at or over the limit",
        });
      }
      fromS = untilS;
    }
    return found;
  }

  /** A glitch that passes for an edge and puts the next ones out of their places. */
  #glitchOutages(): Outage[] {
    return this.wheel.extras
      .filter(({ mayLose }) => mayLose)
      .map(({ timeS }) => {
        const { positions } = this.#profile;
        const goodFromS = this.#after(timeS, GLITCH_CYCLES * positions);
        return {
          fromS: timeS - this.wheel.edgeShakeS(timeS),
          lostUntilS: Infinity,
          mayBeGoodFromS: goodFromS,
          goodFromS,
          edgesUntilS: timeS,
          why: "a glitch that passed for an edge",
        };
      });
  }

  #outages(scene: Scene, shaft: number): Outage[] {
    return [
      ...this.#glitchOutages(),
      ...new RangeOutages(scene, shaft, this.wheel).found,
      ...this.#gapOutages(),
      ...this.#accelerationOutages(),
    ].toSorted((a, b) => a.fromS - b.fromS);
  }

  #build(outages: Outage[]): void {
    const now: Outlook = { mayBeGoodFromS: 0, goodFromS: 0, doubtUntilS: 0, doubtFromS: undefined };
    for (const outage of outages) {
      if (outage.fromS > 0) this.#end(now, outage);
      const startS = Math.max(outage.fromS, 0);
      if (outage.lostUntilS === Infinity) {
        now.doubtUntilS = Math.max(now.doubtUntilS, outage.goodFromS);
        now.doubtFromS ??= Math.max(startS, now.mayBeGoodFromS);
      } else {
        now.mayBeGoodFromS = Math.max(now.mayBeGoodFromS, outage.mayBeGoodFromS);
        now.goodFromS = Math.max(now.goodFromS, outage.goodFromS);
        now.doubtFromS = now.mayBeGoodFromS;
      }
      if (!(now.doubtFromS < now.doubtUntilS)) now.doubtFromS = undefined;
    }
    const never = { fromS: Infinity, lostUntilS: Infinity, goodFromS: Infinity };
    this.#end(now, { ...never, mayBeGoodFromS: Infinity, edgesUntilS: Infinity, why: "" });
    this.#drop();
  }

  /** Ends a life of the reference by an outage, where there may be one. */
  #end(now: Outlook, outage: Outage): void {
    const goodFromS = Math.max(now.goodFromS, now.doubtUntilS);
    const { doubtFromS } = now;
    if (outage.fromS > goodFromS && goodFromS < this.#endS) {
      this.#add(now, goodFromS, outage);
      const life = this.spans[this.spans.length - 1];
      if (doubtFromS === now.mayBeGoodFromS && life !== undefined) {
        // Before that life it may have been found and lost again.
        const lostUntilS = life.foundUntilS;
        this.#add(now, Infinity, { ...outage, fromS: doubtFromS, lostUntilS });
        this.spans.push(...this.spans.splice(-2, 1));
      }
      now.doubtFromS = undefined;
      return;
    }
    if (doubtFromS === undefined || outage.fromS <= doubtFromS) return;
    // Doubt right up to the outage: whatever stands then ends by it.
    for (const span of this.spans) {
      span.lostUntilS = Math.min(span.lostUntilS, outage.lostUntilS);
    }
    const last = this.spans[this.spans.length - 1];
    if (last !== undefined) last.isSurelyLost = outage.lostUntilS < Infinity;
    this.#add(now, Infinity, { ...outage, fromS: doubtFromS });
  }

  #add(now: Outlook, goodFromS: number, outage: Outage): void {
    if (!this.#indexFits) return;
    const { lockRevolutions, positions } = this.#profile;
    const hasIndex = this.#profile.index !== "none" && positions > 1;
    const lockPositions = Math.max(2, lockRevolutions * positions);
    // The run may have begun one position before all was well; the search may start anew once, and
    // an index is first seen up to a cycle later.
    const later = hasIndex ? 2 * positions + 4 : 4;
    const { mayBeGoodFromS, doubtFromS } = now;
    // An edge out of its place may still come after the start.
    const sooner = mayBeGoodFromS > 0 ? 2 : this.wheel.errorRev > 0 ? 1 : 0;
    const afterEdge = (timeS: number, more: number): number =>
      this.wheel.positionTimeS(this.wheel.positionAtOrAfter(timeS) + lockPositions + more);
    const shakeS = 1e-6 + this.wheel.edgeShakeS(mayBeGoodFromS);
    // In doubt it may be the life before, that was not lost.
    const isOld = doubtFromS !== undefined && doubtFromS > mayBeGoodFromS;
    const isSure = this.#indexIsSure && goodFromS < Infinity;
    let foundUntilS = isSure ? afterEdge(goodFromS, later) : Infinity;
    // What disturbs a search that is under way starts it anew.
    for (const { fromS, untilS } of this.#disturbances) {
      if (!isSure || untilS < goodFromS || fromS > foundUntilS) continue;
      foundUntilS = Math.max(foundUntilS, afterEdge(untilS, later));
    }
    this.spans.push({
      foundFromS: isOld ? doubtFromS : afterEdge(mayBeGoodFromS, -sooner) - shakeS,
      foundUntilS: foundUntilS + shakeS,
      isVague: doubtFromS !== undefined,
      mayRepeat: goodFromS === Infinity || (outage.lostUntilS === Infinity && outage.why !== ""),
      isSurelyLost: goodFromS < Infinity && outage.lostUntilS < Infinity,
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
