// The jitter's terms of one vector's tolerance, from the components as they stand in its triangle.
import type { FilterProfile, Response, Scene } from "../scene/scene.ts";
import { derivativesBetween } from "./carriers.ts";
import type { Carrier } from "./carriers.ts";
import { responseAt } from "./channel-response.ts";
import type { ChannelTruth } from "./channel-truth.ts";
import type { Complex } from "./complex.ts";
import { distance, over, polar, times } from "./complex.ts";
import type { CycleGrid } from "./cycle-vectors.ts";
import { EdgeJitter, knotPlaces } from "./edge-jitter.ts";
import type { Turning } from "./edge-jitter.ts";
import type { Triangle } from "./error-bounds.ts";
import { keptShare, poleSums } from "./filter-response.ts";
import { randomFactor } from "./random-factor.ts";
import type { WheelTruth } from "./wheel-truth.ts";

const TWO_PI = 2 * Math.PI;
const JUST_BESIDE_S = 1e-9;
/** Beyond this angle an edge's error is not small any more: what follows from smallness is not used. */
const SMALL_RAD = 0.5;

export interface JitterOfVector {
  bound: number;
  /** As that of white noise: the poles keep their share of it. */
  variance: number;
  startVariance: number;
}

export class JitterTerms {
  readonly #channel: ChannelTruth;
  readonly #grid: CycleGrid;
  readonly #wheel: WheelTruth;
  readonly #knots: readonly number[];
  readonly #response: Response;
  readonly #integrations: number;
  readonly #areWeights: boolean;
  readonly #factor: number;
  #last: { components: Turning[]; stretch: Complex; jitter: EdgeJitter } | undefined;

  constructor(
    scene: Scene,
    filter: FilterProfile,
    channel: ChannelTruth,
    grid: CycleGrid,
    wheel: WheelTruth,
  ) {
    this.#channel = channel;
    this.#grid = grid;
    this.#wheel = wheel;
    const { profile, durationS } = scene;
    this.#knots = knotPlaces(profile.shafts[grid.shaft]!);
    const { response, quantity } = profile.channels[filter.channel]!;
    this.#response = response;
    this.#integrations = derivativesBetween(filter.quantity, quantity);
    this.#areWeights = filter.bandwidth.kind === "fixed";
    this.#factor = randomFactor(durationS, profile.displayPeriodS, profile.filters.length);
  }

  of(triangle: Triangle, h: number): JitterOfVector {
    const { cyclesPerS, middleS } = triangle;
    const components: Turning[] = [];
    let bound = 0;
    let apart = 0;
    for (const carrier of this.#channel.carriers) {
      const amplitude = { re: 0, im: 0 };
      carrier.amplitudeAt(middleS, amplitude);
      const size = Math.hypot(amplitude.re, amplitude.im);
      const change = this.#change(carrier, amplitude, triangle);
      const radians = TWO_PI * carrier.frequencyHzAt(middleS) * this.#wheel.jitterS;
      if (radians < SMALL_RAD) {
        if (size > 0) components.push(this.#turning(carrier, amplitude, triangle));
        apart += this.#uncancelled(change, radians);
        continue;
      }
      apart += this.#uncancelled(size + change, radians);
      // A mean over random phases: at most 1 − e^(−σ²/2), less where the quadratic averages.
      bound += (size + change) * (1 - Math.exp(-0.5 * radians * radians));
    }
    if (components.length === 0) return { bound, variance: apart, startVariance: apart };
    const jitter = this.#jitterOf(components, this.#stretchAt(this.#grid.order * cyclesPerS));
    const sigma = cyclesPerS * this.#wheel.jitterS;
    return {
      bound: bound + jitter.shift(sigma) + jitter.tail(sigma, h, this.#factor),
      variance: apart + jitter.variance(sigma, h) / keptShare(poleSums(h)),
      startVariance: apart + jitter.startVariance(sigma, h),
    };
  }

  /**
   * The variance as if the edges of a vector moved no other: of an amplitude that changes within a
   * triangle, the change does not cancel in the next ones. At most 4/3 as for noise, by knots.
   */
  #uncancelled(size: number, radians: number): number {
    return (4 * size * size * radians * radians) / (3 * this.#knots.length);
  }

  /** How far the amplitude goes from that in the middle of a triangle. */
  #change(carrier: Carrier, middle: Complex, { fromS, untilS }: Triangle): number {
    if (carrier.steadyUntil(fromS) >= untilS) return 0;
    let change = 0;
    const at = { re: 0, im: 0 };
    const jumps = carrier.jumpTimesS.filter((timeS) => timeS >= fromS && timeS <= untilS);
    const sides = jumps.flatMap((timeS) => [timeS - JUST_BESIDE_S, timeS + JUST_BESIDE_S]);
    for (const timeS of [fromS, untilS, ...sides]) {
      carrier.amplitudeAt(timeS, at);
      change = Math.max(change, distance(at, middle));
    }
    return change;
  }

  #turning(carrier: Carrier, amplitude: Complex, { cyclesPerS, middleS }: Triangle): Turning {
    const isOwn = carrier.tied?.shaft === this.#grid.shaft;
    const cycles = isOwn
      ? carrier.tied!.order * this.#grid.cycleRev
      : carrier.frequencyHzAt(middleS) / cyclesPerS;
    const turn = carrier.phaseRevAt(middleS);
    const phase = polar(1, TWO_PI * (turn - Math.round(turn)));
    return { amplitude: times(amplitude, phase), cycles };
  }

  /** The power of a cycle's length that a vector goes by: integrations, and the assumed response. */
  #stretchAt(hz: number): Complex {
    const step = 1e-5;
    const below = responseAt(this.#response, hz * (1 - step));
    const above = responseAt(this.#response, hz * (1 + step));
    const here = responseAt(this.#response, hz);
    const slope = over({ re: above.re - below.re, im: above.im - below.im }, here);
    return { re: this.#integrations + slope.re / (2 * step), im: slope.im / (2 * step) };
  }

  /** The sums of the triangle before, where nothing has changed. */
  #jitterOf(components: Turning[], stretch: Complex): EdgeJitter {
    const last = this.#last;
    const isSame =
      last !== undefined &&
      last.components.length === components.length &&
      distance(last.stretch, stretch) < 1e-9 &&
      last.components.every((one, i) => isAlike(one, components[i]!));
    if (isSame) return last.jitter;
    const jitter = new EdgeJitter(this.#knots, this.#grid.order, components, {
      stretch,
      areWeights: this.#areWeights,
    });
    this.#last = { components, stretch, jitter };
    return jitter;
  }
}

function isAlike(a: Turning, b: Turning): boolean {
  const share = 1e-9 * Math.hypot(a.amplitude.re, a.amplitude.im);
  return Math.abs(a.cycles - b.cycles) < 1e-9 && distance(a.amplitude, b.amplitude) <= share;
}
