// The mean angle of a shaft: the integral of a piecewise linear speed, exact to 1e-9 revolutions
// after hours. Ripple is added by those who need it (ripple.ts).
import type { ShaftMotion } from "../scene/scene.ts";
import { add, divide, multiply, negate, twoPart, twoSum } from "./two-part.ts";
import type { TwoPart } from "./two-part.ts";

/** One straight stretch of the speed. */
export interface SpeedPiece {
  startS: number;
  /** Infinity for the last, which is held. */
  endS: number;
  startRev: TwoPart;
  revPerS: number;
  revPerS2: TwoPart;
}

/** Angle, speed and acceleration at one time. */
export interface ShaftState {
  rev: TwoPart;
  revPerS: number;
  revPerS2: number;
}

/** Speed rows → pieces; a stretch without length (two rows at one time) is a step, and none. */
export function speedPieces(motion: ShaftMotion): SpeedPiece[] {
  const rows = motion.speed;
  const pieces: SpeedPiece[] = [];
  let rev = twoPart(motion.startAngleRev);
  for (const [i, row] of rows.entries()) {
    if (!(row.revPerS >= 0)) throw new Error(`a speed of ${row.revPerS} rev/s: 0 or more`);
    const next = rows[i + 1];
    if (next === undefined) {
      const still = twoPart(0);
      const { timeS: startS, revPerS } = row;
      pieces.push({ startS, endS: Infinity, startRev: rev, revPerS, revPerS2: still });
      break;
    }
    if (next.timeS < row.timeS) throw new Error("speed rows must ascend in time");
    if (next.timeS === row.timeS) continue;
    const length = twoSum(next.timeS, -row.timeS);
    const slope = divide(twoSum(next.revPerS, -row.revPerS), length);
    const { timeS: startS, revPerS } = row;
    pieces.push({ startS, endS: next.timeS, startRev: rev, revPerS, revPerS2: slope });
    const twiceMean = twoSum(row.revPerS, next.revPerS);
    rev = add(rev, multiply({ hi: twiceMean.hi / 2, lo: twiceMean.lo / 2 }, length));
  }
  if (pieces.length === 0) throw new Error("a shaft needs at least one row of speed");
  if (pieces[0]!.startS !== 0) throw new Error("the first row of speed must stand at time 0");
  return pieces;
}

/** The state at a time, by the piece's own quadratic. */
export function stateInPiece(piece: SpeedPiece, timeS: TwoPart): ShaftState {
  const since = piece.startS === 0 ? timeS : add(timeS, twoPart(-piece.startS));
  if (piece.revPerS2.hi === 0) {
    const { revPerS } = piece;
    return { rev: add(piece.startRev, multiply(twoPart(revPerS), since)), revPerS, revPerS2: 0 };
  }
  const gained = multiply(piece.revPerS2, since);
  const mean = add(twoPart(piece.revPerS), { hi: gained.hi / 2, lo: gained.lo / 2 });
  return {
    rev: add(piece.startRev, multiply(mean, since)),
    revPerS: piece.revPerS + gained.hi,
    revPerS2: piece.revPerS2.hi,
  };
}

/** Turns of which the angle consists, split at a whole number of cycles of `cycleRev` each. */
export function cyclesOf(rev: TwoPart, cycleRev: number): TwoPart {
  return cycleRev === 1 ? rev : divide(rev, twoPart(cycleRev));
}

/** The difference of two angles as one f64. */
export function revBetween(from: TwoPart, to: TwoPart): number {
  return add(to, negate(from)).hi;
}
