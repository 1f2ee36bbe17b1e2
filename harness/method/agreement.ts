// A method held against the firmware, step by step, within a bound that is computed.
import type { BoxSignal, VectorSeries } from "./box-signal.ts";
import type { MethodRun, ShortestBlocks } from "./method-plans.ts";
import { type DeviceVector, deviceVectors } from "./device-vector.ts";
import { quantityFactor } from "./measured-quantity.ts";
import type { ShaftAngle } from "./shaft-angle.ts";
import { lagged, type LaggedVector, stepped } from "./two-pole-lag.ts";
import { inQuantity, tauOf, type TrackedOrder } from "./vector-reading.ts";
import { windowContent } from "./why-not.ts";
import { zeroTurns } from "./zero-turn.ts";

/** One display step of the firmware, settled. */
export interface FirmwareStep {
  timeS: number;
  /** Of the revolution's closing edge, samples. */
  closedAt: number;
  /** In the quantity asked for, SI pk. */
  re: number;
  im: number;
  speedRevPerS: number;
  /** Its phase counts from the edge that closed its cycle, not from an index. */
  isPhaseRelative: boolean;
}

export interface ComparedStep {
  /** The method's vector at this time, without lag; absent where it has none. */
  now?: { re: number; im: number };
  /** After the firmware's lag. */
  expected?: LaggedVector;
  difference: number;
  bound: number;
  terms: { name: string; value: number }[];
  /** Absent where the step was compared. */
  why?: string;
}

/**
 * The firmware's own stated accuracy (README): of reading in a dwell, in a ramp, and over 10
 * rev/s²; and of companions, which are ten times as large where 0.02 % is stated.
 */
const STATED_IN_DWELL = 2e-4;
const STATED_IN_RAMP = 5e-4;
const STATED_IN_FAST_RAMP = 1e-3;
const STATED_OF_COMPANY = 2e-5;
/** Accelerations, rev/s², above which a shaft is in a ramp, and in a fast one. */
const RAMP_LEAST = 0.05;
const FAST_RAMP_LEAST = 10;
/** Share of the level beyond which a bound says nothing any more. */
const BOUND_SHARE_MAX = 0.02;
/** A level under this share of the greatest is held against this share of it. */
const LEVEL_SHARE_LEAST = 0.02;

/**
 * What a triangle, held for a revolution and taken into two poles, leaves beside the shortest
 * blocks joined by straight lines: at most T²/19 of the second derivative, whatever turns beside
 * the order by up to 0.35 of an order, with time constants of two revolutions and more (own
 * computation of both frequency responses, repeated by a test).
 */
const ONCE_A_REVOLUTION = 1 / 19;
/** What the steps of one run of edges are compared by. */
export class RunComparison {
  readonly #signal: BoxSignal;
  readonly #angle: ShaftAngle;
  readonly #tracked: TrackedOrder;
  readonly #steps: readonly FirmwareStep[];
  /** Times of the closing edges. */
  readonly #times: number[];
  readonly #shortest: VectorSeries;
  readonly #shortLagged: (LaggedVector | undefined)[];
  readonly #otherLagged: (LaggedVector | undefined)[];
  readonly #device: (DeviceVector | undefined)[];
  readonly #peak: number;
  readonly #greatest: number;
  /** Of each step: the turn between the firmware's zero and this angle's. */
  readonly #turns: { re: number; im: number }[];

  /** What is left of the firmware's own start anew at each step. */
  readonly #restartShares: readonly number[];
  /** Of the whole run, whether a step was settled there or not. */
  readonly #greatestVector: number;

  constructor(
    signal: BoxSignal,
    angle: ShaftAngle,
    tracked: TrackedOrder,
    { sharp, other }: ShortestBlocks,
    steps: readonly FirmwareStep[],
  ) {
    this.#signal = signal;
    this.#angle = angle;
    this.#tracked = tracked;
    this.#steps = steps;
    this.#times = steps.map(({ closedAt }) => closedAt);
    this.#shortest = inQuantity(sharp, signal, angle, tracked);
    const tau = tauOf(signal, angle, tracked);
    const cycle = signal.wheel.revolutions;
    const otherwise = inQuantity(other, signal, angle, tracked);
    const shortLagged = lagged(held(this.#shortest, angle, cycle), tau, this.#times);
    this.#turns = zeroTurns(signal, angle, tracked.order, steps, shortLagged);
    this.#shortLagged = shortLagged.map((one, i) => one && this.turned(i, one));
    this.#otherLagged = lagged(stepped(otherwise), tau, this.#times).map(
      (one, i) => one && this.turned(i, one),
    );
    this.#restartShares = restartShares(steps, signal, tau);
    this.#greatestVector = this.#shortest.re.reduce(
      (most, re, i) => Math.max(most, Math.hypot(re, this.#shortest.im[i]!)),
      0,
    );
    this.#device = deviceVectors(signal, angle, tracked, this.#times).map(
      (one, i) => one && this.turned(i, one),
    );
    this.#peak = Math.SQRT2 * rmsOf(signal, angle);
    this.#greatest = steps.reduce((most, { re, im }) => Math.max(most, Math.hypot(re, im)), 0);
  }

  /** A method's vector at a step, from its own zero of the angle to the firmware's. */
  turned<T extends { re: number; im: number }>(step: number, vector: T): T {
    const { re, im } = this.#turns[step]!;
    return {
      ...vector,
      re: vector.re * re - vector.im * im,
      im: vector.re * im + vector.im * re,
    };
  }

  /** Every step against one method. */
  compare({ series, span, method }: MethodRun): ComparedStep[] {
    const tau = tauOf(this.#signal, this.#angle, this.#tracked);
    const cycle = this.#signal.wheel.revolutions;
    const compared = this.#steps.map((): ComparedStep => ({
      difference: 0,
      bound: 0,
      terms: [],
      why:
        method === "windowed spectrum"
          ? "the order's line moves through the bins of one block, or a block does not fit"
          : "one of its windows does not fit into what came since the edges began, or is left",
    }));
    for (const part of series) {
      const own = inQuantity(part, this.#signal, this.#angle, this.#tracked);
      for (const [i, expected] of lagged(
        held(own, this.#angle, cycle),
        tau,
        this.#times,
      ).entries()) {
        if (expected !== undefined) compared[i] = this.#step(i, this.turned(i, expected), span);
      }
    }
    return compared;
  }

  #step(i: number, expected: LaggedVector, span: number): ComparedStep {
    const { re, im, speedRevPerS } = this.#steps[i]!;
    const difference = Math.hypot(re - expected.re, im - expected.im);
    const terms = this.#terms(i, expected);
    const bound = terms.reduce((sum, { value }) => sum + value, 0);
    const level = Math.max(Math.hypot(re, im), LEVEL_SHARE_LEAST * this.#greatest);
    const step: ComparedStep = { expected, difference, bound, terms };
    if (bound <= BOUND_SHARE_MAX * level) return step;
    const largest = terms.reduce((most, one) => (one.value > most.value ? one : most));
    return { ...step, why: this.#why(i, largest.name, span, speedRevPerS) };
  }

  #terms(i: number, expected: LaggedVector): { name: string; value: number }[] {
    const { re, im, speedRevPerS } = this.#steps[i]!;
    const short = this.#shortLagged[i];
    const cycle = (this.#signal.wheel.revolutions * this.#signal.sampleRateHz) / speedRevPerS;
    const { measured, wanted, response, order } = this.#tracked;
    const factor = quantityFactor(measured, wanted, response, order * speedRevPerS);
    const level = Math.hypot(re, im);
    return [
      { name: "window", value: between(short, expected) },
      { name: "companions", value: between(short, this.#otherLagged[i]) },
      {
        name: "once a revolution",
        value: (short?.curvature ?? 0) * cycle * cycle * ONCE_A_REVOLUTION,
      },
      {
        name: "start",
        value:
          Math.max(expected.startShare, short?.startShare ?? 0) *
          (level + Math.hypot(expected.re, expected.im)),
      },
      // Poles that a first vector started anew, against those that went on: two vectors apart.
      { name: "restart", value: this.#restartShares[i]! * 2 * this.#greatestVector },
      { name: "angle", value: between(this.#otherLagged[i], this.#device[i]) },
      { name: "doubtful edge", value: this.#device[i]?.astray ?? 0 },
      {
        name: "stated accuracy",
        value:
          this.#statedShare(i) * level +
          STATED_OF_COMPANY * this.#peak * Math.hypot(factor.re, factor.im),
      },
    ];
  }

  /** Of reading, by the greatest acceleration within the filter's memory. */
  #statedShare(i: number): number {
    const rate = this.#signal.sampleRateHz;
    const until = Math.min(this.#times[i]!, this.#angle.lastAt);
    const tau = tauOf(this.#signal, this.#angle, this.#tracked)(until);
    let fastest = 0;
    for (let part = 0; part < 6; part += 1) {
      const to = until - part * tau;
      const from = Math.max(this.#angle.firstAt, to - tau);
      if (!(to > from)) break;
      const change = this.#angle.speedAt(to) - this.#angle.speedAt(from);
      fastest = Math.max(fastest, (Math.abs(change) / (to - from)) * rate * rate);
    }
    if (fastest < RAMP_LEAST) return STATED_IN_DWELL;
    return fastest < FAST_RAMP_LEAST ? STATED_IN_RAMP : STATED_IN_FAST_RAMP;
  }

  #why(i: number, largest: string, span: number, speedRevPerS: number): string {
    if (largest === "start") return "its own start is not forgotten yet";
    if (largest === "restart") {
      return "the firmware's filter started anew, and has not forgotten its first vector yet";
    }
    if (largest === "angle") {
      return "the device's angle, a parabola through fewer edges, is another than the method's";
    }
    if (largest === "doubtful edge") {
      return (
        "an edge at no place of the wheel lies so that a device may take it for the next: " +
        "what its count made of it is not forgotten yet"
      );
    }
    if (largest === "once a revolution") {
      return "the vector changes faster than the firmware's one value a revolution follows";
    }
    if (largest === "companions") {
      return "companions change so fast that no window parts them from the order";
    }
    if (largest === "stated accuracy") {
      return "the level is smaller than what the rest of the signal may leave in it";
    }
    const tau = tauOf(this.#signal, this.#angle, this.#tracked)(this.#times[i]!);
    const middle = this.#times[i]! - 2 * tau;
    const half = Math.max(span, (8 * this.#signal.sampleRateHz) / speedRevPerS, 2 * tau) / 2;
    const { cause, orderOffset } = windowContent(this.#shortest, middle - half, middle + half);
    if (cause === "neighbour") {
      const order = this.#tracked.order + orderOffset;
      return (
        `another component turns within its width, near order ${order.toFixed(1)}: ` +
        "each passes its own share of it"
      );
    }
    return cause === "noise"
      ? "noise: what its width passes is no longer small beside the level"
      : "fast passage: the vector changes within its window, which smooths it otherwise";
  }
}

/**
 * A vector of the firmware's is of the middle of two cycles, and held for the cycle after it: half
 * a cycle late on the whole.
 */
function held({ at, re, im }: VectorSeries, angle: ShaftAngle, cycle: number): VectorSeries {
  const late = at.map((time) => {
    const rev = angle.revAt(time) + cycle / 2;
    return rev < angle.lastRev ? angle.timeAt(rev) : time + cycle / 2 / angle.speedAt(time);
  });
  return { at: late, re, im };
}

/** Time constants that a firmware waits from its first vector until it tells a level as settled. */
const SETTLED_CONSTANTS = 6.64;
/** Settled steps further apart than this many of the shortest: it started anew between them. */
const GAP_STEPS = 1.5;

/** (1 + x)·e^(−x) after each gap in the settled steps, 0 before the first. */
function restartShares(
  steps: readonly FirmwareStep[],
  { sampleRateHz }: BoxSignal,
  tauAt: (time: number) => number,
): number[] {
  const apart = steps.map(({ timeS }, i) => (i === 0 ? Infinity : timeS - steps[i - 1]!.timeS));
  const shortest = apart.reduce((least, one) => Math.min(least, one), Infinity);
  let constants = Infinity;
  return steps.map(({ closedAt }, i) => {
    if (i > 0 && apart[i]! > GAP_STEPS * shortest) constants = SETTLED_CONSTANTS;
    else constants += (apart[i]! * sampleRateHz) / tauAt(closedAt);
    return constants === Infinity ? 0 : (1 + constants) * Math.exp(-constants);
  });
}

/** Length of the vector between two; without end where one is missing. */
function between(
  a: { re: number; im: number } | undefined,
  b: { re: number; im: number } | undefined,
): number {
  return a === undefined || b === undefined ? Infinity : Math.hypot(a.re - b.re, a.im - b.im);
}

/** Of the samples while the shaft turns, the mean taken off. */
function rmsOf({ samples }: BoxSignal, angle: ShaftAngle): number {
  const from = Math.ceil(angle.firstAt);
  const until = Math.min(samples.length, Math.floor(angle.lastAt) + 1);
  let [sum, squares] = [0, 0];
  for (let i = from; i < until; i += 1) {
    sum += samples[i]!;
    squares += samples[i]! * samples[i]!;
  }
  const count = Math.max(1, until - from);
  return Math.sqrt(Math.max(0, squares / count - (sum / count) ** 2));
}
