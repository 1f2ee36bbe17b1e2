// The shaft's angle over time: a piecewise cubic through the edges.
import type { AngleOverTime, BoxSignal } from "./box-signal.ts";
import { deviceEdges, type DeviceEdges } from "./device-edges.ts";
import { countEdges } from "./edge-count.ts";

/** Newton's steps that bring a time to its angle at most: each doubles the digits. */
const NEWTON_STEPS = 6;
/** Samples: a step under it has come to its end, the next would be its square. */
const NEWTON_END = 1e-5;

/**
 * The angle of one unbroken run of edges: a cubic between neighbours whose slopes are those of the
 * parabola through each edge and the two beside it, so that a constant acceleration is exact.
 *
 * Units     times in samples, angles in revolutions from the index, speeds in revolutions a sample
 * Range     from the first edge to the last: nothing is extrapolated
 */
export class ShaftAngle implements AngleOverTime {
  readonly hasIndex: boolean;
  /** The edges as a device takes them that counts as it goes. */
  readonly device: DeviceEdges;
  readonly #at: Float64Array;
  readonly #rev: Float64Array;
  readonly #slope: Float64Array;
  #near = 0;

  constructor(at: Float64Array, rev: Float64Array, hasIndex: boolean, device: DeviceEdges) {
    if (at.length < 4) throw new RangeError(`${at.length} edges are too few for an angle`);
    this.#at = at;
    this.#rev = rev;
    this.hasIndex = hasIndex;
    this.device = device;
    this.#slope = new Float64Array(at.length);
    this.#lay();
  }

  #lay(): void {
    const [at, rev, slope] = [this.#at, this.#rev, this.#slope];
    const last = at.length - 1;
    const chord = (i: number): number => (rev[i + 1]! - rev[i]!) / (at[i + 1]! - at[i]!);
    for (let i = 1; i < last; i += 1) {
      const [before, after] = [at[i]! - at[i - 1]!, at[i + 1]! - at[i]!];
      const [low, high] = [chord(i - 1), chord(i)];
      slope[i] = (low * after + high * before) / (before + after);
    }
    slope[0] = 2 * chord(0) - slope[1]!;
    slope[last] = 2 * chord(last - 1) - slope[last - 1]!;
  }

  get firstAt(): number {
    return this.#at[0]!;
  }

  get lastAt(): number {
    return this.#at.at(-1)!;
  }

  get firstRev(): number {
    return this.#rev[0]!;
  }

  get lastRev(): number {
    return this.#rev.at(-1)!;
  }

  /** Number of the piece that holds `value` of `ladder`, looked for from the last one found. */
  #piece(ladder: Float64Array, value: number): number {
    const last = ladder.length - 2;
    let i = Math.min(this.#near, last);
    if (!(ladder[i]! <= value && value <= ladder[i + 1]!)) {
      let [low, high] = [0, last];
      // A few steps on is the rule; the rest by halving.
      if (ladder[i]! <= value) [low, high] = [i, Math.min(last, i + 4)];
      if (value > ladder[high + 1]!) high = last;
      while (low < high) {
        const middle = (low + high + 1) >> 1;
        if (ladder[middle]! <= value) low = middle;
        else high = middle - 1;
      }
      i = low;
    }
    this.#near = i;
    return i;
  }

  #inPiece(i: number, time: number): { rev: number; speed: number } {
    const width = this.#at[i + 1]! - this.#at[i]!;
    const u = (time - this.#at[i]!) / width;
    const rise = this.#rev[i + 1]! - this.#rev[i]!;
    const [a, b] = [this.#slope[i]! * width, this.#slope[i + 1]! * width];
    // rev[i] + a·u + (3·rise − 2a − b)·u² + (a + b − 2·rise)·u³
    const square = 3 * rise - 2 * a - b;
    const cube = a + b - 2 * rise;
    return {
      rev: this.#rev[i]! + u * (a + u * (square + u * cube)),
      speed: (a + u * (2 * square + 3 * u * cube)) / width,
    };
  }

  /** Angle at a time. */
  revAt(time: number): number {
    return this.#inPiece(this.#piece(this.#at, time), time).rev;
  }

  /** Speed at a time. */
  speedAt(time: number): number {
    return this.#inPiece(this.#piece(this.#at, time), time).speed;
  }

  /** The time of an angle. */
  timeAt(rev: number): number {
    const i = this.#piece(this.#rev, rev);
    const [from, until] = [this.#at[i]!, this.#at[i + 1]!];
    const share = (rev - this.#rev[i]!) / (this.#rev[i + 1]! - this.#rev[i]!);
    let time = from + share * (until - from);
    for (let step = 0; step < NEWTON_STEPS; step += 1) {
      const now = this.#inPiece(i, time);
      if (!(now.speed > 0)) break;
      const next = Math.min(until, Math.max(from, time - (now.rev - rev) / now.speed));
      const isEnd = Math.abs(next - time) < NEWTON_END;
      time = next;
      if (isEnd) break;
    }
    return time;
  }
}

/** The angle of each run of edges that a signal holds. */
export function shaftAngles({ edges, wheel, sampleRateHz }: BoxSignal): ShaftAngle[] {
  const pitch = wheel.revolutions / wheel.positions;
  return countEdges(edges, wheel).map(
    (run) =>
      new ShaftAngle(
        Float64Array.from(run.at),
        Float64Array.from(run.place, (place) => place * pitch),
        run.hasIndex,
        deviceEdges(run, wheel, sampleRateHz),
      ),
  );
}
