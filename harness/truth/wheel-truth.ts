// Where the edges of a tachometer stand, and what its faults do to them: true times, no jitter.
import type { Scene, ShaftProfile, TachFault } from "../scene/scene.ts";
import type { MotionTruth } from "./shaft-motion.ts";

/** A gap between two edges that come, wider than the wheel's own. */
export interface EdgeGap {
  /** The last edge before and the first after it. */
  fromS: number;
  untilS: number;
  /** Positions from one to the other. */
  positions: number;
  /** Edges that did not come. */
  missed: number;
  fault: TachFault;
  /** No edge came before it since the start. */
  isFirst: boolean;
}

/** Widest tolerance of an edge, pitches. */
const TOLERANCE_MAX = 0.45;
/** Jitter, wheel and the prediction itself move an edge within its tolerance by so much. */
const TOLERANCE_MARGIN = 1.1;

/** An edge too many. */
export interface ExtraEdge {
  timeS: number;
  /** Pitches after the edge before it. */
  fraction: number;
  /** How far the next edge is misplaced where this one is taken for it, revolutions. */
  misplacedRev: number;
  /** The edges after it may not fit it any more, so that the reference may go. */
  mayLose: boolean;
}

export class WheelTruth {
  readonly motion: MotionTruth;
  /** Revolutions of the shaft between two positions of the real wheel. */
  readonly pitchRev: number;
  readonly positions: number;
  readonly index: "none" | "missing-tooth" | "extra-edge";
  /** Revolutions of the shaft in one cycle as the tracker takes it. */
  readonly cycleRev: number;
  /** Speed as the tracker reads it, over the true one. */
  readonly speedFactor: number;
  readonly jitterS: number;
  /** Largest error of an edge, revolutions: eccentricity and bad tooth. */
  readonly errorRev: number;
  /** What two edges, two positions or more apart, may be out against each other, as for two. */
  readonly pairErrorRev: number;
  readonly gaps: EdgeGap[] = [];
  readonly extras: ExtraEdge[] = [];
  readonly indexLost: { fromS: number; untilS: number }[] = [];
  readonly #endS: number;
  readonly #tickS: number;
  readonly #profile: ShaftProfile;

  constructor(scene: Scene, shaft: number, motion: MotionTruth) {
    const { wheel, faults } = scene.shafts[shaft]!;
    const profile: ShaftProfile = scene.profile.shafts[shaft]!;
    this.motion = motion;
    this.#profile = profile;
    this.positions = wheel.positions;
    this.index = wheel.positions === 1 ? "none" : wheel.index;
    this.pitchRev = wheel.revolutions / wheel.positions;
    this.cycleRev = this.pitchRev * profile.positions;
    this.speedFactor = profile.revolutions / this.cycleRev;
    this.jitterS = wheel.jitterS;
    const eccentricRev = Math.abs(wheel.eccentricityRev);
    const badToothRev = Math.abs(wheel.badTooth?.offsetRev ?? 0);
    this.errorRev = eccentricRev + badToothRev;
    // |sin a − sin b| ≤ min(2, |a − b|): over n positions, per position, most at n = 2.
    this.pairErrorRev =
      2 * eccentricRev * Math.min(1, (2 * Math.PI) / wheel.positions) + badToothRev;
    this.#endS = scene.durationS;
    this.#tickS = 1 / scene.profile.clockHz;
    for (const fault of faults) this.#take(fault);
  }

  /** Number of the first position at or after a time, counted from angle 0. */
  positionAtOrAfter(timeS: number): number {
    return Math.ceil(this.motion.angleAt(timeS) / this.pitchRev - 1e-9);
  }

  /**
   * How far an edge may stand from its true time: jitter (one in 10^15), the wheel's errors, the
   * tick that it is captured at.
   */
  edgeShakeS(timeS: number): number {
    const speed = this.motion.meanSpeedAt(Math.min(Math.max(timeS, 0), this.#endS));
    return 8 * this.jitterS + (speed > 0 ? this.errorRev / speed : 0) + this.#tickS;
  }

  positionTimeS(position: number): number {
    return this.motion.timeAt(position * this.pitchRev);
  }

  /** Whether a position of the real wheel has a tooth. */
  isFitted(position: number): boolean {
    if (this.index !== "missing-tooth") return true;
    const p = ((position % this.positions) + this.positions) % this.positions;
    return p !== this.positions - 1;
  }

  #nextFitted(position: number, way: 1 | -1): number {
    let at = position;
    while (!this.isFitted(at)) at += way;
    return at;
  }

  #addGap(firstMissed: number, lastMissed: number, fault: TachFault): void {
    const before = this.#nextFitted(firstMissed - 1, -1);
    const after = this.#nextFitted(lastMissed + 1, 1);
    let missed = 0;
    if (lastMissed - firstMissed < 1e6) {
      for (let p = firstMissed; p <= lastMissed; p += 1) if (this.isFitted(p)) missed += 1;
    }
    this.gaps.push({
      fromS: this.positionTimeS(before),
      untilS: this.positionTimeS(after),
      positions: after - before,
      missed,
      fault,
      isFirst: before < this.positionAtOrAfter(0),
    });
  }

  #addMissed(from: number, count: number, fault: TachFault): void {
    const first = this.#nextFitted(from, 1);
    let last = first;
    for (let i = 1; i < count; i += 1) last = this.#nextFitted(last + 1, 1);
    if (Number.isFinite(this.positionTimeS(first))) this.#addGap(first, last, fault);
  }

  #passage(atS: number, position: number): number {
    const first = this.positionAtOrAfter(atS);
    const p = ((first % this.positions) + this.positions) % this.positions;
    return first + ((((position - p) % this.positions) + this.positions) % this.positions);
  }

  /** Tolerance of an edge: the setting, and what the acceleration limit does within a pitch. */
  #tolerancePitches(timeS: number): number {
    return Math.min(TOLERANCE_MAX, this.#profile.edgeTolerancePitches + this.#bendPitches(timeS));
  }

  /** What the acceleration limit does within a pitch, pitches. */
  #bendPitches(timeS: number): number {
    const speed = this.motion.meanSpeedAt(timeS);
    return (this.#profile.accelerationMaxRevPerS2 * this.pitchRev) / (speed * speed);
  }

  #addExtra(position: number, fraction: number): void {
    const timeS = this.motion.timeAt((position + fraction) * this.pitchRev);
    if (!(timeS < this.#endS)) return;
    const early = 1 - fraction;
    const isTaken = early < TOLERANCE_MARGIN * this.#tolerancePitches(timeS);
    // The next edge is late by as much, and the prediction may be bent as far the other way.
    const apart = early + 2 * Math.min(early, this.#bendPitches(timeS));
    const mayLose = isTaken && apart > this.#profile.edgeTolerancePitches;
    const misplacedRev = isTaken ? early * this.pitchRev : 0;
    this.extras.push({ timeS, fraction, misplacedRev, mayLose });
  }

  #take(fault: TachFault): void {
    switch (fault.kind) {
      case "missed":
        this.#addMissed(this.positionAtOrAfter(fault.atS), fault.count, fault);
        break;
      case "missed-position":
        this.#addMissed(this.#passage(fault.atS, fault.position), fault.count, fault);
        break;
      case "drop-out": {
        const first = this.positionAtOrAfter(fault.fromS);
        const last = this.positionAtOrAfter(fault.untilS) - 1;
        if (last >= first) this.#addGap(first, last, fault);
        break;
      }
      case "glitch":
        this.#addExtra(this.#nextFitted(this.positionAtOrAfter(fault.atS), 1), fault.fraction);
        break;
      case "glitch-position":
        this.#addExtra(this.#passage(fault.atS, fault.position), fault.fraction);
        break;
      case "index-lost":
        this.indexLost.push({ fromS: fault.fromS, untilS: fault.untilS });
        break;
    }
  }
}
