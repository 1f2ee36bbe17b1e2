// Which edges a device takes that counts as it goes: it meets an edge that stands at no place
// before it can know the next one, and may take it for that.
import type { WheelShape } from "./box-signal.ts";
import type { EdgeRun } from "./edge-count.ts";

/** The widest tolerance, what acceleration adds included, pitches (DEVELOPERS.md). */
const TOLERANCE_MAX = 0.45;

/**
 * Edges after a doubtful one until a device is defined to count right again or to have lost its
 * reference. Doubt ends with three plain edges in a row, and its second doubtful interval beyond
 * the first edge loses the reference: two plain, one doubtful, two plain, one doubtful at most. Two
 * edges may be dropped before each of those six, a third one loses the reference.
 */
export const DOUBTFUL_EDGES = 18;

/** The edges as a device takes them, and where it may have gone astray. */
export interface DeviceEdges {
  at: number[];
  place: number[];
  /** From the edge before a doubtful one to where the doubt is over. */
  astray: { fromAt: number; untilAt: number }[];
}

interface Taken {
  at: number[];
  place: number[];
}

interface Foresight {
  /** Pitches from the newest edge to `time`. */
  advance: number;
  tolerance: number;
}

/** Largest acceleration, pitches a sample². */
function accelerationMax(wheel: WheelShape, sampleRateHz: number): number {
  const pitchesPerRev = wheel.positions / wheel.revolutions;
  return (wheel.accelerationMaxRevPerS2 * pitchesPerRev) / sampleRateHz ** 2;
}

/**
 * Where the last three edges up to number `last` let an edge at `time` be looked for.
 *
 * Source  the quadratic through three edges (Fyfe & Munck, MSSP 11(2), 1997; from memory), its
 *         acceleration held to the device's limit, as the configuration states it
 */
function foresee(
  { at, place }: Taken,
  last: number,
  time: number,
  { edgeTolerancePitches }: WheelShape,
  most: number,
): Foresight | undefined {
  if (last < 2) return undefined;
  const [dt1, dt0] = [at[last - 1]! - at[last - 2]!, at[last]! - at[last - 1]!];
  const [n1, n0] = [place[last - 1]! - place[last - 2]!, place[last]! - place[last - 1]!];
  const span = dt0 + dt1;
  const change = Math.min(most, Math.max(-most, (2 * (n0 / dt0 - n1 / dt1)) / span));
  const steady = (n0 + n1) / span + (change * span) / 2;
  // A parabola that all but stops before the next place is not gone on with.
  const speed = steady >= n0 / dt0 / 2 ? steady : n0 / dt0;
  const acceleration = Math.max(change, (-speed * speed) / 2);
  const dt = time - at[last]!;
  return {
    advance: speed * dt + (acceleration * dt * dt) / 2,
    tolerance: Math.min(TOLERANCE_MAX, edgeTolerancePitches + most / speed ** 2),
  };
}

/**
 * The edges of a run as a device takes them: of two at one place the first that lies within its
 * tolerance, not the one that fits best.
 *
 * Shape     as many edges as the run has, or more where one stands for a place that had none
 */
export function deviceEdges(run: EdgeRun, wheel: WheelShape, sampleRateHz: number): DeviceEdges {
  const most = accelerationMax(wheel, sampleRateHz);
  const at = run.at.slice();
  const added: { at: number; place: number }[] = [];
  const astray: DeviceEdges["astray"] = [];
  for (const one of run.leftOut) {
    const { after } = one;
    const [from, until] = [run.at[after]!, run.at[after + 1]!];
    const pitches = run.place[after + 1]! - run.place[after]!;
    const ahead = Math.round(((one.at - from) / (until - from)) * pitches);
    // The earlier of two edges at one place is judged by those before it.
    const isLater = ahead === 0;
    const last = isLater ? after - 1 : after;
    const time = isLater ? from : one.at;
    const place = run.place[after]! + ahead;
    const seen = foresee({ at, place: run.place }, last, time, wheel, most);
    const wanted = place - (run.place[last] ?? place - 1);
    // Without three edges before it nothing says which one is taken.
    const beside = seen === undefined ? Infinity : Math.abs(seen.advance - wanted);
    const isTaken = seen !== undefined && beside <= seen.tolerance;
    if (isTaken === !isLater && seen !== undefined) {
      if (ahead === 0 || ahead === pitches) at[after + (isLater ? 0 : 1)] = one.at;
      else added.push({ at: one.at, place });
    }
    if (seen === undefined || (isTaken && beside > seen.tolerance / 2)) {
      const end = Math.min(run.at.length - 1, last + 1 + DOUBTFUL_EDGES);
      astray.push({ fromAt: run.at[Math.max(0, last)]!, untilAt: run.at[end]! });
    }
  }
  if (added.length === 0) return { at, place: run.place, astray };
  const all = [...at.map((time, i) => ({ at: time, place: run.place[i]! })), ...added];
  all.sort((a, b) => a.at - b.at);
  return { at: all.map((one) => one.at), place: all.map((one) => one.place), astray };
}
