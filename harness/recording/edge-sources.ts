// Where the edges of a replayed shaft come from. Each source hands them over in order, in samples
// from the start of the recording, as far as the samples have come.
import type { SampleRun } from "./recording.ts";

export interface EdgeSource {
  /** Shows the next run of samples, where edges are found in them; one run before `take` needs it. */
  see?(run: SampleRun): void;
  /** Edges with time < `untilSample` that were not handed over yet, ascending. */
  take(untilSample: number): number[];
}

/** Edges a revolution that are made where a speed is stated and no edges are given. */
export const POSITIONS_MADE = 12;

/** Rows of a stated speed, also before sample 0: straight between rows, held before the first and after the last. */
export interface SpeedRow {
  atSample: number;
  cyclesPerSample: number;
}

/**
 * Edges of a shaft whose speed is stated: a constant is a table of one row.
 *
 * The angle is the integral of the piecewise straight speed; each edge's time solves the quadratic
 * of its piece. Speed 0 makes no edges.
 *
 * Errors    RangeError where the table is empty, does not ascend, or a speed is negative
 */
export class StatedSpeed implements EdgeSource {
  readonly #rows: SpeedRow[];
  #piece = -1;
  #pieceAngle = 0;
  #edge = 0;
  #takenUntil = 0;

  constructor(rows: SpeedRow[]) {
    if (rows.length === 0) throw new RangeError("a speed table needs at least one row");
    for (const [i, row] of rows.entries()) {
      if (!(row.cyclesPerSample >= 0)) throw new RangeError(`speed row ${i + 1} is negative`);
      if (i > 0 && !(row.atSample > rows[i - 1]!.atSample)) {
        throw new RangeError(`speed row ${i + 1} does not come after the row before`);
      }
    }
    const { later, angle } = fromSampleZero(rows);
    this.#rows = later;
    this.#pieceAngle = angle;
    // An edge on sample 0 itself counts, on whichever side of it the angle is rounded to.
    this.#edge = Math.ceil(angle * POSITIONS_MADE - 1e-9);
  }

  /** Piece −1 is the hold before the first row, the last piece the hold after the last. */
  #bounds(piece: number): { from: number; until: number; speed: number; slope: number } {
    const row = this.#rows[Math.max(0, piece)]!;
    const next = this.#rows[piece + 1];
    const from = piece < 0 ? 0 : row.atSample;
    const until = next?.atSample ?? Infinity;
    const slope =
      piece < 0 || next === undefined
        ? 0
        : (next.cyclesPerSample - row.cyclesPerSample) / (next.atSample - row.atSample);
    return { from, until: Math.max(from, until), speed: row.cyclesPerSample, slope };
  }

  /**
   * An edge that stands on the very sample where two takes meet is rounded to either side of it: it
   * is kept for the next one, or counts from that sample on.
   */
  take(untilSample: number): number[] {
    const takenUntil = this.#takenUntil;
    this.#takenUntil = untilSample;
    const times: number[] = [];
    while (true) {
      const { from, until, speed, slope } = this.#bounds(this.#piece);
      const end = Math.min(until, untilSample);
      const turned = angleAfter(speed, slope, end - from);
      while (this.#edge / POSITIONS_MADE < this.#pieceAngle + turned) {
        const angle = this.#edge / POSITIONS_MADE - this.#pieceAngle;
        const time = from + timeOf(angle, speed, slope);
        if (time >= untilSample) return times;
        times.push(Math.max(time, takenUntil));
        this.#edge += 1;
      }
      if (until > untilSample) return times;
      this.#pieceAngle += turned;
      this.#piece += 1;
    }
  }
}

/**
 * The rows from sample 0 on, with one at it where others came before, and the angle there. Rows may
 * lie before the stretch, by any time: what they turn counts, whole revolutions and edges do not.
 */
function fromSampleZero(rows: readonly SpeedRow[]): { later: SpeedRow[]; angle: number } {
  const later = rows.filter((row) => row.atSample >= 0);
  let angle = 0;
  let speed = 0;
  for (const [i, row] of rows.slice(0, rows.length - later.length).entries()) {
    const next = rows[i + 1];
    const time = Math.min(next?.atSample ?? 0, 0) - row.atSample;
    const steps = next === undefined ? 0 : time / (next.atSample - row.atSample);
    const changed = steps * ((next?.cyclesPerSample ?? 0) - row.cyclesPerSample);
    angle = (angle + time * (row.cyclesPerSample + changed / 2)) % 1;
    speed = row.cyclesPerSample + changed;
  }
  const isBegun = later.length === rows.length || later[0]?.atSample === 0;
  return { later: isBegun ? later : [{ atSample: 0, cyclesPerSample: speed }, ...later], angle };
}

function angleAfter(speed: number, slope: number, time: number): number {
  return time <= 0 ? 0 : time * (speed + (slope * time) / 2);
}

/** The time at which the angle is reached; the form that does not cancel. */
function timeOf(angle: number, speed: number, slope: number): number {
  if (angle <= 0) return 0;
  const root = Math.sqrt(Math.max(0, speed * speed + 2 * slope * angle));
  return (2 * angle) / (speed + root);
}

/** Edges that are known beforehand: a list of times in samples. */
export class EdgeList implements EdgeSource {
  readonly #times: Float64Array;
  #next = 0;

  /** Errors: RangeError with the first row that does not come after the row before. */
  constructor(times: Float64Array) {
    for (let i = 1; i < times.length; i += 1) {
      if (!(times[i]! > times[i - 1]!)) {
        throw new RangeError(`edge ${i + 1} does not come after the edge before`);
      }
    }
    this.#times = times;
  }

  take(untilSample: number): number[] {
    const from = this.#next;
    while (this.#next < this.#times.length && this.#times[this.#next]! < untilSample)
      this.#next += 1;
    return [...this.#times.subarray(from, this.#next)].filter((time) => time >= 0);
  }
}
