// The random terms of the tolerance, each in a scene in which it is nearly all that can be wrong.
import type { Component, Scene } from "../../harness/scene/scene.ts";
import * as kit from "../kit/scene-builder.ts";

const { orderComponent } = kit;

/** What is held against its bound: the vector that the level is the length of, or the speed. */
export type Held = "vector" | "speed";

export interface RandomTerm {
  id: string;
  what: string;
  held: Held;
  /**
   * "exact": the variance is the error's own, so the share outside is the stated one. "most": it
   * is what the variance can be at most, so the share is the stated one or less.
   */
  variance: "exact" | "most";
  /** The variance is that of both parts of the vector together, and no bound of it. */
  isWhole?: true;
  /** The share of the tolerance that is not random, at most; absent: a fiftieth. */
  otherShareMax?: number;
  scene(seed: number): Scene;
}

/** Two displays a second of a filter of 4 Hz: each step is almost a look of its own. */
const PERIOD_S = 0.5;
const DURATION_S = 2;
const WIDTH_HZ = 4;
/** Not a whole number of revolutions a step: no cycle ends beside a display step. */
const SPEED_REV_PER_S = 80.7;
/** Beyond the end of the short runs: no corner of the speed lies in them. */
const RAMP_S = 2.2;

interface Noisy {
  seed: number;
  durationS?: number;
  periodS?: number;
  widthHz?: number;
  /** Speeds at the start and at RAMP_S; it changes evenly in between. */
  fromRevPerS?: number;
  untilRevPerS?: number;
  components: Component[];
  positions?: number;
  jitterS?: number;
  converterStep?: number;
}

function noisy(wanted: Noisy): Scene {
  const { seed, components, positions = 1, jitterS = 0, converterStep } = wanted;
  const { durationS = DURATION_S, periodS = PERIOD_S, widthHz = WIDTH_HZ } = wanted;
  const { fromRevPerS = SPEED_REV_PER_S, untilRevPerS = fromRevPerS } = wanted;
  const profile = kit.monitorProfile({
    displayPeriodS: periodS,
    shafts: [kit.shaftProfile({ positions, lockRevolutions: 1, accelerationMaxRevPerS2: 100 })],
    filters: [kit.filterProfile({ bandwidth: { kind: "fixed", fullWidthHz: widthHz } })],
  });
  if (converterStep !== undefined) profile.channels[0]!.countStep = converterStep;
  return kit.oneShaftScene({
    profile,
    durationS,
    seed,
    components,
    speed: [
      { timeS: 0, revPerS: fromRevPerS },
      { timeS: RAMP_S, revPerS: untilRevPerS },
    ],
    wheel: { jitterS },
    converter: {
      format: converterStep === undefined ? "f32" : "i16",
      step: converterStep ?? 0,
    },
  });
}

/** What cancels in a dwell does not quite cancel here. */
const RAMPS: [id: string, fromRevPerS: number, untilRevPerS: number][] = [
  ["JITTER-RUN-UP", 30, 80],
  ["JITTER-RUN-DOWN", 80, 30],
];

/** Orders that a wheel of one edge a turn must not let through. */
const LARGE = [orderComponent(2, 100, 77), orderComponent(3, 50, 200)];
/** At 1.652 of the speed. */
const SECOND_ROTOR: Component = {
  kind: "tone",
  frequencyHz: 133.3,
  amplitudePk: 100,
  phaseLagRad: 1,
  quantity: "acceleration",
};

export const RANDOM_TERMS: readonly RandomTerm[] = [
  {
    id: "NOISE-TONE",
    what: "white noise of 20 m/s² rms beside a tone of 10 m/s² pk",
    held: "vector",
    variance: "exact",
    scene: (seed) =>
      noisy({ seed, components: [orderComponent(1, 10, 30), { kind: "noise", rms: 20 }] }),
  },
  {
    id: "NOISE-ALONE",
    what: "white noise of 20 m/s² rms and nothing else",
    held: "vector",
    variance: "exact",
    scene: (seed) => noisy({ seed, components: [{ kind: "noise", rms: 20 }] }),
  },
  {
    id: "CONVERTER",
    what: "a converter's steps of 2 m/s² with noise of half a step",
    held: "vector",
    variance: "exact",
    scene: (seed) =>
      noisy({
        seed,
        components: [orderComponent(1, 10, 30), { kind: "noise", rms: 1 }],
        converterStep: 2,
      }),
  },
  {
    id: "JITTER-ONE",
    what: "jitter of 20 µs rms on one edge a turn, the tracked order alone",
    held: "vector",
    variance: "most",
    isWhole: true,
    scene: (seed) =>
      noisy({
        seed,
        components: [orderComponent(1, 10, 30)],
        jitterS: 20e-6,
      }),
  },
  {
    id: "JITTER-MANY",
    what: "jitter of 2 µs rms on sixty edges a turn, order 2 ten times as large",
    held: "vector",
    variance: "most",
    isWhole: true,
    scene: (seed) =>
      noisy({
        seed,
        components: [orderComponent(1, 10, 30), orderComponent(2, 100, 77)],
        positions: 60,
        jitterS: 2e-6,
      }),
  },
  {
    id: "JITTER-BESIDE",
    what: "jitter of 5 µs rms on one edge a turn, orders 2 and 3 ten and five times as large",
    held: "vector",
    variance: "most",
    isWhole: true,
    otherShareMax: 0.05,
    scene: (seed) =>
      noisy({ seed, components: [orderComponent(1, 10, 30), ...LARGE], jitterS: 5e-6 }),
  },
  {
    id: "JITTER-OTHERS",
    what: "jitter of 5 µs rms on one edge a turn, orders 2 and 3 alone",
    held: "vector",
    variance: "most",
    isWhole: true,
    // What is left of other orders is so little that clock and rounding show.
    otherShareMax: 0.3,
    scene: (seed) => noisy({ seed, components: LARGE, jitterS: 5e-6 }),
  },
  {
    id: "JITTER-ROTOR",
    what: "jitter of 5 µs rms on one edge a turn, a second rotor ten times as large",
    held: "vector",
    variance: "most",
    otherShareMax: 0.05,
    scene: (seed) =>
      noisy({ seed, components: [orderComponent(1, 10, 30), SECOND_ROTOR], jitterS: 5e-6 }),
  },
  {
    id: "JITTER-SPEED",
    what: "jitter of 20 µs rms on one edge a turn, in the speed shown",
    held: "speed",
    variance: "exact",
    scene: (seed) => noisy({ seed, components: [orderComponent(1, 10, 30)], jitterS: 20e-6 }),
  },
  ...RAMPS.map(([id, fromRevPerS, untilRevPerS]): RandomTerm => {
    return {
      id,
      what: `jitter of 20 µs rms in the speed shown, ${fromRevPerS} to ${untilRevPerS} rev/s`,
      held: "speed",
      variance: "most",
      scene: (seed) => {
        const components = [orderComponent(1, 10, 30)];
        return noisy({ seed, components, jitterS: 20e-6, fromRevPerS, untilRevPerS });
      },
    };
  }),
];

/** Many display steps to one inverse of the bandwidth: they hang together. */
export const MANY_STEPS: RandomTerm = {
  id: "WHOLE-RUN",
  what: "white noise and nothing else, over all display steps of a run",
  held: "vector",
  variance: "exact",
  scene: (seed) =>
    noisy({
      seed,
      components: [{ kind: "noise", rms: 20 }],
      durationS: 6,
      periodS: 0.1,
      widthHz: 1,
    }),
};
