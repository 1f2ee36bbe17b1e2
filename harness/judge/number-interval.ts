// The shown number as an interval of counts: level ± tolerance through scale, smoothing and rounding.
import type { DisplayProfile } from "../scene/scene.ts";

/** Unit roundoff of f32. */
const U32 = 2 ** -24;
/**
 * Roundings of a scaled level, of f32 each: configured factors (2), their difference, the speed's
 * difference and quotient (4), the sum, the product with the level, the level itself as recorded.
 */
const SCALE_ROUNDINGS = 10;
/** Roundings of one smoothing update: share, difference, product, sum. */
const SMOOTHING_ROUNDINGS = 4;
/** Roundings of s · (1 / step) + 0.5: the configured inverse, the product, the sum. */
const COUNT_ROUNDINGS = 3;

/** Level (filter's unit) and speed of one source, as intervals. */
export interface NumberSource {
  levelLow: number;
  levelHigh: number;
  speedLow: number;
  speedHigh: number;
}

/** Share of the new value that a smoothing time constant means at this display period. */
export function smoothingShare(smoothingS: number, displayPeriodS: number): number {
  return smoothingS > 0 ? 1 - Math.exp(-displayPeriodS / smoothingS) : 1;
}

/** Scale at one speed, linear between rows, held at the ends. */
export function scaleAt(scale: DisplayProfile["scale"], speedRevPerS: number): number {
  const first = scale[0];
  if (first === undefined) return 1;
  if (speedRevPerS <= first.speedRevPerS) return first.factor;
  for (let i = 1; i < scale.length; i += 1) {
    const a = scale[i - 1]!;
    const b = scale[i]!;
    if (speedRevPerS <= b.speedRevPerS) {
      const share = (speedRevPerS - a.speedRevPerS) / (b.speedRevPerS - a.speedRevPerS);
      return a.factor + (b.factor - a.factor) * share;
    }
  }
  return scale[scale.length - 1]!.factor;
}

/** The recursion of one display; `low` and `high` are the counts that it may show. */
export class NumberInterval {
  low = 0;
  high = 0;
  private smoothedLow = 0;
  private smoothedHigh = 0;
  private slack = 0;
  private isRunning = false;
  private readonly display: DisplayProfile;
  private readonly share: number;
  private readonly factorMax: number;

  constructor(display: DisplayProfile, displayPeriodS: number) {
    this.display = display;
    this.share = smoothingShare(display.smoothingS, displayPeriodS);
    this.factorMax = Math.max(...display.scale.map((row) => Math.abs(row.factor)));
  }

  /** The smoothing starts anew at the next valid number. */
  restart(): void {
    this.isRunning = false;
  }

  /**
   * Any number at all may stand here: the level was not judged. The smoothing takes levels beyond
   * the top of the display as they are, so the recorded ones count where they lie higher.
   */
  stepUnknown(recorded: NumberSource[] = []): void {
    let high = this.display.countsMax * this.display.step;
    let slack = 0;
    for (const source of recorded) {
      high = Math.max(high, this.scaledHigh(source));
      slack = Math.max(slack, this.scaleSlack(source));
    }
    this.update(0, high, slack);
  }

  /**
   * The greatest of the sources at this step.
   *
   * Shape     `certain` must serve, `possible` may serve as well
   */
  step(certain: NumberSource[], possible: NumberSource[]): void {
    let low = certain.length > 0 ? -Infinity : Infinity;
    let high = -Infinity;
    let slack = 0;
    for (const source of certain) {
      low = Math.max(low, this.scaledLow(source));
      high = Math.max(high, this.scaledHigh(source));
      slack = Math.max(slack, this.scaleSlack(source));
    }
    for (const source of possible) {
      if (certain.length === 0) low = Math.min(low, this.scaledLow(source));
      high = Math.max(high, this.scaledHigh(source));
      slack = Math.max(slack, this.scaleSlack(source));
    }
    if (high === -Infinity) this.stepUnknown();
    else this.update(Math.max(low, 0), Math.max(high, 0), slack);
  }

  private scaleSlack(source: NumberSource): number {
    return SCALE_ROUNDINGS * U32 * this.factorMax * Math.abs(source.levelHigh);
  }

  private scaledLow(source: NumberSource): number {
    return Math.max(source.levelLow, 0) * this.scaleExtreme(source, Math.min);
  }

  private scaledHigh(source: NumberSource): number {
    return Math.max(source.levelHigh, 0) * this.scaleExtreme(source, Math.max);
  }

  private scaleExtreme(source: NumberSource, pick: (a: number, b: number) => number): number {
    const { scale } = this.display;
    if (scale.length === 1) return scale[0]!.factor;
    let factor = pick(scaleAt(scale, source.speedLow), scaleAt(scale, source.speedHigh));
    for (const row of scale) {
      if (row.speedRevPerS > source.speedLow && row.speedRevPerS < source.speedHigh) {
        factor = pick(factor, row.factor);
      }
    }
    return factor;
  }

  private update(low: number, high: number, slack: number): void {
    if (!this.isRunning) {
      this.smoothedLow = low;
      this.smoothedHigh = high;
      this.slack = slack;
      this.isRunning = true;
    } else {
      const size = Math.max(Math.abs(high), Math.abs(this.smoothedHigh));
      this.smoothedLow += this.share * (low - this.smoothedLow);
      this.smoothedHigh += this.share * (high - this.smoothedHigh);
      const rounding = SMOOTHING_ROUNDINGS * U32 * size;
      this.slack = (1 - this.share) * this.slack + this.share * slack + rounding;
    }
    this.low = this.counts(this.smoothedLow - this.slack, -1);
    this.high = this.counts(this.smoothedHigh + this.slack, 1);
  }

  private counts(smoothed: number, side: number): number {
    const exact = smoothed / this.display.step;
    const slack = COUNT_ROUNDINGS * U32 * (Math.abs(exact) + 0.5);
    const counts = Math.floor(exact + 0.5 + side * slack);
    return Math.min(Math.max(counts, 0), this.display.countsMax);
  }
}
