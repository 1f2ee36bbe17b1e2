// Which place of the wheel each edge is: pitches counted by the ratio of an interval to those
// around it, looking both ways, as only an offline method can.
import type { WheelShape } from "./box-signal.ts";

/** Edges that follow each other without doubt. */
export interface EdgeRun {
  /** Times, in samples. */
  at: number[];
  /** Place of each, in pitches from the index (or from the run's first edge). */
  place: number[];
  /** Place 0 is the index. */
  hasIndex: boolean;
  /** Edges that stand at no place, each after the edge of this number in `at`; no marks. */
  leftOut: { at: number; after: number }[];
}

/** Intervals to either side among which the pitch at an edge is looked for. */
const AROUND = 5;
/** Share of a pitch by which an interval may leave a whole number of pitches. */
const SLACK = 0.25;
/** Pitches in an interval beyond which edges are no longer one run, in cycles of the wheel. */
const MISSED_CYCLES_MAX = 1.25;

/**
 * Where, of intervals in the order of their length, one of a whole pitch stands: in the middle of
 * them, beside which a cycle has one of two pitches (missing tooth) or two halves (extra edge).
 */
function wholeShare({ index, positions }: WheelShape): number {
  if (index === "missing-tooth") return (0.5 * (positions - 2)) / (positions - 1);
  if (index === "extra-edge") return 0.5 * (1 + 2 / (positions + 1));
  return 0.5;
}

/** The pitch by the intervals around number `middle`. */
function pitchAround(intervals: Float64Array, middle: number, share: number): number {
  const from = Math.max(0, middle - AROUND);
  const until = Math.min(intervals.length, middle + AROUND + 1);
  const sorted = intervals.slice(from, until).sort();
  return sorted[Math.floor(sorted.length * share)]!;
}

interface Open extends EdgeRun {
  /** Votes for each place of the cycle to be the index. */
  votes: Float64Array;
}

function closed(run: Open, wheel: WheelShape): EdgeRun | undefined {
  if (run.at.length < 4) return undefined;
  const { positions, revolutions, index } = wheel;
  const isOwnIndex = positions === 1 && revolutions === 1;
  let zero = 0;
  for (let i = 1; i < positions; i += 1) if (run.votes[i]! > run.votes[zero]!) zero = i;
  const isVoted = index !== "none" && run.votes[zero]! > 0;
  const place = isVoted ? run.place.map((one) => one - zero) : run.place;
  const hasIndex = isOwnIndex || (isVoted && revolutions === 1);
  return { at: run.at, place, hasIndex, leftOut: run.leftOut };
}

/**
 * Counts the places that the edges stand at, and finds the index among them.
 *
 * A long gap of two pitches votes for the place after it (missing tooth), an edge in the middle of
 * a pitch for the place after that (extra edge); the place with the most votes is the index. An
 * edge inside a pitch is left out. Where an interval is no whole number of pitches, or longer than
 * a cycle and a quarter, a new run begins, and its phase stands apart.
 *
 * Shape     `edges` ascending; runs in order, each of 4 edges or more
 */
export function countEdges(edges: Float64Array, wheel: WheelShape): EdgeRun[] {
  const intervals = new Float64Array(Math.max(0, edges.length - 1));
  for (let i = 0; i < intervals.length; i += 1) intervals[i] = edges[i + 1]! - edges[i]!;
  const runs: EdgeRun[] = [];
  const start = (i: number): Open => ({
    at: [edges[i]!],
    place: [0],
    hasIndex: false,
    leftOut: [],
    votes: new Float64Array(wheel.positions),
  });
  const end = (run: Open): void => {
    const whole = closed(run, wheel);
    if (whole !== undefined) runs.push(whole);
  };
  const share = wholeShare(wheel);
  const missedMax = Math.max(MISSED_CYCLES_MAX * wheel.positions, 2 + SLACK);
  let run = edges.length > 0 ? start(0) : undefined;
  for (let i = 0; i < intervals.length && run !== undefined; i += 1) {
    const pitch = pitchAround(intervals, i, share);
    let pitches = intervals[i]! / pitch;
    let next = i + 1;
    let isMark = false;
    if (pitches < 1 - SLACK && next < intervals.length) {
      // Two short intervals that make one pitch: the edge between them stands at no place.
      const both = pitches + intervals[next]! / pitch;
      isMark = Math.abs(both - 1) < SLACK && Math.abs(pitches / both - 0.5) < SLACK / 2;
      if (Math.abs(both - Math.max(1, Math.round(both))) < SLACK) {
        pitches = both;
        next += 1;
      }
    }
    const count = Math.round(pitches);
    if (count < 1 || count > missedMax || Math.abs(pitches - count) > SLACK * Math.sqrt(count)) {
      end(run);
      run = start(next);
      i = next - 1;
      continue;
    }
    const place: number = run.place.at(-1)! + count;
    const inCycle = place % wheel.positions;
    if (wheel.index === "missing-tooth" && count === 2) run.votes[inCycle]! += 1;
    if (wheel.index === "extra-edge" && isMark) run.votes[inCycle]! += 1;
    else if (next > i + 1) run.leftOut.push({ at: edges[i + 1]!, after: run.at.length - 1 });
    run.at.push(edges[next]!);
    run.place.push(place);
    i = next - 1;
  }
  if (run !== undefined) end(run);
  return runs;
}
