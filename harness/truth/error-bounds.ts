// What may be wrong with one Z through no fault of the firmware: each term bounded for one vector
// in the channel's quantity. The filter's own poles, run on the bounds, give the tolerance of a
// level.
import { KNOTS_PER_REVOLUTION_MIN, SEGMENT_SAMPLES_MAX } from "../../shared/capacity.ts";
import type { Scene } from "../scene/scene.ts";
import type { Carrier } from "./carriers.ts";
import type { ChannelTruth } from "./channel-truth.ts";
import type { Complex } from "./complex.ts";
import type { CycleGrid } from "./cycle-vectors.ts";
import type { WheelTruth } from "./wheel-truth.ts";

const TWO_PI = 2 * Math.PI;
const F32_UNIT = 2 ** -24;

export const TERM_NAMES = [
  "edge clock",
  "wheel error",
  "torsional ripple",
  "corners of the speed",
  "edge jitter on the order itself",
  "ends between samples",
  "acceleration within a segment",
  "converter step",
  "bridged edges",
  "step between samples",
  "fault of the channel",
  "single precision",
] as const;

export const RANDOM_NAMES = ["white noise", "converter noise", "edge jitter"] as const;

/** What comes to the level itself, after the poles. */
export const LEVEL_TERM_NAMES = ["which revolution counts", "level as single precision"] as const;

/** One triangle: its times, the speed of its cycles in cycles/s, and its two cycles' numbers. */
export interface Triangle {
  fromS: number;
  middleS: number;
  untilS: number;
  cyclesPerS: number;
}

/**
 * Knots of the angle model in one cycle: every s-th position, at least 12 of them where there are.
 */
export function knotsPerCycle(positions: number): number {
  for (let s = positions; s >= 1; s -= 1) {
    if (positions % s === 0 && positions / s >= KNOTS_PER_REVOLUTION_MIN) return positions / s;
  }
  return positions;
}

export class ErrorBounds {
  /** Bounds by TERM_NAMES, and variances of re and im by RANDOM_NAMES, of the vector asked last. */
  readonly bounds = new Float64Array(TERM_NAMES.length);
  readonly variances = new Float64Array(RANDOM_NAMES.length);
  /** What corners of the speed turn the tracked order by, rad: in its phase, not in its length. */
  turnRad = 0;
  readonly #scene: Scene;
  readonly #channel: ChannelTruth;
  readonly #grid: CycleGrid;
  readonly #wheel: WheelTruth;
  readonly #knots: number;
  readonly #statedErrorRev: number;
  readonly #corners: { timeS: number; slopeChange: number }[];

  constructor(scene: Scene, channel: ChannelTruth, grid: CycleGrid, wheel: WheelTruth) {
    this.#scene = scene;
    this.#channel = channel;
    this.#grid = grid;
    this.#wheel = wheel;
    const profile = scene.profile.shafts[grid.shaft]!;
    this.#knots = knotsPerCycle(profile.positions);
    this.#statedErrorRev = profile.wheelErrorRev;
    this.#corners = grid.motion.corners();
  }

  /** Evaluates every term for one triangle. */
  take(triangle: Triangle): void {
    const { bounds } = this;
    bounds.fill(0);
    this.variances.fill(0);
    this.turnRad = 0;
    const { profile } = this.#scene;
    const { cyclesPerS, middleS } = triangle;
    const trackedHz = this.#grid.order * cyclesPerS;
    const at: Complex = { re: 0, im: 0 };
    let sum = 0;
    let own = 0;
    for (const carrier of this.#channel.carriers) {
      carrier.amplitudeAt(middleS, at);
      const size = Math.hypot(at.re, at.im);
      if (size === 0) continue;
      sum += size;
      const hz = Math.max(carrier.frequencyHzAt(middleS), trackedHz);
      const isOwn = Math.abs(carrier.frequencyHzAt(middleS) - trackedHz) < 1e-9 * trackedHz;
      if (isOwn) own += size;
      this.#addCarrier(carrier, size, hz, triangle);
    }
    if (this.#channel.constant !== undefined) {
      const radPerSample = (TWO_PI * trackedHz) / profile.sampleRateHz;
      this.#addJumps(this.#channel.constant, radPerSample, triangle);
    }
    this.#addFixed(triangle, sum, own);
    this.#addConverter(triangle);
    this.#addSpoilt(triangle);
    const noise = this.#channel.noiseRms * this.#channel.gainAt(middleS);
    // Σ of squared weights of a triangle over two cycles of N samples: 4σ²/(3N) for re and for im.
    this.variances[0] = (4 * noise * noise * cyclesPerS) / (3 * profile.sampleRateHz);
  }

  /** Everything that grows with a component: `hz` the faster of it and the tracked order. */
  #addCarrier(carrier: Carrier, size: number, hz: number, triangle: Triangle): void {
    const { clockHz, sampleRateHz } = this.#scene.profile;
    const { bounds, variances } = this;
    const { cyclesPerS } = triangle;
    bounds[0] = bounds[0]! + (2 * hz * size) / clockHz;
    this.#addWheel(carrier, size, hz, triangle);
    // Cycles of the component in one of the tracker: an angle error of e cycles is 2πe times that.
    const perCycle = hz / cyclesPerS;
    const perRev = perCycle / this.#grid.cycleRev;
    bounds[2] = bounds[2]! + 2 * size * TWO_PI * perRev * this.#rippleErrorRev();
    const corner = this.#cornerErrorRev(triangle);
    if (corner > 0) {
      const share = this.#bumpShare(carrier, triangle);
      if (this.#isTracked(carrier, triangle)) this.turnRad += TWO_PI * perRev * corner;
      bounds[3] = bounds[3]! + size * TWO_PI * perRev * corner * share;
    }
    const sigmaRad = TWO_PI * hz * this.#wheel.jitterS;
    // Interpolated between knots, independent from knot to knot: own derivation, 4/3 as for noise.
    variances[2] =
      variances[2]! + (4 * size * size * sigmaRad * sigmaRad) / (3 * Math.max(1, this.#knots));
    // The cubic's error is at most 0.0234·(2πf/fs)^4, weighted with at most 1/2, at four ends with
    // 2w² each (own derivation from the interpolation remainder).
    const w = cyclesPerS / sampleRateHz;
    const radPerSample = (TWO_PI * hz) / sampleRateHz;
    bounds[5] = bounds[5]! + size * 4 * 2 * w * w * 0.0117 * radPerSample ** 4;
    bounds[6] = bounds[6]! + size * this.#segmentError(hz, triangle);
    this.#addJumps(carrier, radPerSample, triangle);
    this.#addBridged(size, perRev, triangle);
    this.#addMisplaced(size, perRev, triangle);
  }

  /** An extra edge that is taken for the next one: a bump of two knot intervals, as a bad tooth. */
  #addMisplaced(size: number, perRev: number, triangle: Triangle): void {
    const knots = Math.max(1, this.#knots);
    const knotS = 1 / (triangle.cyclesPerS * knots);
    for (const { timeS, misplacedRev } of this.#wheel.extras) {
      if (misplacedRev === 0) continue;
      if (timeS < triangle.fromS - 2 * knotS || timeS > triangle.untilS + 2 * knotS) continue;
      const bump = Math.min(2, (2 * TWO_PI * perRev * misplacedRev * 1.25) / knots);
      this.bounds[1] = this.bounds[1]! + size * bump;
    }
  }

  /**
   * The real wheel: an eccentricity e leaks order j into its neighbours with πje; a bad tooth is a
   * bump of two knot intervals; an error that the profile states is taken as 2π·A·e (any pattern).
   */
  #addWheel(carrier: Carrier, size: number, hz: number, triangle: Triangle): void {
    const { wheel } = this.#scene.shafts[this.#grid.shaft]!;
    const perRev = hz / triangle.cyclesPerS / this.#grid.cycleRev;
    const eccentric = Math.abs(wheel.eccentricityRev);
    const trackedPerRev = this.#grid.order / this.#grid.cycleRev;
    const away =
      Math.abs(carrier.frequencyHzAt(triangle.middleS) / triangle.cyclesPerS) /
        this.#grid.cycleRev -
      trackedPerRev;
    const isFar = carrier.tied?.shaft === this.#grid.shaft && Math.abs(away) > 1.5;
    const radians = TWO_PI * perRev * eccentric;
    const isOwn = Math.abs(away) < 1e-9;
    // First order one order away, second order on the order itself and two away.
    let leak = isFar ? (radians * radians) / 4 : radians / 2 + (radians * radians) / 4;
    if (isOwn) leak = (radians * radians) / 2;
    const bad = Math.abs(wheel.badTooth?.offsetRev ?? 0);
    const bump = (2 * TWO_PI * perRev * bad * 1.25) / Math.max(1, this.#knots);
    const stated = TWO_PI * this.#statedErrorRev;
    this.bounds[1] = this.bounds[1]! + size * Math.max(leak + bump, stated);
  }

  /** What the quadratic through three knots misses of the ripple, revolutions pk. */
  #rippleErrorRev(): number {
    let error = 0;
    for (const { order, amplitudeRev } of this.#grid.motion.ripple) {
      const perKnot = (TWO_PI * order * this.#grid.cycleRev) / this.#knots;
      // |u(u−1)(u+1)| ≤ 0.385 within the interval, over 3!; never more than twice the ripple.
      error += Math.abs(amplitudeRev) * Math.min(2, (0.385 / 6) * perKnot ** 3);
    }
    return error;
  }

  /** A corner Δa is off by Δa/(29·P²n²) over about two knot intervals: signal-path.md, "Truth". */
  #cornerErrorRev(triangle: Triangle): number {
    let error = 0;
    const knotS = 1 / (triangle.cyclesPerS * this.#knots);
    for (const { timeS, slopeChange } of this.#corners) {
      if (timeS < triangle.fromS - 2 * knotS || timeS > triangle.untilS + 2 * knotS) continue;
      const peakRev = (slopeChange * knotS * knotS) / 29;
      error += peakRev * Math.min(1, 3 / this.#knots);
    }
    return error;
  }

  /**
   * How much of an error that is zero at every knot moves a component onto the tracked order: all
   * of it where they are less than half a turn a knot apart, else the Fourier coefficient of a
   * parabola between zeros, 2/(πm)² of its peak, m turns a knot.
   */
  #bumpShare(carrier: Carrier, triangle: Triangle): number {
    const order = carrier.frequencyHzAt(triangle.middleS) / triangle.cyclesPerS;
    const part = (away: number): number => {
      const m = away / this.#knots;
      return m < 0.5 ? 1 : 2 / (Math.PI * m) ** 2;
    };
    // The tracked order itself is turned; only its image, 2K away, moves its length.
    const isTracked = this.#isTracked(carrier, triangle);
    const direct = isTracked ? 0 : part(Math.abs(order - this.#grid.order));
    return direct + part(order + this.#grid.order);
  }

  #isTracked(carrier: Carrier, triangle: Triangle): boolean {
    const trackedHz = this.#grid.order * triangle.cyclesPerS;
    return Math.abs(carrier.frequencyHzAt(triangle.middleS) - trackedHz) < 0.01 * trackedHz;
  }

  /** The parabola within a segment is corrected to first order in its phase; this is the second. */
  #segmentError(hz: number, triangle: Triangle): number {
    const slope = Math.abs(this.#grid.motion.slopeAt(triangle.middleS)) / this.#grid.cycleRev;
    if (slope === 0) return 0;
    const halfS = (0.5 * SEGMENT_SAMPLES_MAX) / this.#scene.profile.sampleRateHz;
    const perCycle = hz / triangle.cyclesPerS;
    const phase = TWO_PI * perCycle * 0.5 * slope * Math.min(halfS, 0.5 / triangle.cyclesPerS) ** 2;
    return (2 / 3) * phase * (phase + slope * halfS * (1 / triangle.cyclesPerS));
  }

  /** A jump stands half-way between two samples: what is left is a second difference there. */
  #addJumps(carrier: Carrier, radPerSample: number, triangle: Triangle): void {
    const w = triangle.cyclesPerS / this.#scene.profile.sampleRateHz;
    const a: Complex = { re: 0, im: 0 };
    const b: Complex = { re: 0, im: 0 };
    for (const timeS of carrier.jumpTimesS) {
      if (timeS < triangle.fromS || timeS > triangle.untilS) continue;
      carrier.amplitudeAt(timeS - 1e-9, a);
      carrier.amplitudeAt(timeS + 1e-9, b);
      const jump = Math.hypot(b.re - a.re, b.im - a.im);
      this.bounds[9] = this.bounds[9]! + 2 * jump * w * radPerSample * (2 / 8);
    }
  }

  /** m pitches bridged under acceleration α: the angle is off by α(mT/P)²/8 (signal-path.md). */
  #addBridged(size: number, perRev: number, triangle: Triangle): void {
    for (const gap of this.#wheel.gaps) {
      if (gap.untilS < triangle.fromS || gap.fromS > triangle.untilS) continue;
      const slope = Math.abs(this.#grid.motion.slopeAt(gap.fromS));
      const lengthS = gap.untilS - gap.fromS;
      const errorRev = (slope * lengthS * lengthS) / 8;
      this.bounds[8] = this.bounds[8]! + size * TWO_PI * perRev * errorRev;
    }
  }

  #addFixed(triangle: Triangle, sum: number, own: number): void {
    const { sampleRateHz } = this.#scene.profile;
    const kSigma = TWO_PI * this.#grid.order * triangle.cyclesPerS * this.#wheel.jitterS;
    // A mean over random phases: at most 1 − e^(−σ²/2), less where the quadratic averages.
    this.bounds[4] = own * (1 - Math.exp(-0.5 * kSigma * kSigma));
    // Additions of a cycle: eight in a lane, the fold, and one for each segment and moment; each is
    // off by half a unit of a partial sum, which is at most the sum of amplitudes and the mean.
    const samples = sampleRateHz / triangle.cyclesPerS;
    const segments = Math.max(samples / SEGMENT_SAMPLES_MAX, this.#knots);
    const whole = sum + Math.abs(this.#channel.signal.mean);
    this.bounds[11] = 2 * F32_UNIT * whole * (Math.sqrt(segments) + 12);
  }

  #addConverter(triangle: Triangle): void {
    const { converter } = this.#channel.signal;
    if (converter.format !== "i16") return;
    const noise = this.#channel.noiseRms * this.#channel.gainAt(triangle.middleS);
    const { step } = converter;
    // Noise of half a step makes the rounding a noise of its own (signal-path.md).
    if (noise >= step / 2) {
      this.variances[1] =
        (4 * step * step * triangle.cyclesPerS) / (12 * 3 * this.#scene.profile.sampleRateHz);
    } else this.bounds[7] = (2 * step) / Math.PI;
  }

  #addSpoilt(triangle: Triangle): void {
    for (const window of this.#channel.spoilt) {
      if (window.untilS < triangle.fromS || window.fromS > triangle.untilS) continue;
      const holdsEnd =
        (window.fromS >= triangle.fromS && window.fromS <= triangle.untilS) ||
        (window.untilS >= triangle.fromS && window.untilS <= triangle.untilS);
      if (!window.isEdgeOnly || holdsEnd) this.bounds[10] = this.bounds[10]! + window.bound;
    }
  }
}
