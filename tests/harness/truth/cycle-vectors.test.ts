// Z of every kind of component against Simpson's rule on the signal as it is written down.
import { describe, expect, it } from "vitest";
import type { Component, Envelope, Response } from "../../../harness/scene/scene.ts";
import { carriersOf } from "../../../harness/truth/carriers.ts";
import { responseAt } from "../../../harness/truth/channel-response.ts";
import { clippedAmplitude } from "../../../harness/truth/channel-truth.ts";
import { CycleVectors, boundaryTimeS } from "../../../harness/truth/cycle-vectors.ts";
import type { CycleGrid } from "../../../harness/truth/cycle-vectors.ts";
import { gaussLegendre, sphericalBessel } from "../../../harness/truth/filon.ts";
import { MotionTruth } from "../../../harness/truth/shaft-motion.ts";
import { channelSignal, orderWith } from "../../kit/scene-builder.ts";
import { bruteVector } from "./kit/brute-force.ts";

const TWO_PI = 2 * Math.PI;
const RATE_HZ = 12_800;
const RAMP = [
  { timeS: 0, revPerS: 12 },
  { timeS: 0.5, revPerS: 17 },
  { timeS: 1, revPerS: 14 },
];
const STEADY = [{ timeS: 0, revPerS: 20 }];
const RIPPLE = [{ order: 3, amplitudeRev: 0.003 }];

type Motion = { speed: typeof RAMP; ripple: typeof RIPPLE };

function motionOf({ speed, ripple }: Motion, startAngleRev = 0.2): MotionTruth {
  return new MotionTruth({ speed, startAngleRev, ripple });
}

interface Case {
  name: string;
  own: Motion;
  other?: Motion;
  component: Component;
  /** The signal as it is written down, of time and of the angles of both shafts. */
  x: (t: number, own: MotionTruth, other: MotionTruth) => number;
  breaksS?: number[];
  quantity?: "acceleration" | "velocity" | "displacement";
  frontEnd?: Response;
  cycleRev?: number;
  order?: number;
}

const PLAIN: Motion = { speed: RAMP, ripple: [] };
const DWELL: Motion = { speed: STEADY, ripple: [] };
const WOBBLY: Motion = { speed: RAMP, ripple: RIPPLE };

const order = (k: number, envelope: Envelope, shaft = 0) =>
  orderWith(envelope, { order: k, shaft });

const CONSTANT = { kind: "constant", amplitudePk: 2, phaseLagRad: 0.7 } as const;
const LINES: Envelope & { kind: "lines" } = {
  kind: "lines",
  rows: [
    { timeS: 0, amplitudePk: 1, phaseLagRad: 0 },
    { timeS: 0.52, amplitudePk: 3, phaseLagRad: 0 },
    { timeS: 0.9, amplitudePk: 1.5, phaseLagRad: 0 },
  ],
};

function lineAt(t: number): number {
  return t < 0.52 ? 1 + (2 * t) / 0.52 : t < 0.9 ? 3 - (1.5 * (t - 0.52)) / 0.38 : 1.5;
}

const CASES: Case[] = [
  {
    name: "tracked order at any speed, with ripple",
    own: WOBBLY,
    component: order(1, CONSTANT),
    x: (t, own) => 2 * Math.cos(TWO_PI * own.angleAt(t) - 0.7),
  },
  {
    name: "companion at another whole order",
    own: PLAIN,
    component: order(3, CONSTANT),
    x: (t, own) => 2 * Math.cos(TWO_PI * 3 * own.angleAt(t) - 0.7),
  },
  {
    name: "order and a half",
    own: PLAIN,
    component: order(1.5, CONSTANT),
    x: (t, own) => 2 * Math.cos(TWO_PI * 1.5 * own.angleAt(t) - 0.7),
  },
  {
    name: "tone in a dwell",
    own: DWELL,
    component: {
      kind: "tone",
      frequencyHz: 27.3,
      quantity: "acceleration",
      amplitudePk: 2,
      phaseLagRad: 0.3,
    },
    x: (t) => 2 * Math.cos(TWO_PI * 27.3 * t - 0.3),
  },
  {
    name: "tone on a ramp with a corner",
    own: WOBBLY,
    component: {
      kind: "tone",
      frequencyHz: 27.3,
      quantity: "displacement",
      amplitudePk: 2e-4,
      phaseLagRad: 0.3,
    },
    x: (t) => -2e-4 * (TWO_PI * 27.3) ** 2 * Math.cos(TWO_PI * 27.3 * t - 0.3),
  },
  {
    name: "second shaft that drifts",
    own: PLAIN,
    other: {
      speed: [
        { timeS: 0, revPerS: 30 },
        { timeS: 2, revPerS: 41 },
      ],
      ripple: [],
    },
    component: order(1, CONSTANT, 1),
    x: (t, _, other) => 2 * Math.cos(TWO_PI * other.angleAt(t) - 0.7),
  },
  {
    name: "amplitude with the square of the speed",
    own: PLAIN,
    component: order(2, {
      kind: "speed-power",
      amplitudePk: 2,
      phaseLagRad: 0.7,
      referenceRevPerS: 10,
      power: 2,
    }),
    x: (t, own) => 2 * (own.meanSpeedAt(t) / 10) ** 2 * Math.cos(TWO_PI * 2 * own.angleAt(t) - 0.7),
  },
  {
    name: "amplitude on straight lines, with corners",
    own: PLAIN,
    component: order(1, LINES),
    breaksS: [0.52, 0.9],
    x: (t, own) => lineAt(t) * Math.cos(TWO_PI * own.angleAt(t)),
  },
  {
    name: "velocity stated with ripple: the derivative is the angle's own",
    own: WOBBLY,
    component: { ...order(2, CONSTANT), quantity: "velocity" },
    x: (t, own) =>
      -2 * TWO_PI * 2 * own.ratesAt(t).speed * Math.sin(TWO_PI * 2 * own.angleAt(t) - 0.7),
  },
  {
    name: "displacement stated on straight lines: second derivative by differences",
    own: {
      speed: [
        { timeS: 0, revPerS: 12 },
        { timeS: 2, revPerS: 17 },
      ],
      ripple: [],
    },
    component: {
      ...order(1, {
        kind: "lines",
        rows: [
          { timeS: 0, amplitudePk: 1, phaseLagRad: 0 },
          { timeS: 4, amplitudePk: 9, phaseLagRad: 0 },
        ],
      }),
      quantity: "displacement",
    },
    x: (t, own) => {
      const y = (at: number): number => (1 + 2 * at) * Math.cos(TWO_PI * own.angleAt(at));
      const h = 2e-4;
      return (
        (-y(t - 2 * h) + 16 * y(t - h) - 30 * y(t) + 16 * y(t + h) - y(t + 2 * h)) / (12 * h * h)
      );
    },
  },
  {
    name: "wheel of 58 taken for one of 60",
    own: PLAIN,
    component: order(1, CONSTANT),
    cycleRev: 60 / 58,
    x: (t, own) => 2 * Math.cos(TWO_PI * own.angleAt(t) - 0.7),
  },
  {
    name: "geared: two revolutions a cycle, order 3 of the cycle",
    own: PLAIN,
    component: order(1.5, CONSTANT),
    cycleRev: 2,
    order: 3,
    x: (t, own) => 2 * Math.cos(TWO_PI * 1.5 * own.angleAt(t) - 0.7),
  },
  {
    name: "front end on a ramp",
    own: PLAIN,
    component: order(1, CONSTANT),
    frontEnd: {
      kind: "filters",
      highPassOrder: 2,
      highPassHz: 9,
      lowPassOrder: 1,
      lowPassHz: 40,
      delayS: 1e-3,
    },
    x: (t, own) => {
      // Written out: s²/(s² + √2·w·s + w²), 1/(1 + jf/fc), e^(−jωτ).
      const f = own.meanSpeedAt(t);
      const u = 9 / f;
      const gain = 1 / Math.sqrt((1 - u * u) ** 2 + 2 * u * u) / Math.hypot(1, f / 40);
      const lead = Math.atan2(Math.SQRT2 * u, 1 - u * u);
      const lag = Math.atan(f / 40) + TWO_PI * f * 1e-3;
      return 2 * gain * Math.cos(TWO_PI * own.angleAt(t) - 0.7 + lead - lag);
    },
  },
];

describe("vectors of two cycles", () => {
  it.each(CASES)("[TRUTH-030] is the integral by Simpson's rule: $name", (one) => {
    const own = motionOf(one.own);
    const other = motionOf(one.other ?? DWELL, 0.4);
    const signal = channelSignal([one.component], one.frontEnd ? { frontEnd: one.frontEnd } : {});
    const carriers = carriersOf(signal, one.quantity ?? "acceleration", [own, other], RATE_HZ);
    const cycleRev = one.cycleRev ?? 1;
    const k = one.order ?? 1;
    const grid: CycleGrid = { shaft: 0, motion: own, cycleRev, offsetRev: 0, order: k };
    const vectors = new CycleVectors(grid, carriers);
    const z = { re: 0, im: 0 };
    let largest = 0;
    for (let m = 2; m * cycleRev < 15; m += 1) {
      const fromS = boundaryTimeS(grid, m - 1);
      const middleS = boundaryTimeS(grid, m);
      const untilS = boundaryTimeS(grid, m + 1);
      vectors.vector(m, fromS, middleS, untilS, z);
      const expected = bruteVector(
        (t) => one.x(t, own, other),
        (t) => own.angleAt(t) / cycleRev,
        (t) => own.ratesAt(t).speed / cycleRev,
        k,
        { fromS, middleS, untilS },
        [0.5, 1, ...(one.breaksS ?? [])],
      );
      largest = Math.max(largest, Math.hypot(z.re, z.im));
      // Simpson with 4,000 panels a piece is good to 1e-11; differences of order h^4 to 1e-7.
      const limit = one.name.includes("by differences") ? 1e-6 : 1e-9;
      const scale = Math.max(2, Math.hypot(expected.re, expected.im));
      expect(Math.hypot(z.re - expected.re, z.im - expected.im) / scale).toBeLessThan(limit);
    }
    if (one.name.includes("tracked")) expect(largest).toBeCloseTo(2, 9);
    if (one.name.includes("companion")) expect(largest).toBeLessThan(1e-12);
  });

  it("[TRUTH-031] sees an amplitude step half a sample before the first sample that has it", () => {
    const own = motionOf(DWELL);
    const rows = [
      { timeS: 0, amplitudePk: 1, phaseLagRad: 0 },
      { timeS: 0.30003, amplitudePk: 3, phaseLagRad: 1 },
    ];
    const signal = channelSignal([order(1, { kind: "steps", rows })]);
    const grid: CycleGrid = { shaft: 0, motion: own, cycleRev: 1, offsetRev: 0, order: 1 };
    const vectors = new CycleVectors(grid, carriersOf(signal, "acceleration", [own], RATE_HZ));
    const stepS = (3841 - 0.5) / RATE_HZ;
    const z = { re: 0, im: 0 };
    for (let m = 3; m < 9; m += 1) {
      const [fromS, middleS, untilS] = [m - 1, m, m + 1].map((c) => boundaryTimeS(grid, c)) as [
        number,
        number,
        number,
      ];
      vectors.vector(m, fromS, middleS, untilS, z);
      const x = (t: number): number =>
        t < stepS ? Math.cos(TWO_PI * own.angleAt(t)) : 3 * Math.cos(TWO_PI * own.angleAt(t) - 1);
      const ends = { fromS, middleS, untilS };
      const expected = bruteVector(
        x,
        (t) => own.angleAt(t),
        () => 20,
        1,
        ends,
        [stepS],
      );
      expect(z.re).toBeCloseTo(expected.re, 8);
      expect(z.im).toBeCloseTo(expected.im, 8);
    }
  });

  it("[TRUTH-032] F-19: a tone's average over a cycle is |sinc|, its triangle the square", () => {
    const values = [0.900316316, 0.636619772, 0, 0.212206591, 0];
    for (const [i, distance] of [0.25, 0.5, 1, 1.5, 2].entries()) {
      const own = motionOf(DWELL, 0);
      const tone: Component = {
        kind: "tone",
        // At half an order of the shaft the image falls on a whole distance where this one does.
        frequencyHz: 20 * (30 + distance),
        quantity: "acceleration",
        amplitudePk: 1,
        phaseLagRad: 0,
      };
      const carriers = carriersOf(channelSignal([tone]), "acceleration", [own], RATE_HZ);
      const grid: CycleGrid = { shaft: 0, motion: own, cycleRev: 1, offsetRev: 0, order: 30 };
      const z = { re: 0, im: 0 };
      new CycleVectors(grid, carriers).vector(2, 0.05, 0.1, 0.15, z);
      // The image, 60 orders away, is under 3e-5.
      expect(Math.hypot(z.re, z.im)).toBeCloseTo(values[i]! ** 2, 4);
    }
  });

  it("[TRUTH-033] spherical Bessel functions and Gauss points are those of the definition", () => {
    for (const x of [-40, -1, 1e-9, 0.01, 3.7, 50, 400]) {
      const found = sphericalBessel(17, x);
      const { nodes, weights } = gaussLegendre(300);
      for (const l of [0, 1, 2, 5, 16]) {
        // Poisson's integral: 2·j^l·j_l(x) = ∫ P_l(s)·e^(jxs) ds
        let sum = 0;
        for (const [i, s] of nodes.entries()) {
          let [below, here] = [1, l === 0 ? 1 : s];
          for (let n = 2; n <= l; n += 1) {
            [below, here] = [here, ((2 * n - 1) * s * here - (n - 1) * below) / n];
          }
          sum += weights[i]! * here * (l % 2 === 0 ? Math.cos(x * s) : Math.sin(x * s));
        }
        expect(found[l]).toBeCloseTo((sum / 2) * (l % 4 < 2 ? 1 : -1), 12);
      }
    }
  });

  it("[TRUTH-034] the first order of a clipped sine is its Fourier coefficient", () => {
    for (const level of [0.01, 0.5, 0.99, 1.2]) {
      let sum = 0;
      const count = 200_000;
      for (let i = 0; i < count; i += 1) {
        const x = Math.cos((TWO_PI * i) / count);
        sum += (2 / count) * Math.min(level, Math.max(-level, x)) * x;
      }
      expect(clippedAmplitude(1, level)).toBeCloseTo(sum, 8);
    }
  });

  it("[TRUTH-035] filters have their −3 dB at the corner, and tables run straight", () => {
    for (const n of [1, 2, 3, 4]) {
      const low = { kind: "filters", highPassOrder: 0, highPassHz: 0, lowPassOrder: n } as const;
      const high = { kind: "filters", lowPassOrder: 0, lowPassHz: 0, highPassOrder: n } as const;
      const a = responseAt({ ...low, lowPassHz: 50, delayS: 0 }, 50);
      const b = responseAt({ ...high, highPassHz: 50, delayS: 0 }, 50);
      expect(Math.hypot(a.re, a.im)).toBeCloseTo(Math.SQRT1_2, 12);
      expect(Math.hypot(b.re, b.im)).toBeCloseTo(Math.SQRT1_2, 12);
      // A low-pass lags by n·45° at its corner, a high-pass leads by as much.
      const lag = responseAt({ ...low, lowPassHz: 50, delayS: 0 }, 50);
      const turn = { re: Math.cos((n * Math.PI) / 4), im: Math.sin((n * Math.PI) / 4) };
      expect(lag.re * turn.re - lag.im * turn.im).toBeCloseTo(Math.SQRT1_2, 12);
      expect(b.re * turn.re + b.im * turn.im).toBeCloseTo(Math.SQRT1_2, 12);
    }
    const points = [
      { frequencyHz: 10, gain: 1, phaseLagRad: 0 },
      { frequencyHz: 30, gain: 0.5, phaseLagRad: 1 },
    ];
    const middle = responseAt({ kind: "table", points, delayS: 0 }, 20);
    expect(Math.hypot(middle.re, middle.im)).toBeCloseTo(0.75, 12);
    expect(Math.atan2(middle.im, middle.re)).toBeCloseTo(-0.5, 12);
  });
});
