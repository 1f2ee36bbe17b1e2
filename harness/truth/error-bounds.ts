// What may be wrong with one Z through no fault of the firmware: each term bounded for one vector
// in the channel's quantity. The filter's own poles, run on the bounds, give the tolerance of a
// level.
import { SEGMENT_SAMPLES_MAX } from "../../shared/capacity.ts";
import type { FilterProfile, Scene } from "../scene/scene.ts";
import type { Carrier } from "./carriers.ts";
import type { ChannelTruth } from "./channel-truth.ts";
import type { Complex } from "./complex.ts";
import type { CycleGrid } from "./cycle-vectors.ts";
import { knotsPerCycle } from "./edge-jitter.ts";
import { JitterTerms } from "./jitter-terms.ts";
import type { WheelTruth } from "./wheel-truth.ts";

const TWO_PI = 2 * Math.PI;
const F32_UNIT = 2 ** -24;
/** Below its root a square is no f32 any more: a modulus under it reads 0. */
const F32_UNDERFLOW_PK = 1e-18;
const JUST_BESIDE_S = 1e-9;

export const TERM_NAMES = [
  "edge clock",
  "wheel error",
  "torsional ripple",
  "corners of the speed",
  "edge jitter to second order",
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

export class ErrorBounds {
  /** Bounds by TERM_NAMES, and variances of re and im by RANDOM_NAMES, of the vector asked last. */
  readonly bounds = new Float64Array(TERM_NAMES.length);
  readonly variances = new Float64Array(RANDOM_NAMES.length);
  /** The same variances of a vector that stands alone, as the first does. */
  readonly startVariances = new Float64Array(RANDOM_NAMES.length);
  /** What corners of the speed turn the tracked order by, rad: in its phase, not in its length. */
  turnRad = 0;
  readonly #scene: Scene;
  readonly #channel: ChannelTruth;
  readonly #grid: CycleGrid;
  readonly #wheel: WheelTruth;
  readonly #knots: number;
  readonly #statedErrorRev: number;
  readonly #at: Complex = { re: 0, im: 0 };
  readonly #corners: { timeS: number; slopeChange: number }[];
  readonly #jitter: JitterTerms;

  constructor(
    scene: Scene,
    filter: FilterProfile,
    channel: ChannelTruth,
    grid: CycleGrid,
    wheel: WheelTruth,
  ) {
    this.#scene = scene;
    this.#channel = channel;
    this.#grid = grid;
    this.#wheel = wheel;
    const profile = scene.profile.shafts[grid.shaft]!;
    this.#knots = knotsPerCycle(profile.positions);
    this.#statedErrorRev = profile.wheelErrorRev;
    this.#corners = grid.motion.corners();
    this.#jitter = new JitterTerms(scene, filter, channel, grid, wheel);
  }

  /** Evaluates every term for one triangle, whose vector moves the poles by h = T/τ. */
  take(triangle: Triangle, h: number): void {
    const { bounds } = this;
    bounds.fill(0);
    this.variances.fill(0);
    this.turnRad = 0;
    const { profile } = this.#scene;
    const { cyclesPerS, middleS } = triangle;
    const trackedHz = this.#grid.order * cyclesPerS;
    let sum = 0;
    for (const carrier of this.#channel.carriers) {
      const size = this.#greatest(carrier, triangle);
      if (size === 0) continue;
      sum += size;
      const hz = Math.max(carrier.frequencyHzAt(middleS), trackedHz);
      this.#addCarrier(carrier, size, hz, triangle);
    }
    if (this.#channel.constant !== undefined) {
      const radPerSample = (TWO_PI * trackedHz) / profile.sampleRateHz;
      this.#addJumps(this.#channel.constant, radPerSample, triangle);
    }
    sum += this.#addConstant(trackedHz, triangle);
    this.#addFixed(triangle, sum);
    this.#addConverter(triangle);
    this.#addSpoilt(triangle);
    const noise = this.#channel.noiseRms * this.#channel.gainAt(middleS);
    // Σ of squared weights of a triangle over two cycles of N samples: 4σ²/(3N) for re and for im.
    this.variances[0] = (4 * noise * noise * cyclesPerS) / (3 * profile.sampleRateHz);
    this.startVariances.set(this.variances);
    if (this.#wheel.jitterS === 0) return;
    const jitter = this.#jitter.of(triangle, h);
    bounds[4] = jitter.bound;
    this.variances[2] = jitter.variance;
    this.startVariances[2] = jitter.startVariance;
  }

  /** The greatest amplitude within a triangle: one that begins or ends in it counts whole. */
  #greatest(carrier: Carrier, triangle: Triangle): number {
    const at = this.#at;
    carrier.amplitudeAt(triangle.middleS, at);
    let size = Math.hypot(at.re, at.im);
    if (carrier.steadyUntil(triangle.fromS) >= triangle.untilS) return size;
    const take = (timeS: number): void => {
      carrier.amplitudeAt(timeS, at);
      size = Math.max(size, Math.hypot(at.re, at.im));
    };
    take(triangle.fromS);
    take(triangle.untilS);
    for (const timeS of carrier.jumpTimesS) {
      if (timeS < triangle.fromS || timeS > triangle.untilS) continue;
      take(timeS - JUST_BESIDE_S);
      take(timeS + JUST_BESIDE_S);
    }
    return size;
  }

  /** A constant (a mean, a line that stands still) against the tracked order: its size. */
  #addConstant(trackedHz: number, triangle: Triangle): number {
    const { signal } = this.#channel;
    let size = Math.abs(signal.mean);
    for (const fault of signal.faults) {
      if (fault.kind === "flat" || fault.kind === "bias") {
        size = Math.max(size, Math.abs(fault.value));
      }
    }
    if (size === 0) return 0;
    const { bounds } = this;
    bounds[5] = bounds[5]! + size * this.#endError(0, triangle);
    bounds[6] = bounds[6]! + size * this.#segmentError(trackedHz, triangle);
    return size;
  }

  /**
   * What the four samples about an end leave of a component of this frequency. The end correction
   * is exact for a cubic and leaves (11/720)·g‴ of the product g = u·x·e^(−jωt) of the triangle's
   * straight side u and a component turned by the tracked order: g‴ = 3·u′·g″, on both sides of
   * four ends (two of them in the middle, one), w a sample. The real component turns either way.
   *
   * Source    Euler-Maclaurin with differences in place of derivatives (Gregory); own derivation
   */
  #endError(hz: number, triangle: Triangle): number {
    const { sampleRateHz } = this.#scene.profile;
    const w = triangle.cyclesPerS / sampleRateHz;
    const turn = TWO_PI / sampleRateHz;
    const trackedHz = this.#grid.order * triangle.cyclesPerS;
    const turns = (turn * (hz + trackedHz)) ** 2 + (turn * (hz - trackedHz)) ** 2;
    return ((4 * 2 * 3 * 11) / 720) * w * w * 0.5 * turns;
  }

  /** Everything that grows with a component: `hz` the faster of it and the tracked order. */
  #addCarrier(carrier: Carrier, size: number, hz: number, triangle: Triangle): void {
    const { clockHz, sampleRateHz } = this.#scene.profile;
    const { bounds } = this;
    const { cyclesPerS } = triangle;
    bounds[0] = bounds[0]! + (2 * hz * size) / clockHz;
    this.#addWheel(carrier, size, hz, triangle);
    // Cycles of the component in one of the tracker: an angle error of e cycles is 2πe times that.
    const perCycle = hz / cyclesPerS;
    const perRev = perCycle / this.#grid.cycleRev;
    bounds[2] = bounds[2]! + 2 * size * TWO_PI * perRev * this.#rippleErrorRev();
    const corner = this.#cornerErrorRev(triangle);
    if (corner > 0) {
      const isSteady = this.#isTracked(carrier, triangle) && !this.#jumpsIn(carrier, triangle);
      const share = this.#bumpShare(carrier, triangle, isSteady);
      const bend = TWO_PI * perRev * corner;
      if (isSteady) this.turnRad += bend;
      // The bump as it stands, before it is spread over the cycle, to second order.
      const peak = bend * Math.max(1, this.#knots / 3);
      bounds[3] = bounds[3]! + size * Math.min(2, bend * share + 0.5 * bend * peak);
    }
    const radPerSample = (TWO_PI * hz) / sampleRateHz;
    const ownHz = Math.abs(carrier.frequencyHzAt(triangle.middleS));
    bounds[5] = bounds[5]! + size * this.#endError(ownHz, triangle);
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
  #bumpShare(carrier: Carrier, triangle: Triangle, isSteady: boolean): number {
    const order = carrier.frequencyHzAt(triangle.middleS) / triangle.cyclesPerS;
    const part = (away: number): number => {
      const m = away / this.#knots;
      return m < 0.5 ? 1 : 2 / (Math.PI * m) ** 2;
    };
    // The tracked order itself is turned; only its image, 2K away, moves its length.
    const direct = isSteady ? 0 : part(Math.abs(order - this.#grid.order));
    return direct + part(order + this.#grid.order);
  }

  #isTracked(carrier: Carrier, triangle: Triangle): boolean {
    const trackedHz = this.#grid.order * triangle.cyclesPerS;
    return Math.abs(carrier.frequencyHzAt(triangle.middleS) - trackedHz) < 0.01 * trackedHz;
  }

  /** Whether the amplitude jumps within a triangle: then the order is not merely turned. */
  #jumpsIn(carrier: Carrier, triangle: Triangle): boolean {
    return carrier.jumpTimesS.some((s) => s >= triangle.fromS && s <= triangle.untilS);
  }

  /**
   * The parabola within a segment is corrected to first order in its phase, by the segment's first
   * two moments; this is the second order, and of the first what is of third degree in the distance
   * from the segment's middle: |d³ − 0.6·d| ≤ 0.4 of half a segment cubed, 0.1 in the mean of
   * squares (own derivation).
   */
  #segmentError(hz: number, triangle: Triangle): number {
    const slope = Math.abs(this.#grid.motion.slopeAt(triangle.middleS)) / this.#grid.cycleRev;
    if (slope === 0) return 0;
    const halfS = (0.5 * SEGMENT_SAMPLES_MAX) / this.#scene.profile.sampleRateHz;
    const perCycle = hz / triangle.cyclesPerS;
    const phase = TWO_PI * perCycle * 0.5 * slope * Math.min(halfS, 0.5 / triangle.cyclesPerS) ** 2;
    const half = Math.min(0.5, halfS * triangle.cyclesPerS);
    const second = (2 / 3) * phase * (phase + slope * halfS * (1 / triangle.cyclesPerS));
    return second + 2 * phase * half * 0.1;
  }

  /** A jump stands half-way between two samples: what is left is a second difference there. */
  #addJumps(carrier: Carrier, radPerSample: number, triangle: Triangle): void {
    const { sampleRateHz } = this.#scene.profile;
    const w = triangle.cyclesPerS / sampleRateHz;
    const a = this.#at;
    const b: Complex = { re: 0, im: 0 };
    // An end takes two samples on either side of it.
    const nearS = 3 / sampleRateHz;
    for (const timeS of carrier.jumpTimesS) {
      if (timeS < triangle.fromS - nearS || timeS > triangle.untilS + nearS) continue;
      carrier.amplitudeAt(timeS - JUST_BESIDE_S, a);
      carrier.amplitudeAt(timeS + JUST_BESIDE_S, b);
      const jump = Math.hypot(b.re - a.re, b.im - a.im);
      this.bounds[9] = this.bounds[9]! + 2 * jump * w * radPerSample * (2 / 8) + 4 * w * w * jump;
    }
  }

  /** m pitches bridged under acceleration α: the angle is off by α(mT/P)²/8 (signal-path.md). */
  #addBridged(size: number, perRev: number, triangle: Triangle): void {
    for (const gap of this.#wheel.gaps) {
      if (gap.untilS < triangle.fromS || gap.fromS > triangle.untilS) continue;
      const slope = this.#greatestSlope(gap.fromS, gap.untilS);
      const lengthS = gap.untilS - gap.fromS;
      const errorRev = (slope * lengthS * lengthS) / 8;
      this.bounds[8] = this.bounds[8]! + size * TWO_PI * perRev * errorRev;
    }
  }

  /** The steepest change of speed between two times: a corner may lie in between. */
  #greatestSlope(fromS: number, untilS: number): number {
    const { motion } = this.#grid;
    let slope = Math.abs(motion.slopeAt(fromS));
    for (const { timeS } of this.#corners) {
      if (timeS > fromS && timeS < untilS) slope = Math.max(slope, Math.abs(motion.slopeAt(timeS)));
    }
    return slope;
  }

  #addFixed(triangle: Triangle, sum: number): void {
    const { sampleRateHz } = this.#scene.profile;
    // Additions of a cycle: eight in a lane, the fold, and one for each segment and moment; each is
    // off by half a unit of a partial sum, which is at most the sum of amplitudes and the mean.
    const samples = sampleRateHz / triangle.cyclesPerS;
    const segments = Math.max(samples / SEGMENT_SAMPLES_MAX, this.#knots);
    this.bounds[11] = 2 * F32_UNIT * sum * (Math.sqrt(segments) + 12) + F32_UNDERFLOW_PK;
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
