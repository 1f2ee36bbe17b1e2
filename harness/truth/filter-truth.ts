// One tracking filter: revolution by revolution from its acquisition on, lazily up to each display
// step, the vector and the bounds of its errors through the same poles.
import type { FilterProfile, Scene } from "../scene/scene.ts";
import { derivativesBetween } from "./carriers.ts";
import { responseAt } from "./channel-response.ts";
import type { ChannelTruth } from "./channel-truth.ts";
import type { Complex } from "./complex.ts";
import { CycleVectors, boundaryTimeS } from "./cycle-vectors.ts";
import type { CycleGrid } from "./cycle-vectors.ts";
import { ErrorBounds, RANDOM_NAMES, TERM_NAMES } from "./error-bounds.ts";
import type { FilterState } from "./filter-state.ts";
import { PoleSums, proportionalPole, speedShare, timeConstantS } from "./filter-response.ts";
import { integrationOf, sumOf } from "./integration-distance.ts";
import type { ModulusBefore } from "./integration-distance.ts";
import { TwoPoles, secondsOf } from "./two-poles.ts";
import type { WheelTruth } from "./wheel-truth.ts";

const TWO_PI = 2 * Math.PI;
/** Below this modulus a response is not divided by: the level is refused. */
export const RESPONSE_LEAST = 0.5;

export class FilterTruth {
  readonly #filter: FilterProfile;
  readonly #scene: Scene;
  readonly #channel: ChannelTruth;
  readonly #wheel: WheelTruth;
  readonly #integrations: number;
  readonly #shaftPerCycle: number;
  #grid: CycleGrid;
  #vectors: CycleVectors;
  #errors: ErrorBounds;
  readonly #re = new TwoPoles();
  readonly #im = new TwoPoles();
  readonly #speed = new TwoPoles();
  readonly #start = new TwoPoles();
  readonly #turn = new TwoPoles();
  readonly #bounds = TERM_NAMES.map(() => new TwoPoles());
  readonly #variances = RANDOM_NAMES.map(() => new TwoPoles());
  readonly #startVariances = RANDOM_NAMES.map(() => 0);
  /** Boundary and time of the newest closed revolution, and of the two before. */
  #closing = 0;
  #timesS: [number, number, number] = [0, 0, 0];
  #state: FilterState | undefined;
  #before: FilterState | undefined;
  #settledAfterS = Infinity;
  #settledRevolution = Infinity;
  #errorsHoldUntilS = -Infinity;
  #scale = 1;
  #isComputed = false;
  #responseNow = 1;
  #firstBoundary = 0;
  #beganAt = 0;
  readonly #sums = new PoleSums();
  /** Modulus before the newest vector; undefined: there was none. */
  #modulusBefore: ModulusBefore | undefined;
  readonly #z: Complex = { re: 0, im: 0 };

  constructor(scene: Scene, filter: FilterProfile, channel: ChannelTruth, wheel: WheelTruth) {
    this.#scene = scene;
    this.#filter = filter;
    this.#channel = channel;
    this.#wheel = wheel;
    const { quantity } = scene.profile.channels[filter.channel]!;
    this.#integrations = derivativesBetween(filter.quantity, quantity);
    this.#shaftPerCycle = scene.profile.shafts[filter.shaft]!.revolutions;
    this.#grid = {
      shaft: filter.shaft,
      motion: wheel.motion,
      cycleRev: wheel.cycleRev,
      offsetRev: 0,
      order: filter.order * this.#shaftPerCycle,
    };
    this.#vectors = new CycleVectors(this.#grid, channel.everything);
    this.#errors = this.#newErrors();
  }

  #newErrors(): ErrorBounds {
    return new ErrorBounds(this.#scene, this.#filter, this.#channel, this.#grid, this.#wheel);
  }

  get isRunning(): boolean {
    return this.#state !== undefined;
  }

  get state(): FilterState | undefined {
    return this.#state;
  }

  /** The revolution before the newest one. */
  get before(): FilterState | undefined {
    return this.#before;
  }

  /** When the filter counts as settled after this acquisition. */
  get settledAfterS(): number {
    return this.#settledAfterS;
  }

  /** Boundary at which the first revolution of this acquisition began. */
  get firstBoundary(): number {
    return this.#firstBoundary;
  }

  /** Boundary that closed the first vector of the poles. */
  get beganAt(): number {
    return this.#beganAt;
  }

  /** Where a time lies among the boundaries, which are whole numbers. */
  placeAt(timeS: number): number {
    return (this.#grid.motion.angleAt(timeS) - this.#grid.offsetRev) / this.#grid.cycleRev;
  }

  /** Modulus of the assumed response at the newest revolution's frequency. */
  get responseNow(): number {
    return this.#responseNow;
  }

  stop(): void {
    this.#state = undefined;
    this.#before = undefined;
  }

  boundaryS(c: number): number {
    return boundaryTimeS(this.#grid, c);
  }

  /** Where boundaries lie, once a record has told where one does. */
  place(offsetRev: number): void {
    if (offsetRev === this.#grid.offsetRev) return;
    this.#grid = { ...this.#grid, offsetRev };
    this.#vectors = new CycleVectors(this.#grid, this.#channel.everything);
    this.#errors = this.#newErrors();
  }

  /**
   * Starts the recursion: boundary c0 began the first revolution; its first vector closes at c0 +
   * 2.
   */
  start(c0: number): void {
    this.#timesS = [this.boundaryS(c0), this.boundaryS(c0 + 1), this.boundaryS(c0 + 2)];
    this.#firstBoundary = c0;
    this.#closing = c0 + 2;
    this.#errorsHoldUntilS = -Infinity;
    this.#isComputed = false;
    this.#before = undefined;
    this.#process();
  }

  /** The poles begin with the first vector that is accepted. */
  #begin(speedNow: number, h: number): void {
    this.#isComputed = true;
    this.#beganAt = this.#closing;
    this.#re.start(this.#z.re);
    this.#im.start(this.#z.im);
    this.#speed.start(speedNow);
    this.#start.start(1);
    this.#turn.start(this.#errors.turnRad);
    this.#bounds.forEach((pole, i) => pole.start(this.#errors.bounds[i]! * this.#scale));
    this.#variances.forEach((pole, i) => {
      pole.start(this.#errors.variances[i]! * this.#scale ** 2);
      this.#startVariances[i] = this.#errors.startVariances[i]! * this.#scale ** 2;
    });
    const { bandwidth } = this.#filter;
    const isFixed = bandwidth.kind === "fixed";
    this.#settledAfterS = isFixed
      ? this.#timesS[2] + 6.64 * timeConstantS(bandwidth.fullWidthHz)
      : Infinity;
    this.#settledRevolution = isFixed ? Infinity : this.#closing + Math.ceil(6.64 / h);
  }

  /** The newest triangle into the poles. */
  #process(): void {
    const speedNow = this.#take();
    const h = this.#pole(this.#timesS[2] - this.#timesS[1]);
    this.#noteModulus();
    if (this.#responseNow < RESPONSE_LEAST) this.#isComputed = false;
    else if (this.#isComputed) this.#run(speedNow, h, 1);
    else this.#begin(speedNow, h);
    if (this.#closing === this.#settledRevolution) this.#settledAfterS = this.#timesS[2];
    this.#publish(speedNow, h);
  }

  /** Where the level is integrated, the next modulus is held against this one. */
  #noteModulus(): void {
    this.#modulusBefore = undefined;
    if (!this.#isComputed || this.#integrations === 0) return;
    this.#modulusBefore = {
      modulus: Math.hypot(this.#re.second, this.#im.second),
      bound: sumOf(this.boundsNow()),
      variance: sumOf(this.variancesNow()),
    };
  }

  #pole(durationS: number): number {
    const { bandwidth } = this.#filter;
    return bandwidth.kind === "fixed"
      ? durationS / timeConstantS(bandwidth.fullWidthHz)
      : proportionalPole(bandwidth.fullWidthRatio) * this.#shaftPerCycle;
  }

  /** Counts every revolution that closes before a time. */
  advance(limitS: number): void {
    if (this.#state === undefined) return;
    for (;;) {
      if (this.#jump(limitS)) continue;
      const nextS = this.boundaryS(this.#closing + 1);
      if (!(this.countedS(nextS) < limitS)) return;
      this.#step(nextS);
    }
  }

  /** When a boundary counts: with its edge, or with the next one where that edge did not come. */
  countedS(timeS: number): number {
    for (const gap of this.#wheel.gaps) {
      if (timeS > gap.fromS + 1e-9 && timeS < gap.untilS) return gap.untilS;
    }
    return timeS;
  }

  /** Time of the next boundary, whether or not it has counted. */
  get nextS(): number {
    return this.boundaryS(this.#closing + 1);
  }

  #step(nextS: number): void {
    this.#closing += 1;
    this.#timesS = [this.#timesS[1], this.#timesS[2], nextS];
    this.#before = this.#state;
    this.#process();
  }

  /** Many revolutions in one go while nothing changes; the last one is left to an ordinary step. */
  #jump(limitS: number): boolean {
    const { motion, offsetRev, cycleRev } = this.#grid;
    const [, fromS, closingS] = this.#timesS;
    if (this.#vectors.constantUntilS < closingS || motion.hasRipple) return false;
    if (motion.slopeAt(fromS) !== 0 || motion.cornerAfter(fromS) <= closingS) return false;
    if (this.#errorsHoldUntilS < closingS) return false;
    const untilS = Math.min(
      limitS,
      this.#vectors.constantUntilS,
      motion.cornerAfter(fromS),
      this.#errorsHoldUntilS,
    );
    const last = Math.floor((motion.angleAt(untilS) - offsetRev) / cycleRev) - 2;
    const count = Math.min(last, this.#settledRevolution - 1) - this.#closing;
    if (count < 2) return false;
    const speedNow = this.#state!.speedNow;
    const { h } = this.#state!;
    if (this.#isComputed) {
      this.#run(speedNow, h, count - 1);
      this.#noteModulus();
      this.#run(speedNow, h, 1);
    }
    this.#closing += count;
    this.#timesS = [
      this.boundaryS(this.#closing - 2),
      this.boundaryS(this.#closing - 1),
      this.boundaryS(this.#closing),
    ];
    this.#before = undefined;
    this.#publish(speedNow, h);
    return true;
  }

  #run(speedNow: number, h: number, count: number): void {
    const total = h * count;
    const decay = Math.exp(-total);
    this.#re.hold(this.#z.re, decay, total);
    this.#im.hold(this.#z.im, decay, total);
    this.#speed.hold(speedNow, decay, total);
    this.#start.hold(0, decay, total);
    this.#turn.hold(this.#errors.turnRad, decay, total);
    const { bounds, variances } = this.#errors;
    for (let i = 0; i < this.#bounds.length; i += 1) {
      this.#bounds[i]!.hold(bounds[i]! * this.#scale, decay, total);
    }
    for (let i = 0; i < this.#variances.length; i += 1) {
      this.#variances[i]!.hold(variances[i]! * this.#scale ** 2, decay, total);
    }
  }

  #publish(speedNow: number, h: number): void {
    const modulus = Math.hypot(this.#re.second, this.#im.second);
    const before = this.#modulusBefore;
    const { order } = this.#grid;
    this.#state = {
      closing: this.#closing,
      closingS: this.#timesS[2],
      re: this.#re.second,
      im: this.#im.second,
      speed: this.#speed.second,
      speedNow,
      h,
      isComputed: this.#isComputed,
      integration: integrationOf(this.#integrations, order, this.#timesS, modulus, before),
    };
  }

  /** Vector, bounds and speed of the triangle that has just closed; answers the speed, rev/s. */
  #take(): number {
    const [fromS, middleS, untilS] = this.#timesS;
    const a = middleS - fromS;
    const b = untilS - middleS;
    // The speed in the middle of the quadratic through three boundaries.
    const cyclesPerS = (b / a + a / b) / (a + b);
    this.#vectors.vector(this.#closing - 1, fromS, middleS, untilS, this.#z);
    if (untilS > this.#errorsHoldUntilS) {
      this.#errors.take({ fromS, middleS, untilS, cyclesPerS }, this.#pole(b));
      this.#errorsHoldUntilS = this.#errorsHold(fromS, untilS);
    }
    const trackedHz = this.#grid.order * cyclesPerS;
    const { response } = this.#scene.profile.channels[this.#filter.channel]!;
    const h = responseAt(response, trackedHz);
    const size = Math.hypot(h.re, h.im);
    this.#responseNow = size;
    const w = TWO_PI * trackedHz;
    this.#scale = 1 / (Math.max(size, 1e-12) * w ** this.#integrations);
    let { re, im } = this.#z;
    const { re: wasRe, im: wasIm } = this.#z;
    const power = Math.max(size * size, 1e-24);
    re = (wasRe * h.re + wasIm * h.im) / power;
    im = (wasIm * h.re - wasRe * h.im) / power;
    for (let i = 0; i < this.#integrations; i += 1) {
      // ÷ jw
      const was = re;
      re = im / w;
      im = -was / w;
    }
    this.#z.re = re;
    this.#z.im = im;
    return cyclesPerS * this.#shaftPerCycle;
  }

  /** Until when the bounds are those just taken: while speed and amplitudes stand still. */
  #errorsHold(fromS: number, untilS: number): number {
    const { motion } = this.#grid;
    if (motion.slopeAt(fromS) !== 0) return untilS;
    const knotS = 3 * (untilS - fromS);
    let until = Infinity;
    const limit = (timeS: number): void => {
      if (timeS > fromS - knotS) until = Math.min(until, timeS - knotS);
    };
    limit(motion.cornerAfter(fromS - knotS));
    for (const carrier of this.#channel.everything) {
      until = Math.min(until, carrier.steadyUntil(fromS));
      for (const timeS of carrier.jumpTimesS) limit(timeS);
    }
    for (const window of this.#channel.spoilt) {
      limit(window.fromS);
      limit(window.untilS);
    }
    for (const gap of this.#wheel.gaps) {
      limit(gap.fromS);
      limit(gap.untilS);
    }
    // A misplaced edge is felt for two knot intervals either side: two cycles at most.
    for (const { timeS, misplacedRev } of this.#wheel.extras) {
      if (misplacedRev === 0) continue;
      limit(timeS - (untilS - fromS));
      limit(timeS + (untilS - fromS));
    }
    return Math.max(until, untilS);
  }

  /** Bounds now, SI pk at the filter, by TERM_NAMES; what the f32 poles add is in the last. */
  boundsNow(): number[] {
    const bounds = secondsOf(this.#bounds);
    const { re, im, h } = this.#state!;
    const last = bounds.length - 1;
    // Each update rounds by half a unit and is forgotten with h: twice, for two poles.
    bounds[last] = bounds[last]! + (2 * 2 ** -24 * Math.hypot(re, im)) / Math.min(h, 1);
    return bounds;
  }

  /** Variances of re and of im now, by RANDOM_NAMES. */
  variancesNow(): number[] {
    const kept = this.#sums.keptOf(this.#state!.h);
    const startShare = 1.5 * this.#start.second ** 2;
    const variances = secondsOf(this.#variances);
    for (let i = 0; i < variances.length; i += 1) {
      variances[i] = variances[i]! * kept + this.#startVariances[i]! * startShare;
    }
    return variances;
  }

  /** What the angle model may turn the vector by, rad. */
  get turnRad(): number {
    return this.#turn.second;
  }

  /** σ of the filtered speed over σ of one revolution's. */
  speedShare(change: number): number {
    return speedShare(this.#sums.of(this.#state!.h), this.#start.second, change);
  }
}
