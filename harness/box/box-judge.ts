// A box's readings against its own specification: each inside, outside, or within the guard band.
import type { Reading } from "../adapter/adapter.ts";
import type { BoxReading } from "../judge/types.ts";
import { COVERAGE_FACTOR, type Decision, severity } from "./decision.ts";
import type { DeviceSpecification } from "./device-file.ts";
import { type Decided, type Expectation, decideWithin, limitRatio } from "./limits.ts";
import type { TruthWindows, Window } from "./truth-window.ts";

/** A reading on the scenario's own time. */
export interface TimedReading extends Reading {
  sceneS: number;
  /** How sure that time is, standard, s. */
  standardS: number;
}

/** How many readings came out how; the worst of them first wrong. */
export interface Tally {
  inside: number;
  guardBand: number;
  outside: number;
  notJudged: number;
  worstRatio: number;
  worstS: number;
}

export const emptyTally = (): Tally => ({
  inside: 0,
  guardBand: 0,
  outside: 0,
  notJudged: 0,
  worstRatio: 0,
  worstS: 0,
});

export function count(tally: Tally, decided: Decision): void {
  if (decided === "inside") tally.inside += 1;
  else if (decided === "outside") tally.outside += 1;
  else tally.guardBand += 1;
}

export interface LevelDecisions {
  level: Tally;
  worst?: BoxReading;
  speed: Tally;
  /** Readings that show too little, all at one greatest number below the top. */
  saturated?: { shown: number; count: number; fromS: number };
}

/** A window of the truth, and where times are off. */
type Around = Record<"reach" | "early" | "late" | "wide", Window>;

function reaches(around: Around, of: "number" | "speed") {
  const { reach, early, late, wide } = around;
  return { reach: reach[of], early: early[of], late: late[of], wide: wide[of] };
}

/** What a reading's number should be; accuracy −1: not judged. */
export interface Judged {
  expected: number;
  accuracy: number;
  /** What it should show, where that stands still. */
  steady?: number;
}

const NOT_JUDGED: Judged = { expected: 0, accuracy: -1 };
/** So many readings that stand still at one number, where more is due, are an end of the display. */
const SATURATED_LEAST = 3;

export class BoxJudge {
  readonly #device: DeviceSpecification;
  readonly #top: number;
  readonly #windows: TruthWindows;
  readonly #level = emptyTally();
  readonly #speed = emptyTally();
  #worst: { reading: BoxReading; ratio: number } | undefined;
  /** The greatest number shown, and how often it stood where more was due. */
  #greatest = { shown: -Infinity, shortCount: 0, fromS: 0 };

  constructor(device: DeviceSpecification, windows: TruthWindows, top: number) {
    this.#device = device;
    this.#windows = windows;
    this.#top = top;
  }

  /** Takes the readings of the scenario, ascending; answers what each should show, and its limit. */
  take(reading: TimedReading): Judged {
    this.#takeSpeed(reading);
    return this.#takeLevel(reading);
  }

  finish(): LevelDecisions {
    const { shown, shortCount, fromS } = this.#greatest;
    return {
      level: this.#level,
      ...(this.#worst === undefined ? {} : { worst: this.#worst.reading }),
      speed: this.#speed,
      ...(shortCount >= SATURATED_LEAST && shown < this.#top
        ? { saturated: { shown, count: shortCount, fromS } }
        : {}),
    };
  }

  /** Of the truth, within the stated latency, and where times are off by their U. */
  #around({ sceneS, standardS }: TimedReading, settlingS: number): Around {
    const { latency } = this.#device;
    const offS = COVERAGE_FACTOR * standardS;
    const [fromS, untilS] = [sceneS - latency.toS - settlingS, sceneS - latency.fromS];
    return {
      reach: this.#windows.between(fromS, untilS),
      early: this.#windows.between(fromS - offS, untilS - offS),
      late: this.#windows.between(fromS + offS, untilS + offS),
      wide: this.#windows.between(fromS - offS, untilS + offS),
    };
  }

  #takeLevel(reading: TimedReading): Judged {
    const { filter, settlingS, accuracy, decision, stimulus, displayStep } = this.#device;
    const settledS = filter === undefined ? settlingS : 0;
    const around = this.#around(reading, settledS);
    const { low, high, tolerance } = around.wide.number;
    // Of an unknown filter only what stands still long enough is judged.
    const isSteady = high - low <= 2 * tolerance;
    if (!around.wide.isKnown || (filter === undefined && !isSteady)) {
      this.#level.notJudged += 1;
      return NOT_JUDGED;
    }
    const expectation: Expectation = {
      ...reaches(around, "number"),
      accuracyAt: (expected) => accuracy.share * Math.abs(expected) + accuracy.units,
      termsAt: (expected) => [
        {
          name: "stimulus",
          standard: (Math.abs(expected) * stimulus.share) / stimulus.coverageFactor,
        },
      ],
      rounding: displayStep / 2,
      top: this.#top,
    };
    const shown = reading.isValid === false ? NaN : reading.shown;
    const decided = decideWithin(shown, expectation, decision);
    count(this.#level, decided.decision);
    const { reach } = expectation;
    this.#noteWorst(reading, reach, decided);
    this.#noteGreatest(reading, decided);
    const ends = [reach.low, reach.high].map((one) => Math.min(one, this.#top));
    const expected = Math.min(ends[1]!, Math.max(ends[0]!, reading.shown));
    const isStill = reach.high - reach.low < displayStep / 2;
    return {
      expected: Number.isFinite(expected) ? expected : ends[0]!,
      accuracy: decided.side.accuracy,
      ...(isStill ? { steady: (ends[0]! + ends[1]!) / 2 } : {}),
    };
  }

  #noteWorst(
    reading: TimedReading,
    { low, high }: { low: number; high: number },
    decided: Decided,
  ) {
    const { side, decision } = decided;
    const raw = limitRatio(side, this.#device.decision.rule);
    const ratio = Number.isNaN(raw) ? Infinity : raw;
    const worst = this.#worst;
    if (worst !== undefined) {
      const before = severity(worst.reading.decision);
      if (severity(decision) < before) return;
      if (severity(decision) === before && ratio <= worst.ratio) return;
    }
    const isBelow = side.expected === Math.min(low, this.#top) && side.expected > reading.shown;
    const beyond = Math.max(0, side.excess);
    this.#worst = {
      ratio,
      reading: {
        name: reading.filter,
        timeS: reading.sceneS,
        shown: reading.shown,
        low: Math.min(low, this.#top),
        high: Math.min(high, this.#top),
        ratio: Number.isFinite(ratio) ? ratio : null,
        error: Number.isNaN(beyond) ? null : isBelow ? -beyond : beyond,
        accuracy: side.accuracy,
        expandedUncertainty: side.expandedUncertainty,
        guardBand: side.guardBand,
        terms: side.terms,
        decision,
      },
    };
  }

  #noteGreatest({ shown, isValid, sceneS }: TimedReading, { decision, side }: Decided): void {
    if (isValid === false) return;
    const isShort = decision === "outside" && shown < side.expected;
    if (shown > this.#greatest.shown) this.#greatest = { shown, shortCount: 0, fromS: sceneS };
    if (shown === this.#greatest.shown && isShort) {
      if (this.#greatest.shortCount === 0) this.#greatest.fromS = sceneS;
      this.#greatest.shortCount += 1;
    }
  }

  #takeSpeed(reading: TimedReading): void {
    const { speedShare, decision } = this.#device;
    const { speedRevPerS } = reading;
    if (speedShare === undefined || speedRevPerS === undefined) return;
    const around = this.#around(reading, 0);
    if (!around.wide.isKnown) {
      this.#speed.notJudged += 1;
      return;
    }
    const decided = decideWithin(
      speedRevPerS,
      {
        ...reaches(around, "speed"),
        accuracyAt: (expected) => speedShare * expected,
        termsAt: () => [],
        rounding: 0,
        top: Infinity,
      },
      decision,
    );
    count(this.#speed, decided.decision);
    const ratio = limitRatio(decided.side, decision.rule);
    if (!(ratio <= this.#speed.worstRatio)) {
      [this.#speed.worstRatio, this.#speed.worstS] = [ratio, reading.sceneS];
    }
  }
}
