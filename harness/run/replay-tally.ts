// What a replay is told as: level and phase of each filter over time, its middle and its greatest.
import {
  FLAG_COMPUTED,
  FLAG_PHASE_RELATIVE,
  FLAG_SETTLED,
  STATUS_AT_LEVEL,
  STATUS_BLANK,
} from "../../shared/layout.ts";
import type { LevelRecord } from "../../host/record-types.ts";

/** Points of a drawn trace at most. */
const TRACE_POINTS_MAX = 2000;

export interface ReplayTrace {
  /** Seconds, or samples where the rate is not known. */
  time: number[];
  /** In the filter's unit; steps without a computed level are left out. */
  level: number[];
  speed: number[];
  /** NaN where phase is relative. */
  phaseLagDeg: number[];
  /** Display units; NaN where there is no number. */
  shown: number[];
}

/** A stretch of one caution state, CAUTION_… as its value. */
export interface CautionStretch {
  fromS: number;
  untilS: number;
  value: number;
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
  caution: CautionStretch[];
  /** The number stood at the caution level on the last step: an exceedance without an end. */
  endsAtLevel: boolean;
  trace: ReplayTrace;
}

function medianOf(values: readonly number[]): number {
  if (values.length === 0) return Number.NaN;
  const sorted = values.toSorted((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

/**
 * Gathers the level records of one filter.
 *
 * Memory    six numbers of a display step, 48 bytes: the median needs all of them. Ten hours at ten
 *           steps a second take 17 MB.
 */
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
  readonly #caution: CautionStretch[] = [];
  #stepCount = 0;
  #isAtLevel = false;

  constructor(name: string, unit: string, displayStep: number) {
    this.#name = name;
    this.#unit = unit;
    this.#displayStep = displayStep;
  }

  take(record: LevelRecord, time: number): void {
    this.#stepCount += 1;
    this.#isAtLevel = (record.statusBits & STATUS_AT_LEVEL) !== 0;
    this.#takeCaution(record.cautionState, time);
    if ((record.flags & FLAG_COMPUTED) === 0) return;
    if ((record.flags & FLAG_SETTLED) !== 0) this.#settled.push(record.level);
    this.#time.push(time);
    this.#level.push(record.level);
    this.#speed.push(record.speedRevPerS);
    const lagDeg = (-Math.atan2(record.im, record.re) * 180) / Math.PI;
    const isRelative = (record.flags & FLAG_PHASE_RELATIVE) !== 0;
    this.#phase.push(isRelative ? Number.NaN : (lagDeg + 360) % 360);
    const isBlank = (record.statusBits & STATUS_BLANK) !== 0;
    this.#shown.push(isBlank ? Number.NaN : record.shownCounts * this.#displayStep);
  }

  #takeCaution(value: number, time: number): void {
    const last = this.#caution.at(-1);
    if (last !== undefined) last.untilS = time;
    if (last?.value !== value) this.#caution.push({ fromS: time, untilS: time, value });
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
      caution: this.#caution,
      endsAtLevel: this.#isAtLevel,
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
