// Profiles and facts for the model of the display step, drawn from a seed: numbers about the
// caution level and its ties, speeds about the least valid one, references that go and come, tests, faults.
import { xoroshiro128plus } from "pure-rand/generator/xoroshiro128plus";
import type {
  DeviceRules,
  DisplayRules,
  FilterFacts,
  FilterRules,
  ShaftRules,
  StepFacts,
} from "./model-types.ts";

export const CHANNELS = 2;
export const SHAFTS = 2;
export const FILTERS = 3;
const f32 = Math.fround;

export class Draw {
  readonly #source;
  constructor(seed: number) {
    this.#source = xoroshiro128plus(seed);
  }
  /** A whole number 0 … n − 1. */
  below(n: number): number {
    return (this.#source.next() >>> 0) % n;
  }
  /** True once in n. */
  once(n: number): boolean {
    return this.below(n) === 0;
  }
  of<T>(list: readonly T[]): T {
    return list[this.below(list.length)]!;
  }
  /** Evenly between two numbers, in single precision. */
  between(min: number, max: number): number {
    return f32(min + ((max - min) * this.below(2 ** 24)) / 2 ** 24);
  }
}

function displayRules(draw: Draw, own: number): DisplayRules {
  const others = [0, 1, 2].filter((one) => one !== own);
  const level = 1 + draw.below(40);
  const rows = 1 + draw.below(3);
  return {
    source: draw.of([
      { kind: "own" as const },
      { kind: "greatest" as const, filters: draw.of([[0, 1, 2], [0, 2], [1, 2], others]) },
      { kind: "substitute" as const, filter: draw.of(others) },
    ]),
    scale: Array.from({ length: rows }, (_, i) => ({
      speed: f32(20 + 20 * i),
      factor: draw.once(3) ? draw.between(0.3, 3) : draw.of([0.5, 1, 2]),
    })),
    smoothing: draw.of([1, 1, 0.5, f32(0.3), f32(0.01)]),
    countsPerUnit: draw.of([1, 2, 10, f32(1 / 0.3)]),
    countsMax: draw.of([level + 5, 100, 1000]),
    holdSteps: draw.of([0, 1, 2, 7]),
    caution: draw.once(8)
      ? undefined
      : {
          level,
          hysteresis: draw.below(Math.min(level, 6)),
          onSteps: draw.of([0, 0, 1, 2, 6]),
          offSteps: draw.of([0, 0, 1, 3, 9]),
          runsUnderInhibit: draw.once(2),
          staysWhileHeld: draw.once(2),
        },
  };
}

export function deviceRules(draw: Draw): DeviceRules {
  const shaft = (): ShaftRules => ({
    minimumSpeed: draw.of([30, f32(30.1)]),
    hysteresis: draw.of([0, 0.5, f32(1.3)]),
    delaySteps: draw.of([0, 1, 5]),
    evidence: { input: draw.once(2), otherShaft: draw.once(2) },
  });
  const filter = (index: number): FilterRules => ({
    index,
    channel: draw.below(CHANNELS),
    shaft: draw.below(SHAFTS),
    levelFactor: draw.of([1, 1, 0.5, draw.between(0.1, 10)]),
    settling: { isPerCycle: draw.once(2), count: 1 + draw.below(8) },
    display: displayRules(draw, index),
  });
  return {
    shafts: Array.from({ length: SHAFTS }, shaft),
    filters: Array.from({ length: FILTERS }, (_, index) => filter(index)),
  };
}

interface Course {
  mode: "high" | "near" | "low" | "mixed";
  isSlow: boolean;
  waitRevolutions: number;
  settledStep: number;
  isResponseLow: boolean;
}

/** One device in operation: each call gives the facts of the next step. */
export class RandomFacts {
  readonly #rules: DeviceRules;
  readonly #draw: Draw;
  readonly #courses: Course[] = [];
  readonly #last: StepFacts;
  #inputBits = 0;
  /** Inputs as they stood one after the other since the step before; the last stands at the step. */
  inputs: number[] = [];
  /** Per channel: a sample beyond what is physical came. */
  spikes: boolean[] = [];
  #step = 0;

  constructor(rules: DeviceRules, draw: Draw) {
    this.#rules = rules;
    this.#draw = draw;
    const filter = { isComputed: false, isSettled: false, isResponseLow: false, acquisition: 0 };
    const zeros = { revolution: 0, levelPk: 0, re: 0, im: 0, speed: 0, speedNow: 0 };
    const rest = { closingTick: 0, flags: 0, integrationDistance: 0 };
    this.#last = {
      tick: draw.of([0, 2 ** 32 - 250_000, 2 ** 33]),
      isTest: false,
      testWasSeen: false,
      isFaulty: [false, false],
      shafts: Array.from({ length: SHAFTS }, () => {
        return { isLocked: false, hasBeenLocked: false, isSaidToRun: false };
      }),
      filters: Array.from({ length: FILTERS }, () => ({ ...filter, ...zeros, ...rest })),
      isInhibited: [false, false, false],
      acknowledgeRose: [false, false, false],
    };
    for (let i = 0; i < FILTERS; i += 1) {
      const course = { waitRevolutions: 2, settledStep: 0, isResponseLow: false, isSlow: false };
      this.#courses.push({ mode: "near", ...course });
    }
  }

  next(): StepFacts {
    const bits = this.#inputs();
    const last = this.#last;
    this.#step += 1;
    last.tick += 1000;
    const seenBefore = last.isTest;
    last.isTest = (bits >> 18) % 2 === 1;
    last.testWasSeen = seenBefore || this.inputs.some((one) => (one >> 18) % 2 === 1);
    const spike = (isFaulty: boolean): boolean =>
      isFaulty ? !this.#draw.once(3) : this.#draw.once(150);
    this.spikes = last.isFaulty.map(spike);
    // A period in which the functional test ran says nothing of a transducer.
    if (!last.testWasSeen) last.isFaulty = this.spikes;
    last.shafts.forEach((shaft, i) => {
      shaft.isSaidToRun = (bits >> (16 + i)) % 2 === 1;
      const isFound = !shaft.isLocked && this.#draw.once(5);
      const isLost = shaft.isLocked && this.#draw.once(120);
      // Lost and found again between two steps: locked at both, another acquisition.
      const isAnew = isFound || (isLost && this.#draw.once(4));
      if (isFound) shaft.isLocked = true;
      else if (isLost && !isAnew) shaft.isLocked = false;
      shaft.hasBeenLocked ||= shaft.isLocked;
      for (const { index, shaft: own } of this.#rules.filters) {
        if (own === i) this.#follow(index, shaft.isLocked, isAnew);
      }
    });
    return last;
  }

  #inputs(): number {
    const draw = this.#draw;
    this.inputs = [];
    this.#last.acknowledgeRose = [false, false, false];
    const changes = draw.once(4) ? 1 + draw.below(3) : 1;
    for (let i = 0; i < changes; i += 1) {
      let bits = this.#inputBits;
      for (let display = 0; display < FILTERS; display += 1) {
        if (draw.once(60)) bits ^= 1 << display;
        if (draw.once(12)) bits ^= 1 << (8 + display);
      }
      if (draw.once(40)) bits ^= 1 << (16 + draw.below(SHAFTS));
      if (draw.once((bits >> 18) % 2 === 1 ? 3 : 250)) bits ^= 1 << 18;
      const risen = bits & ~this.#inputBits;
      this.#last.acknowledgeRose.forEach((rose, display, all) => {
        all[display] = rose || ((risen >> (8 + display)) & 1) === 1;
      });
      // What does not change need not be told, but may be.
      if (bits !== this.#inputBits || draw.once(2)) this.inputs.push(bits);
      this.#inputBits = bits;
    }
    const bits = this.#inputBits;
    this.#last.isInhibited = [0, 1, 2].map((display) => ((bits >> display) & 1) === 1);
    return bits;
  }

  #follow(index: number, isLocked: boolean, isAnew: boolean): void {
    const draw = this.#draw;
    const own = this.#last.filters[index]!;
    const course = this.#courses[index]!;
    if (isAnew) {
      own.acquisition += 1;
      own.revolution = draw.of([0, 0, 10]);
      course.waitRevolutions = 1 + draw.below(4);
      course.settledStep = this.#step + draw.below(6);
    }
    if (isLocked && !isAnew) own.revolution += draw.below(4);
    if (draw.once(course.isResponseLow ? 4 : 150)) course.isResponseLow = !course.isResponseLow;
    if (draw.once(15)) course.mode = draw.of(["high", "near", "low", "mixed"]);
    if (draw.once(course.isSlow ? 6 : 60)) course.isSlow = !course.isSlow;
    own.isComputed = isLocked && own.revolution >= course.waitRevolutions;
    own.isSettled = own.isComputed && this.#step >= course.settledStep;
    own.isResponseLow = course.isResponseLow && isLocked;
    own.speedNow = this.#speed(index, course.isSlow);
    own.speed = f32(own.speedNow + 0.25);
    own.levelPk = this.#levelPk(index, own, course.mode);
    // Now and then as large as the first filter's, so that the greatest is a tie.
    if (index > 0 && draw.once(8)) {
      const first = this.#last.filters[0]!;
      own.levelPk = f32(first.levelPk);
      own.speedNow = first.speedNow;
    }
    own.re = f32(own.levelPk * 0.6);
    own.im = f32(own.levelPk * -0.8);
    if (!Number.isFinite(own.levelPk)) own.re = own.im = 0;
    own.closingTick = Math.max(0, Math.min(2 ** 32 - 1, this.#last.tick - draw.below(5000)));
    own.flags = draw.below(32);
    own.integrationDistance = draw.once(9) ? draw.between(0, 0.01) : 0;
  }

  #speed(index: number, isSlow: boolean): number {
    const draw = this.#draw;
    const shaft = this.#rules.shafts[this.#rules.filters[index]!.shaft]!;
    const { minimumSpeed, hysteresis } = shaft;
    if (draw.once(20)) return draw.of([minimumSpeed, f32(minimumSpeed + hysteresis), 20, 40, 60]);
    if (!isSlow) return draw.between(minimumSpeed + 1, 90);
    return draw.between(minimumSpeed - 2, minimumSpeed + hysteresis + 0.3);
  }

  /** A level whose number on the filter's own display lies where the course wants it. */
  #levelPk(index: number, own: FilterFacts, mode: Course["mode"]): number {
    const draw = this.#draw;
    const { levelFactor, display } = this.#rules.filters[index]!;
    if (draw.once(900)) return draw.of([Infinity, f32(3e38), 0]);
    const { level, hysteresis } = display.caution ?? { level: 10, hysteresis: 2 };
    const near = draw.of([level, level - 1, level - hysteresis, level - hysteresis - 1]);
    const place = mode === "mixed" ? draw.of(["high", "near", "low"] as const) : mode;
    let counts = near + draw.of([0, 0, -0.5, 0.5, draw.between(-0.6, 0.6)]);
    if (place === "high") counts = level + draw.below(4) + draw.between(-0.4, 3);
    if (place === "low") counts = Math.max(0, level - hysteresis - 1 - draw.between(0, 4));
    const scale = display.scale.at(-1)!.factor;
    return f32(Math.max(0, counts) / display.countsPerUnit / levelFactor / scale);
  }
}
