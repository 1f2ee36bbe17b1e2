// What a replay is told as: level and phase of each filter over time, its middle and its greatest.
import { FLAG_COMPUTED, FLAG_SETTLED } from "../../shared/layout.ts";
import type { LevelRecord } from "../../host/record-types.ts";

/** Points of a drawn trace at most. */
const TRACE_POINTS_MAX = 2000;

export interface ReplayTrace {
  /** Seconds, or samples where the rate is not known. */
  time: number[];
  /** File unit or SI through the filter's unit; NaN never: gaps are left out. */
  level: number[];
  speed: number[];
  phaseLagDeg: number[];
  shown: number[];
}

export interface FilterTally {
  name: string;
  unit: string;
  stepCount: number;
  /** Display steps with a computed level, and those on which it had settled to 1 %. */
  computedCount: number;
  settledCount: number;
  /** Mean to standard deviation: over the settled steps, or, where they are the lesser part, over
   * the second half of the computed ones. */
  mean: number;
  median: number;
  /** Median over the second half of the computed steps. */
  secondHalfMedian: number;
  standardDeviation: number;
  greatest: number;
  greatestAt: number;
  speedAtGreatest: number;
  trace: ReplayTrace;
}

function medianOf(values: readonly number[]): number {
  if (values.length === 0) return Number.NaN;
  const sorted = values.toSorted((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

/** Gathers the level records of one filter. Memory: five numbers a display step. */
export class ReplayTally {
  readonly #name: string;
  readonly #unit: string;
  readonly #displayStep: number;
  readonly #time: number[] = [];
  readonly #level: number[] = [];
  readonly #speed: number[] = [];
  readonly #phase: number[] = [];
  readonly #shown: number[] = [];
  readonly #settled: number[] = [];
  #stepCount = 0;

  constructor(name: string, unit: string, displayStep: number) {
    this.#name = name;
    this.#unit = unit;
    this.#displayStep = displayStep;
  }

  take(record: LevelRecord, time: number): void {
    this.#stepCount += 1;
    if ((record.flags & FLAG_COMPUTED) === 0) return;
    if ((record.flags & FLAG_SETTLED) !== 0) this.#settled.push(record.level);
    this.#time.push(time);
    this.#level.push(record.level);
    this.#speed.push(record.speedRevPerS);
    const lagDeg = (-Math.atan2(record.im, record.re) * 180) / Math.PI;
    this.#phase.push((lagDeg + 360) % 360);
    this.#shown.push(record.shownCounts * this.#displayStep);
  }

  finish(): FilterTally {
    const level = this.#level;
    const secondHalf = level.slice(level.length >> 1);
    const isSettled = this.#settled.length * 2 >= level.length;
    const told = isSettled ? this.#settled : secondHalf;
    const mean = told.reduce((sum, value) => sum + value, 0) / told.length;
    const variance = told.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (told.length - 1);
    let top = 0;
    for (let i = 1; i < level.length; i += 1) if (level[i]! > level[top]!) top = i;
    return {
      name: this.#name,
      unit: this.#unit,
      stepCount: this.#stepCount,
      computedCount: level.length,
      settledCount: this.#settled.length,
      mean: told.length > 0 ? mean : Number.NaN,
      median: medianOf(told),
      secondHalfMedian: medianOf(secondHalf),
      standardDeviation: told.length > 1 ? Math.sqrt(variance) : Number.NaN,
      greatest: level[top] ?? Number.NaN,
      greatestAt: this.#time[top] ?? Number.NaN,
      speedAtGreatest: this.#speed[top] ?? Number.NaN,
      trace: this.#thinned(),
    };
  }

  /** The greatest and the smallest level of each slice, in order. */
  #thinned(): ReplayTrace {
    const count = this.#level.length;
    const kept: number[] = [];
    const slice = Math.max(1, Math.ceil((2 * count) / TRACE_POINTS_MAX));
    for (let from = 0; from < count; from += slice) {
      let low = from;
      let high = from;
      for (let i = from; i < Math.min(count, from + slice); i += 1) {
        if (this.#level[i]! < this.#level[low]!) low = i;
        if (this.#level[i]! > this.#level[high]!) high = i;
      }
      kept.push(Math.min(low, high));
      if (low !== high) kept.push(Math.max(low, high));
    }
    const pick = (values: number[]): number[] => kept.map((i) => values[i]!);
    return {
      time: pick(this.#time),
      level: pick(this.#level),
      speed: pick(this.#speed),
      phaseLagDeg: pick(this.#phase),
      shown: pick(this.#shown),
    };
  }
}
