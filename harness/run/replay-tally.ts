// What a replay is told as: level and phase of each filter over time, its middle and its greatest.
import {
  FLAG_COMPUTED,
  FLAG_PHASE_RELATIVE,
  FLAG_SETTLED,
  STATUS_AT_LEVEL,
  STATUS_BLANK,
} from "../../shared/layout.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import {
  levelsBySpeed,
  meanOf,
  medianOf,
  type SpeedBin,
  standardDeviationOf,
} from "./speed-bins.ts";

/** Points of a drawn trace at most. */
const TRACE_POINTS_MAX = 2000;

export interface ReplayTrace {
  /** Seconds, or samples where the rate is not known. */
  time: number[];
  /** In the filter's unit; NaN, as all beside the time, in place of steps without a computed level. */
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

/** Which filter a tally is of. */
export interface TalliedFilter {
  name: string;
  channel: string;
  order: number;
  /** Unit and detector, "in/s pk". */
  unit: string;
}

export interface FilterTally extends TalliedFilter {
  stepCount: number;
  /** Display steps with a computed level, and those on which it had settled to 1 %. */
  computedCount: number;
  settledCount: number;
  /** Mean to standard deviation: over the settled steps, or, where they are the lesser part, over
   * the second half of the computed ones. The greatest is then that of all computed ones. */
  mean: number;
  median: number;
  /** Median over the second half of the computed steps. */
  secondHalfMedian: number;
  standardDeviation: number;
  greatest: number;
  greatestAt: number;
  speedAtGreatest: number;
  /** Of the same steps as the mean, speeds in the told unit. */
  bySpeed: SpeedBin[];
  caution: CautionStretch[];
  /** The number stood at the caution level on the last step: an exceedance without an end. */
  endsAtLevel: boolean;
  trace: ReplayTrace;
}

/**
 * Gathers the level records of one filter.
 *
 * Memory    six values of a display step, 48 bytes: the median needs all of them. Ten hours at ten
 *           steps a second take 17 MB.
 */
export class ReplayTally {
  readonly #filter: TalliedFilter;
  readonly #displayStep: number;
  readonly #time: number[] = [];
  readonly #level: number[] = [];
  readonly #speed: number[] = [];
  readonly #phase: number[] = [];
  readonly #shown: number[] = [];
  readonly #isSettled: boolean[] = [];
  /** Indices before which steps without a level lie. */
  readonly #gaps = new Set<number>();
  readonly #caution: CautionStretch[] = [];
  #stepCount = 0;
  #settledCount = 0;
  #isAtLevel = false;

  constructor(filter: TalliedFilter, displayStep: number) {
    this.#filter = filter;
    this.#displayStep = displayStep;
  }

  take(record: LevelRecord, time: number): void {
    this.#stepCount += 1;
    this.#isAtLevel = (record.statusBits & STATUS_AT_LEVEL) !== 0;
    this.#takeCaution(record.cautionState, time);
    if ((record.flags & FLAG_COMPUTED) === 0) {
      this.#gaps.add(this.#level.length);
      return;
    }
    const isSettled = (record.flags & FLAG_SETTLED) !== 0;
    this.#isSettled.push(isSettled);
    if (isSettled) this.#settledCount += 1;
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

  /** Least and greatest speed of the steps that statistics are taken over, rev/s or rev/sample. */
  get speedSpan(): { least: number; most: number } {
    const speeds = this.#told(this.#speed);
    return {
      least: speeds.reduce((a, b) => Math.min(a, b), Infinity),
      most: speeds.reduce((a, b) => Math.max(a, b), 0),
    };
  }

  /** What is kept of the steps that statistics are taken over. */
  #told(values: readonly number[]): number[] {
    if (this.#settledCount * 2 >= values.length)
      return values.filter((_, i) => this.#isSettled[i]!);
    return values.slice(values.length >> 1);
  }

  /** Of the settled steps, where they are not the lesser part: a filter starts anywhere. */
  #greatestIndex(): number {
    const isSettledMost = this.#settledCount * 2 >= this.#level.length;
    let top = -1;
    for (const [i, level] of this.#level.entries()) {
      if (isSettledMost && !this.#isSettled[i]!) continue;
      if (top < 0 || level > this.#level[top]!) top = i;
    }
    return top;
  }

  /** `speedFactor`: the told unit of speed in a rev/s, or rev/sample; `binWidth` in that unit. */
  finish(speedFactor: number, binWidth: number): FilterTally {
    const level = this.#level;
    const secondHalf = level.slice(level.length >> 1);
    const told = this.#told(level);
    const toldSpeeds = this.#told(this.#speed).map((speed) => speed * speedFactor);
    const top = this.#greatestIndex();
    return {
      ...this.#filter,
      stepCount: this.#stepCount,
      computedCount: level.length,
      settledCount: this.#settledCount,
      mean: meanOf(told),
      median: medianOf(told),
      secondHalfMedian: medianOf(secondHalf),
      standardDeviation: standardDeviationOf(told),
      greatest: level[top] ?? Number.NaN,
      greatestAt: this.#time[top] ?? Number.NaN,
      speedAtGreatest: this.#speed[top] ?? Number.NaN,
      bySpeed: levelsBySpeed(told, toldSpeeds, binWidth),
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
    const gapped = this.#withGaps(kept);
    const pick = (values: number[]): number[] =>
      gapped.map(({ index, isGap }) => (isGap ? Number.NaN : values[index]!));
    return {
      time: gapped.map(({ index }) => this.#time[index]!),
      level: pick(this.#level),
      speed: pick(this.#speed),
      phaseLagDeg: pick(this.#phase),
      shown: pick(this.#shown),
    };
  }

  /** What is kept, and a gap at the time after it wherever steps without a level lie between. */
  #withGaps(kept: readonly number[]): { index: number; isGap: boolean }[] {
    const gaps = [...this.#gaps].toSorted((a, b) => a - b);
    const gapped: { index: number; isGap: boolean }[] = [];
    let next = 0;
    for (const index of kept) {
      const before = gapped.at(-1)?.index ?? -1;
      while (next < gaps.length && gaps[next]! <= before) next += 1;
      if (before >= 0 && next < gaps.length && gaps[next]! <= index) {
        gapped.push({ index, isGap: true });
      }
      gapped.push({ index, isGap: false });
    }
    return gapped;
  }
}
