// The box's clock against the generator's, from a burst at either end. A step of the input reaches half
// its height equally late whether it rises or falls, so the middle of a burst is late by the box's delay
// alone, and that is the same at both ends: what differs is the clock.
import type { Reading } from "../adapter/adapter.ts";
import { COVERAGE_FACTOR, rectangular } from "./decision.ts";
import type { Burst } from "./timeline.ts";

/** A burst's middle: on the generator's clock, and how surely it was seen. */
interface Seen {
  timeS: number;
  standardS: number;
}

/** t_box = offset + (1 + drift)·t_generator; the offset holds the box's delay. */
export interface ClockFit {
  drift: number;
  /** Expanded, k = 2. */
  driftUncertainty: number;
  offsetS: number;
  bursts: readonly [Seen, Seen];
}

/** A burst that was not found, in a sentence. */
export class BurstLost extends Error {}

interface Crossing {
  timeS: number;
  standardS: number;
}

/**
 * Where readings pass half the burst's height, by a straight line between two.
 *
 * Accuracy  what the line may be off by the readings' own bend, and by their step; rectangular
 */
function crossing(
  readings: readonly Reading[],
  from: number,
  isRising: boolean,
  half: number,
  stepHalf: number,
): { found: Crossing; index: number } | undefined {
  for (let i = Math.max(1, from); i < readings.length; i += 1) {
    const [a, b] = [readings[i - 1]!, readings[i]!];
    const passes = isRising ? a.shown < half && b.shown >= half : a.shown >= half && b.shown < half;
    if (!passes) continue;
    const spanS = b.timeS - a.timeS;
    const slope = Math.abs(b.shown - a.shown) / spanS;
    const share = Math.abs(half - a.shown) / Math.abs(b.shown - a.shown);
    const bend = bendAt(readings, i);
    // Never more than the two readings leave room for.
    const offS = Math.min(spanS / 2, (bend / 8 + stepHalf) / slope);
    return {
      found: { timeS: a.timeS + share * spanS, standardS: rectangular(offS) },
      index: i,
    };
  }
  return undefined;
}

/** Greatest second difference about a pair of readings. */
function bendAt(readings: readonly Reading[], i: number): number {
  const second = (at: number): number => {
    const [a, b, c] = [readings[at - 1], readings[at], readings[at + 1]];
    if (a === undefined || b === undefined || c === undefined) return 0;
    return Math.abs(a.shown - 2 * b.shown + c.shown);
  };
  return Math.max(second(i - 1), second(i));
}

/** The middle of a burst as the box saw it. Errors: BurstLost. */
function middle(
  readings: readonly Reading[],
  { fromS, untilS }: Burst,
  slackS: number,
  stepHalf: number,
  which: string,
): Crossing {
  const near = readings.filter(({ timeS }) => timeS >= fromS - slackS && timeS <= untilS + slackS);
  const greatest = near.reduce((most, { shown }) => Math.max(most, shown), 0);
  const least = near.reduce((most, { shown }) => Math.min(most, shown), greatest);
  const half = (greatest + least) / 2;
  const rise =
    greatest - least > 8 * stepHalf ? crossing(near, 1, true, half, stepHalf) : undefined;
  const fall =
    rise === undefined ? undefined : crossing(near, rise.index + 1, false, half, stepHalf);
  if (rise === undefined || fall === undefined) {
    throw new BurstLost(
      `the burst at the ${which} (${fromS.toFixed(2)} to ${untilS.toFixed(2)} s) is not seen in ` +
        "what was read back: see that the box is connected, and that its times begin with the play",
    );
  }
  return {
    timeS: (rise.found.timeS + fall.found.timeS) / 2,
    standardS: Math.hypot(rise.found.standardS, fall.found.standardS) / 2,
  };
}

/**
 * Fits the box's clock to both bursts; `slackS` is how far a burst may be from where it was played.
 *
 * Errors    BurstLost
 */
export function fitClock(
  readings: readonly Reading[],
  bursts: readonly [Burst, Burst],
  slackS: number,
  displayStep: number,
): ClockFit {
  const stepHalf = displayStep / 2;
  const centre = ({ fromS, untilS }: Burst): number => (fromS + untilS) / 2;
  const first = middle(readings, bursts[0], slackS, stepHalf, "beginning");
  const last = middle(readings, bursts[1], slackS, stepHalf, "end");
  const apartS = centre(bursts[1]) - centre(bursts[0]);
  const drift = (last.timeS - first.timeS) / apartS - 1;
  const driftUncertainty = (COVERAGE_FACTOR * Math.hypot(first.standardS, last.standardS)) / apartS;
  return {
    drift,
    driftUncertainty,
    offsetS: first.timeS - (1 + drift) * centre(bursts[0]),
    bursts: [
      { timeS: centre(bursts[0]), standardS: first.standardS },
      { timeS: centre(bursts[1]), standardS: last.standardS },
    ],
  };
}

/**
 * Standard uncertainty of a time of the generator's clock that comes of both bursts: on the
 * straight line between them, each weighs by its distance (JCGM 100:2008, 5.1.2).
 */
export function clockStandardS({ bursts: [first, last] }: ClockFit, timeS: number): number {
  const share = (timeS - first.timeS) / (last.timeS - first.timeS);
  return Math.hypot((1 - share) * first.standardS, share * last.standardS);
}

/** A reading's time on the generator's clock, s. */
export function generatorTime({ drift, offsetS }: ClockFit, timeS: number, lateS: number): number {
  return (timeS - offsetS + lateS) / (1 + drift);
}
