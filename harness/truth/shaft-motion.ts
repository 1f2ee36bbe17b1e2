// The true angle of a shaft and its inverse, in closed form: within a row of the speed the mean
// angle is a quadratic of time, the torsional ripple comes on top.
import type { ShaftMotion as MotionData } from "../scene/scene.ts";

interface Piece {
  fromS: number;
  untilS: number;
  speed: number;
  slope: number;
  /** Mean angle at fromS and at untilS, rev. */
  fromRev: number;
  untilRev: number;
}

const TWO_PI = 2 * Math.PI;

export class MotionTruth {
  readonly #pieces: Piece[] = [];
  readonly #ripple: { order: number; amplitudeRev: number }[];
  #timeCursor = 0;
  #angleCursor = 0;

  constructor(data: Pick<MotionData, "speed" | "startAngleRev" | "ripple">) {
    this.#ripple = data.ripple.filter((one) => one.amplitudeRev !== 0);
    let rev = data.startAngleRev;
    for (let i = 0; i < data.speed.length; i += 1) {
      const row = data.speed[i]!;
      const next = data.speed[i + 1];
      const spanS = next === undefined ? Infinity : next.timeS - row.timeS;
      if (spanS <= 0) continue;
      const slope = next === undefined ? 0 : (next.revPerS - row.revPerS) / spanS;
      const grown =
        next === undefined
          ? row.revPerS > 0
            ? Infinity
            : 0
          : 0.5 * (row.revPerS + next.revPerS) * spanS;
      this.#pieces.push({
        fromS: row.timeS,
        untilS: row.timeS + spanS,
        speed: row.revPerS,
        slope,
        fromRev: rev,
        untilRev: rev + grown,
      });
      rev += grown;
    }
    if (this.#pieces.length === 0) throw new Error("a shaft needs a row of speed");
  }

  get hasRipple(): boolean {
    return this.#ripple.length > 0;
  }

  #pieceAt(timeS: number): Piece {
    let i = this.#timeCursor;
    const { length } = this.#pieces;
    while (i + 1 < length && timeS >= this.#pieces[i]!.untilS) i += 1;
    while (i > 0 && timeS < this.#pieces[i]!.fromS) i -= 1;
    this.#timeCursor = i;
    return this.#pieces[i]!;
  }

  /** Speed without the ripple, rev/s. */
  meanSpeedAt(timeS: number): number {
    const piece = this.#pieceAt(timeS);
    return piece.speed + piece.slope * (timeS - piece.fromS);
  }

  /** Slope of the speed without the ripple, rev/s². */
  slopeAt(timeS: number): number {
    return this.#pieceAt(timeS).slope;
  }

  /** The steepest slope of all, rev/s². */
  get slopeMost(): number {
    return this.#pieces.reduce((most, { slope }) => Math.max(most, Math.abs(slope)), 0);
  }

  meanAngleAt(timeS: number): number {
    const piece = this.#pieceAt(timeS);
    const t = timeS - piece.fromS;
    return piece.fromRev + t * (piece.speed + 0.5 * piece.slope * t);
  }

  /** The true angle, rev. */
  angleAt(timeS: number): number {
    const mean = this.meanAngleAt(timeS);
    return this.hasRipple ? mean + this.#rippleAt(mean) : mean;
  }

  /** First and second derivative of the true angle in time, rev/s and rev/s². */
  ratesAt(timeS: number): { speed: number; slope: number } {
    const piece = this.#pieceAt(timeS);
    const speed = piece.speed + piece.slope * (timeS - piece.fromS);
    if (!this.hasRipple) return { speed, slope: piece.slope };
    const mean = this.meanAngleAt(timeS);
    let first = 1;
    let second = 0;
    for (const { order, amplitudeRev } of this.#ripple) {
      const w = TWO_PI * order;
      first += amplitudeRev * w * Math.cos(w * mean);
      second -= amplitudeRev * w * w * Math.sin(w * mean);
    }
    return { speed: speed * first, slope: piece.slope * first + speed * speed * second };
  }

  #rippleAt(meanRev: number): number {
    let added = 0;
    for (const { order, amplitudeRev } of this.#ripple) {
      added += amplitudeRev * Math.sin(TWO_PI * order * meanRev);
    }
    return added;
  }

  #meanOf(trueRev: number): number {
    let mean = trueRev;
    for (let round = 0; round < 40; round += 1) {
      let slope = 1;
      for (const { order, amplitudeRev } of this.#ripple) {
        const w = TWO_PI * order;
        slope += amplitudeRev * w * Math.cos(w * mean);
      }
      const change = (mean + this.#rippleAt(mean) - trueRev) / slope;
      mean -= change;
      if (Math.abs(change) < 1e-14 * Math.max(1, Math.abs(mean))) break;
    }
    return mean;
  }

  /** The first time at which the true angle is reached; Infinity where it never is. */
  timeAt(trueRev: number): number {
    const mean = this.hasRipple ? this.#meanOf(trueRev) : trueRev;
    let i = this.#angleCursor;
    const { length } = this.#pieces;
    while (i + 1 < length && mean > this.#pieces[i]!.untilRev) i += 1;
    while (i > 0 && mean <= this.#pieces[i]!.fromRev) i -= 1;
    this.#angleCursor = i;
    const piece = this.#pieces[i]!;
    const ahead = mean - piece.fromRev;
    if (ahead <= 0) return piece.fromS + (piece.speed > 0 ? ahead / piece.speed : 0);
    if (mean > piece.untilRev || (i === length - 1 && piece.speed === 0)) return Infinity;
    const square = piece.speed * piece.speed + 2 * piece.slope * ahead;
    const root = Math.sqrt(Math.max(square, 0));
    return piece.fromS + (2 * ahead) / (piece.speed + root);
  }

  /** The first time after `afterS` at which the slope of the speed changes. */
  cornerAfter(afterS: number): number {
    for (const piece of this.#pieces) if (piece.fromS > afterS) return piece.fromS;
    return Infinity;
  }

  /** Corners as time and change of slope, rev/s². */
  corners(): { timeS: number; slopeChange: number }[] {
    const found: { timeS: number; slopeChange: number }[] = [];
    for (let i = 1; i < this.#pieces.length; i += 1) {
      const piece = this.#pieces[i]!;
      const slopeChange = Math.abs(piece.slope - this.#pieces[i - 1]!.slope);
      if (slopeChange > 0) found.push({ timeS: piece.fromS, slopeChange });
    }
    return found;
  }

  /** Peak of the ripple, rev, with its order: what an angle model may miss. */
  get ripple(): readonly { order: number; amplitudeRev: number }[] {
    return this.#ripple;
  }

  /**
   * The times, ascending, at which the mean speed passes a value; the start counts as a passage.
   * `isAbove` tells the side from then on.
   */
  crossings(revPerS: number): { timeS: number; isAbove: boolean }[] {
    // A piece that starts at the value and falls is below it at once.
    const startsAbove = ({ speed, slope }: Piece): boolean =>
      speed > revPerS || (speed === revPerS && slope >= 0);
    const found = [{ timeS: 0, isAbove: startsAbove(this.#pieces[0]!) }];
    for (const piece of this.#pieces) {
      const isStartAbove = startsAbove(piece);
      if (isStartAbove !== found[found.length - 1]!.isAbove) {
        found.push({ timeS: piece.fromS, isAbove: isStartAbove });
      }
      if (piece.slope === 0 || piece.untilS === Infinity) continue;
      const at = piece.fromS + (revPerS - piece.speed) / piece.slope;
      if (at <= piece.fromS || at >= piece.untilS) continue;
      const isAbove = piece.slope > 0;
      if (isAbove !== found[found.length - 1]!.isAbove) found.push({ timeS: at, isAbove });
    }
    return found;
  }
}
