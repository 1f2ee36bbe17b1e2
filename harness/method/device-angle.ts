// The angle as a device is defined to see it: parabolas through every s-th of the edges it takes.
import type { AngleOverTime, WheelShape } from "./box-signal.ts";
import type { DeviceEdges } from "./device-edges.ts";

/** Knots in a cycle at least, where a wheel has so many places. */
const KNOTS_LEAST = 12;

/** Places from knot to knot: the largest divisor of a cycle's that leaves KNOTS_LEAST knots. */
export function placesPerKnot(positions: number): number {
  for (let s = Math.floor(positions / KNOTS_LEAST); s > 1; s -= 1) {
    if (positions % s === 0) return s;
  }
  return 1;
}

/**
 * The angle between two knots is the parabola through them and the one before.
 *
 * Units     times in samples, angles in revolutions from the index, speeds in revolutions a sample
 * Range     from the first knot to the last
 * Source    DEVELOPERS.md, "Definitions that firmware and truth share"
 */
export class DeviceAngle implements AngleOverTime {
  readonly #at: number[] = [];
  readonly #rev: number[] = [];
  readonly #cycle: number;

  /** `zero`: a place that is a knot. */
  constructor({ at, place }: DeviceEdges, { positions, revolutions }: WheelShape, zero: number) {
    const spacing = placesPerKnot(positions);
    this.#cycle = revolutions;
    for (const [i, one] of place.entries()) {
      if ((one - zero) % spacing !== 0) continue;
      this.#at.push(at[i]!);
      this.#rev.push((one * revolutions) / positions);
    }
    if (this.#at.length < 2) throw new RangeError("too few knots for an angle");
  }

  get firstAt(): number {
    return this.#at[0]!;
  }

  get lastAt(): number {
    return this.#at.at(-1)!;
  }

  #interval(ladder: readonly number[], value: number): number {
    let [low, high] = [0, ladder.length - 2];
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (ladder[middle]! <= value) low = middle;
      else high = middle - 1;
    }
    return low;
  }

  /** Angle turn·v + bend·v(v − 1) over interval i, v from 0 to 1. */
  #shape(i: number): { ticks: number; turn: number; bend: number } {
    const ticks = this.#at[i + 1]! - this.#at[i]!;
    const turn = this.#rev[i + 1]! - this.#rev[i]!;
    if (i === 0) return { ticks, turn, bend: 0 };
    const before = this.#at[i]! - this.#at[i - 1]!;
    const turnBefore = this.#rev[i]! - this.#rev[i - 1]!;
    const difference = turn * before - turnBefore * ticks;
    return { ticks, turn, bend: (difference / before) * (ticks / (before + ticks)) };
  }

  revAt(time: number): number {
    const i = this.#interval(this.#at, time);
    const { ticks, turn, bend } = this.#shape(i);
    const v = (time - this.#at[i]!) / ticks;
    return this.#rev[i]! + turn * v + bend * v * (v - 1);
  }

  timeAt(rev: number): number {
    const i = this.#interval(this.#rev, rev);
    const { ticks, turn, bend } = this.#shape(i);
    const gone = rev - this.#rev[i]!;
    if (!(gone > 0)) return this.#at[i]!;
    const rate = turn - bend;
    const v = (2 * gone) / (rate + Math.sqrt(rate * rate + 4 * bend * gone));
    return this.#at[i]! + ticks * Math.min(1, v);
  }

  /** Of a vector in the middle of two cycles that take a and b: (b/a + a/b)/(a + b). */
  speedAt(time: number): number {
    const rev = this.revAt(time);
    const first = Math.max(this.#rev[0]!, rev - this.#cycle);
    const last = Math.min(this.#rev.at(-1)!, rev + this.#cycle);
    const a = time - this.timeAt(first);
    const b = this.timeAt(last) - time;
    if (!(a > 0 && b > 0)) return (last - first) / (a + b);
    return (this.#cycle * (b / a + a / b)) / (a + b);
  }
}
