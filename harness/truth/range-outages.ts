// When the speed that the edges show leaves the range of the reference: surely, or perhaps, for
// near a limit the edge clock, jitter, the wheel and torsional ripple decide which side it reads.
import type { Scene } from "../scene/scene.ts";
import type { MotionTruth } from "./shaft-motion.ts";
import type { WheelTruth } from "./wheel-truth.ts";

/** A reason that ends the reference, or may, and when edges are good again. */
export interface Outage {
  fromS: number;
  /** Infinity: nothing says that the reference goes at all. */
  lostUntilS: number;
  /** Edges may be good again from one time on, and surely are from the other. */
  mayBeGoodFromS: number;
  goodFromS: number;
  edgesUntilS: number;
  why: string;
}

interface Stretch {
  /** -Infinity where it stands from the start. */
  fromS: number;
  untilS: number;
}

/** Jitter is cut at six times its rms: two edges differ by twice that at most. */
const JITTER_OF_TWO = 12;
/** Roundings of the reading in single precision. */
const F32_SHARE = 2 ** -22;
/** Edges after a change until both intervals of the reading are new, with the gap of an index. */
const READING_POSITIONS = 3;
/** Positions for which a glitch that passes for an edge is felt in the reading. */
const GLITCH_POSITIONS = 5;
const MARGIN_S = 1e-6;

/** Mean speeds between which a reading may be on either side of a limit, rev/s of the shaft. */
export function readingBand(
  limitRevPerS: number,
  wheel: WheelTruth,
  clockHz: number,
): { low: number; high: number } {
  const spanRev = 2 * wheel.pitchRev;
  const timeS = 1 / clockHz + JITTER_OF_TWO * wheel.jitterS;
  const late = (limitRevPerS * timeS) / spanRev;
  const share = wheel.pairErrorRev / spanRev + F32_SHARE;
  const ripple = wheel.motion.ripple.reduce(
    (sum, { order, amplitudeRev }) => sum + Math.abs(amplitudeRev) * 2 * Math.PI * order,
    0,
  );
  const isBounded = late < 1 && ripple < 1;
  return {
    low: Math.max(0, (limitRevPerS * (1 - share)) / (1 + late) / (1 + ripple)),
    high: isBounded ? (limitRevPerS * (1 + share)) / (1 - late) / (1 - ripple) : Infinity,
  };
}

function stretches(motion: MotionTruth, revPerS: number, isAbove: boolean): Stretch[] {
  const crossings = motion.crossings(revPerS);
  const found: Stretch[] = [];
  for (const [i, one] of crossings.entries()) {
    if (one.isAbove !== isAbove) continue;
    const untilS = crossings[i + 1]?.timeS ?? Infinity;
    found.push({ fromS: i === 0 ? -Infinity : one.timeS, untilS });
  }
  return found;
}

export class RangeOutages {
  readonly found: Outage[] = [];
  readonly #wheel: WheelTruth;
  readonly #motion: MotionTruth;
  readonly #timeoutS: number;
  readonly #positions: number;
  readonly #lockPositions: number;

  constructor(scene: Scene, shaft: number, wheel: WheelTruth) {
    const profile = scene.profile.shafts[shaft]!;
    this.#wheel = wheel;
    this.#motion = wheel.motion;
    this.#timeoutS = profile.timeoutS;
    this.#positions = profile.positions;
    this.#lockPositions = Math.max(2, profile.lockRevolutions * profile.positions);
    const { clockHz } = scene.profile;
    const least = readingBand(profile.speedMinRevPerS / wheel.speedFactor, wheel, clockHz);
    const most = readingBand(profile.speedMaxRevPerS / wheel.speedFactor, wheel, clockHz);
    this.#collect(
      stretches(this.#motion, least.high, false),
      stretches(this.#motion, least.low, false),
      "speed under the reference's range",
    );
    this.#collect(
      stretches(this.#motion, most.low, true),
      stretches(this.#motion, most.high, true),
      "speed over the reference's range",
    );
    this.#collectGlitches(least.high, most.low);
  }

  #after(timeS: number, positions: number): number {
    if (timeS === -Infinity) return 0;
    return this.#motion.timeAt(this.#motion.angleAt(timeS) + positions * this.#wheel.pitchRev);
  }

  /** When a speed that left the range is known: by its edges, or, turning slowly, without them. */
  #knownBy(timeS: number): number {
    if (timeS === -Infinity) return 0;
    const byS = this.#after(timeS, READING_POSITIONS + this.#positions);
    let bridged = 0;
    for (const gap of this.#wheel.gaps) {
      if (gap.untilS > timeS && gap.fromS < byS) bridged += gap.positions;
    }
    return Math.min(
      this.#after(timeS, READING_POSITIONS + this.#positions + bridged),
      this.#after(timeS, READING_POSITIONS) + this.#timeoutS,
      timeS + 3 * this.#timeoutS,
    );
  }

  /** Whether the positions that pass between two times are enough to find the reference. */
  #mayLock(fromS: number, untilS: number): boolean {
    const start = Math.max(0, fromS);
    if (!(untilS > start)) return false;
    return untilS === Infinity || this.#after(start, this.#lockPositions - 2) < untilS;
  }

  /** Puts one limit's outages together: `sure` are the parts of `maybe` beyond all doubt. */
  #collect(maybe: Stretch[], sure: Stretch[], why: string): void {
    for (const doubt of maybe) {
      const within = sure.filter(
        ({ fromS, untilS }) =>
          fromS >= doubt.fromS && untilS <= doubt.untilS && this.#knownBy(fromS) <= untilS,
      );
      let fromS = doubt.fromS;
      for (const [i, bad] of within.entries()) {
        if (this.#mayLock(fromS, bad.fromS)) {
          this.#put({ fromS, untilS: bad.fromS }, undefined, why);
          fromS = bad.fromS;
        }
        const isLast = i + 1 === within.length;
        // A doubt too short to find the reference in it only widens when it is found after it.
        const isShort = isLast && !this.#mayLock(bad.untilS, doubt.untilS);
        this.#put({ fromS, untilS: isShort ? doubt.untilS : bad.untilS }, bad, why);
        fromS = isShort ? doubt.untilS : bad.untilS;
      }
      if (fromS === doubt.untilS) continue;
      const rest = { fromS, untilS: doubt.untilS };
      const isBeforeAll = fromS === -Infinity && !this.#mayLock(fromS, doubt.untilS);
      this.#put(rest, isBeforeAll ? { fromS, untilS: 0 } : undefined, why);
    }
  }

  /** One outage; `sure` is the part of it in which the reference surely goes. */
  #put({ fromS, untilS }: Stretch, sure: Stretch | undefined, why: string): void {
    const shakeS = MARGIN_S + this.#wheel.edgeShakeS(fromS);
    this.found.push({
      fromS: fromS - shakeS,
      lostUntilS: sure === undefined ? Infinity : this.#knownBy(sure.fromS) + shakeS,
      mayBeGoodFromS: sure === undefined ? untilS : sure.untilS,
      goodFromS: untilS,
      edgesUntilS: Math.max(0, fromS),
      why,
    });
  }

  /** A glitch that passes for an edge reads too fast, and after it too slow. */
  #collectGlitches(leastSureRevPerS: number, mostSureRevPerS: number): void {
    for (const { timeS, misplacedRev } of this.#wheel.extras) {
      if (misplacedRev === 0) continue;
      const speed = this.#motion.meanSpeedAt(timeS);
      const share = misplacedRev / (2 * this.#wheel.pitchRev);
      const isInside =
        speed < mostSureRevPerS * (1 - share) && speed > leastSureRevPerS * (1 + share);
      if (isInside) continue;
      const untilS = this.#after(timeS, GLITCH_POSITIONS);
      this.#put({ fromS: timeS, untilS }, undefined, "a glitch in the speed read");
    }
  }
}
