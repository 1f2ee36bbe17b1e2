// Do a tachometer's pulses pass the threshold all along? Their levels run by run, and pitches that
// are far longer than those before: an edge that is missing leaves no other trace.
import type { EdgeSettings } from "./edge-detector.ts";
import type { ValueRange } from "./value-range.ts";

/** Runs whose pulses are smaller than this share of the greatest are taken as standing still. */
const STILL_SHARE = 0.1;
/** Share of the hysteresis by which pulses must go beyond either level. */
const MARGIN_SHARE = 0.25;
/** A pitch so many times the one before is no change of speed: half way to an edge that is missing. */
export const LONG_PITCH = 1.5;

/** A run's levels, and where it lies. */
export interface PulseRun extends ValueRange {
  fromSample: number;
  untilSample: number;
}

/** A stretch whose pulses do not pass threshold and hysteresis. */
export interface UnpassedStretch extends PulseRun {
  isStill: boolean;
}

function spanOf({ low, high }: ValueRange): number {
  return high - low;
}

/** The levels of some runs together. */
export function wholeRange(runs: readonly PulseRun[]): ValueRange {
  return {
    low: Math.min(...runs.map((run) => run.low)),
    high: Math.max(...runs.map((run) => run.high)),
  };
}

/** Neighbours joined until each stretch is so long; the last takes up what is left. */
export function grouped(runs: readonly PulseRun[], samplesLeast: number): PulseRun[] {
  const groups: PulseRun[] = [];
  const lengthOf = (run: PulseRun): number => run.untilSample - run.fromSample;
  for (const run of runs) {
    const last = groups.at(-1);
    const isShort = last !== undefined && lengthOf(last) < samplesLeast;
    const isRest = run === runs.at(-1) && lengthOf(run) < samplesLeast;
    if (last === undefined || !(isShort || isRest)) {
      groups.push({ ...run });
      continue;
    }
    Object.assign(last, wholeRange([last, run]), { untilSample: run.untilSample });
  }
  return groups;
}

/** Whether the first run is far smaller than others: the shaft did not turn yet. */
export function isStillAtStart(runs: readonly PulseRun[]): boolean {
  return spanOf(runs[0]!) <= STILL_SHARE * Math.max(...runs.map(spanOf));
}

/** Whether a waveform between two levels surely makes edges with these settings. */
function passes(range: ValueRange, settings: EdgeSettings): boolean {
  const { threshold, hysteresis, slope } = settings;
  // Pulses differ: what passes only just does not pass all along.
  const margin = MARGIN_SHARE * hysteresis;
  const [low, high] = [range.low + margin, range.high - margin];
  return slope === "rising"
    ? high >= threshold && low <= threshold - hysteresis
    : low <= threshold && high >= threshold + hysteresis;
}

/** The levels that every run whose shaft turns goes beyond; low ≥ high where there are none. */
export function commonRange(runs: readonly PulseRun[]): ValueRange {
  const greatest = Math.max(...runs.map(spanOf));
  const turning = runs.filter((run) => spanOf(run) > STILL_SHARE * greatest);
  return {
    low: Math.max(...turning.map((run) => run.low)),
    high: Math.min(...turning.map((run) => run.high)),
  };
}

/** The stretches that make no edges, neighbours joined. */
export function unpassedStretches(
  runs: readonly PulseRun[],
  settings: EdgeSettings,
): UnpassedStretch[] {
  const greatest = Math.max(...runs.map(spanOf));
  const stretches: UnpassedStretch[] = [];
  for (const run of runs) {
    if (passes(run, settings)) continue;
    const isStill = spanOf(run) <= STILL_SHARE * greatest;
    const last = stretches.at(-1);
    if (last?.untilSample !== run.fromSample || last.isStill !== isStill) {
      stretches.push({ ...run, isStill });
      continue;
    }
    last.untilSample = run.untilSample;
    last.low = Math.min(last.low, run.low);
    last.high = Math.max(last.high, run.high);
  }
  return stretches;
}

/** Pitches that are far longer than the one before, as where an edge is missing. */
export class LongPitches {
  count = 0;
  /** Time of the edge before the first, in samples. */
  firstAt = Number.NaN;
  lastAt = Number.NaN;
  #edgeBefore = Number.NaN;
  #pitchBefore = Number.NaN;

  take(time: number): void {
    const pitch = time - this.#edgeBefore;
    const isLong = pitch >= LONG_PITCH * this.#pitchBefore;
    if (isLong) {
      if (this.count === 0) this.firstAt = this.#edgeBefore;
      this.lastAt = this.#edgeBefore;
      this.count += 1;
    }
    this.#edgeBefore = time;
    this.#pitchBefore = pitch;
  }
}
