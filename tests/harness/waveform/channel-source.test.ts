import { describe, expect, it } from "vitest";
import type {
  ChannelSignal,
  Component,
  Envelope,
  Quantity,
  Response,
  ShaftMotion,
} from "../../../harness/scene/scene.ts";
import { ChannelSource } from "../../../harness/waveform/channel-source.ts";
import { CHUNK_SAMPLES } from "../../../harness/waveform/sample-clock.ts";
import { ShaftTrack } from "../../../harness/waveform/shaft-track.ts";
import { channelSignal, shaftMotion } from "../../kit/scene-builder.ts";
import { TEST_SEED } from "../../kit/seed.ts";
import { directMotion } from "./direct.ts";
import type { DirectMotion } from "./direct.ts";
import { ratioAdd, ratioMultiply, ratioOf, ratioToNumber } from "./ratio.ts";

const RATE_HZ = 12_800;
const TAU = 2 * Math.PI;

function written(
  signal: ChannelSignal,
  motion: ShaftMotion,
  chunks: number,
  quantity: Quantity = "acceleration",
): Float64Array {
  const tracks = [new ShaftTrack(motion, RATE_HZ)];
  const setting = { quantity, tracks, sampleRateHz: RATE_HZ, seed: TEST_SEED, streamBase: 16 };
  const source = new ChannelSource(signal, setting);
  const all = new Float64Array(chunks * CHUNK_SAMPLES);
  for (let i = 0; i < chunks; i += 1) {
    const first = i * CHUNK_SAMPLES;
    all.set(source.make(first), first);
  }
  return all;
}

/** Largest difference from `right`, as a share of its largest value. */
function worstShare(found: Float64Array, right: (t: number) => number): number {
  let worst = 0;
  let largest = 0;
  for (const [i, value] of found.entries()) {
    const expected = right(i / RATE_HZ);
    worst = Math.max(worst, Math.abs(value - expected));
    largest = Math.max(largest, Math.abs(expected));
  }
  expect(largest).toBeGreaterThan(0);
  return worst / largest;
}

const speed = [
  { timeS: 0, revPerS: 22 },
  { timeS: 0.31, revPerS: 58 },
  { timeS: 0.52, revPerS: 58 },
  { timeS: 0.9, revPerS: 31 },
];
const ripple = [
  { order: 2, amplitudeRev: 0.004 },
  { order: 3.3, amplitudeRev: 0.002 },
];

/** Amplitude and its derivatives by time: worked out per kind, in real numbers, lag constant. */
type Amplitude = { x: number; dx: number; ddx: number; lagRad: number };

const ENVELOPES: [
  name: string,
  envelope: Envelope,
  at: (t: number, m: DirectMotion, slope: number) => Amplitude,
][] = [
  [
    "constant",
    { kind: "constant", amplitudePk: 3, phaseLagRad: 0.7 },
    () => ({ x: 3, dx: 0, ddx: 0, lagRad: 0.7 }),
  ],
  [
    "in proportion to speed",
    { kind: "speed-power", amplitudePk: 3, phaseLagRad: -0.4, referenceRevPerS: 40, power: 1 },
    (_, m, slope) => ({
      x: (3 * m.smoothRevPerS) / 40,
      dx: (3 * slope) / 40,
      ddx: 0,
      lagRad: -0.4,
    }),
  ],
  [
    "with the square of speed",
    { kind: "speed-power", amplitudePk: 3, phaseLagRad: 2, referenceRevPerS: 40, power: 2 },
    (_, m, slope) => ({
      x: 3 * (m.smoothRevPerS / 40) ** 2,
      dx: (6 * m.smoothRevPerS * slope) / 1600,
      ddx: (6 * slope * slope) / 1600,
      lagRad: 2,
    }),
  ],
  [
    "steps",
    {
      kind: "steps",
      rows: [
        { timeS: 0, amplitudePk: 1, phaseLagRad: 0 },
        { timeS: 0.2, amplitudePk: 4, phaseLagRad: 1 },
        { timeS: 0.70003, amplitudePk: 2, phaseLagRad: -1 },
      ],
    },
    (t) => {
      const x = t < 0.2 ? 1 : t < 0.70003 ? 4 : 2;
      return { x, dx: 0, ddx: 0, lagRad: t < 0.2 ? 0 : t < 0.70003 ? 1 : -1 };
    },
  ],
  [
    "lines",
    {
      kind: "lines",
      rows: [
        { timeS: 0, amplitudePk: 1, phaseLagRad: 0.5 },
        { timeS: 0.4, amplitudePk: 5, phaseLagRad: 0.5 },
        { timeS: 0.75, amplitudePk: 2, phaseLagRad: 0.5 },
      ],
    },
    (t) => {
      const [x, dx] =
        t < 0.4 ? [1 + 10 * t, 10] : t < 0.75 ? [5 - (3 * (t - 0.4)) / 0.35, -3 / 0.35] : [2, 0];
      return { x, dx, ddx: 0, lagRad: 0.5 };
    },
  ],
];

function slopeAt(t: number): number {
  return t < 0.31 ? 36 / 0.31 : t < 0.52 ? 0 : t < 0.9 ? -27 / 0.38 : 0;
}

/** x = X cos ψ and its first two derivatives. */
function derivative(count: number, amplitude: Amplitude, order: number, m: DirectMotion): number {
  const psi = TAU * order * m.rev - amplitude.lagRad;
  const w = TAU * order * m.revPerS;
  const a = TAU * order * m.revPerS2;
  const { x, dx, ddx } = amplitude;
  if (count === 0) return x * Math.cos(psi);
  if (count === 1) return dx * Math.cos(psi) - x * w * Math.sin(psi);
  return (ddx - x * w * w) * Math.cos(psi) - (2 * dx * w + x * a) * Math.sin(psi);
}

const STATED: [quantity: Quantity, count: number][] = [
  ["acceleration", 0],
  ["velocity", 1],
  ["displacement", 2],
];

describe("components", () => {
  for (const [isRippled, rippleOf] of [
    ["", []],
    [" with ripple", ripple],
  ] as const) {
    const motion = shaftMotion({ speed, ripple: [...rippleOf] });
    it.each(ENVELOPES)(
      `[WAVE-030] %s${isRippled}: stated in each quantity, within 1e-9`,
      (_, envelope, at) => {
        for (const [quantity, count] of STATED) {
          for (const order of [1, 3, 2.02]) {
            const component: Component = { kind: "order", shaft: 0, order, quantity, envelope };
            const found = written(channelSignal([component]), motion, 100);
            const share = worstShare(found, (t) => {
              const m = directMotion(motion, t);
              return derivative(count, at(t, m, slopeAt(t)), order, m);
            });
            expect(share).toBeLessThan(1e-9);
          }
        }
      },
    );
  }

  it("[WAVE-031] a tone is differentiated like a component", () => {
    for (const [quantity, count] of STATED) {
      const tone: Component = {
        kind: "tone",
        frequencyHz: 49.9,
        quantity,
        amplitudePk: 2,
        phaseLagRad: 1,
      };
      const found = written(channelSignal([tone]), shaftMotion(), 100);
      const w = TAU * 49.9;
      const share = worstShare(
        found,
        (t) => 2 * w ** count * Math.cos(w * t - 1 + (count * Math.PI) / 2),
      );
      expect(share).toBeLessThan(1e-9);
    }
  });

  it("[WAVE-032] what would have to be integrated, or has no unit, is refused", () => {
    const of = (from: Quantity, to: Quantity) => (): Float64Array =>
      written(
        channelSignal([
          { kind: "tone", frequencyHz: 5, quantity: from, amplitudePk: 1, phaseLagRad: 0 },
        ]),
        shaftMotion(),
        1,
        to,
      );
    expect(of("acceleration", "velocity")).toThrow("cannot be made");
    expect(of("unstated", "velocity")).toThrow("state both or neither");
    expect(of("unstated", "unstated")().length).toBe(CHUNK_SAMPLES);
  });

  it("[WAVE-033] a component is within 1e-9 of exact arithmetic ten hours after the start", () => {
    const motion = shaftMotion({ speed: [{ timeS: 0, revPerS: 399.7 }], startAngleRev: 0.1 });
    const tracks = [new ShaftTrack(motion, RATE_HZ)];
    const component: Component = {
      kind: "order",
      shaft: 0,
      order: 7,
      quantity: "acceleration",
      envelope: { kind: "constant", amplitudePk: 1, phaseLagRad: 0 },
    };
    const setting = {
      quantity: "acceleration" as const,
      tracks,
      sampleRateHz: RATE_HZ,
      seed: 1,
      streamBase: 16,
    };
    const source = new ChannelSource(channelSignal([component]), setting);
    const first = 36_000 * RATE_HZ;
    const out = source.make(first);
    for (const [i, value] of out.entries()) {
      const time = { top: BigInt(first + i), bottom: BigInt(RATE_HZ) };
      const rev = ratioAdd(ratioOf(0.1), ratioMultiply(ratioOf(399.7), time));
      const turns = 7n * rev.top;
      const part = ratioToNumber({ top: turns % rev.bottom, bottom: rev.bottom });
      expect(Math.abs(value - Math.cos(TAU * part))).toBeLessThan(1e-9);
    }
  });
});

/** A front end by its poles, as |H| and lag. */
function butterworth(order: number, u: number, isHigh: boolean): { gain: number; lagRad: number } {
  let lagRad = isHigh ? (-order * Math.PI) / 2 : 0;
  for (let i = 1; i <= order; i += 1) {
    const angle = (Math.PI * (2 * i + order - 1)) / (2 * order);
    lagRad += Math.atan2(u - Math.sin(angle), -Math.cos(angle));
  }
  const gain = (isHigh ? u ** order : 1) / Math.sqrt(1 + u ** (2 * order));
  return { gain, lagRad };
}

const FRONT_ENDS: [
  name: string,
  response: Response,
  at: (f: number) => { gain: number; lagRad: number },
][] = [
  ...[1, 2, 3, 4].map((order): (typeof FRONT_ENDS)[number] => [
    `order ${order} both ways, with a delay`,
    {
      kind: "filters",
      highPassOrder: order,
      highPassHz: 20,
      lowPassOrder: order,
      lowPassHz: 90,
      delayS: 3e-4,
    },
    (f) => {
      const high = butterworth(order, f / 20, true);
      const low = butterworth(order, f / 90, false);
      return { gain: high.gain * low.gain, lagRad: high.lagRad + low.lagRad + TAU * f * 3e-4 };
    },
  ]),
  [
    "a table",
    {
      kind: "table",
      points: [
        { frequencyHz: 30, gain: 0.8, phaseLagRad: -0.2 },
        { frequencyHz: 50, gain: 1.2, phaseLagRad: 0.3 },
      ],
      delayS: 0,
    },
    (f) => {
      const share = Math.min(1, Math.max(0, (f - 30) / 20));
      return { gain: 0.8 + 0.4 * share, lagRad: -0.2 + 0.5 * share };
    },
  ],
];

describe("front end", () => {
  it.each(FRONT_ENDS)(
    "[WAVE-034] %s acts on each component at its own frequency",
    (_, frontEnd, at) => {
      const motion = shaftMotion({ speed });
      const component: Component = {
        kind: "order",
        shaft: 0,
        order: 1,
        quantity: "acceleration",
        envelope: { kind: "constant", amplitudePk: 1, phaseLagRad: 0 },
      };
      const found = written(channelSignal([component], { frontEnd }), motion, 100);
      const share = worstShare(found, (t) => {
        const m = directMotion(motion, t);
        const { gain, lagRad } = at(m.revPerS);
        return gain * Math.cos(TAU * m.rev - lagRad);
      });
      expect(share).toBeLessThan(1e-9);
      const tone: Component = {
        kind: "tone",
        frequencyHz: 41,
        quantity: "acceleration",
        amplitudePk: 1,
        phaseLagRad: 0,
      };
      const toned = written(channelSignal([tone], { frontEnd }), motion, 20);
      const { gain, lagRad } = at(41);
      expect(worstShare(toned, (t) => gain * Math.cos(TAU * 41 * t - lagRad))).toBeLessThan(1e-9);
    },
  );

  it("[WAVE-035] a rotor passes the front end as its steady response does", () => {
    const frontEnd: Response = {
      kind: "filters",
      highPassOrder: 2,
      highPassHz: 20,
      lowPassOrder: 0,
      lowPassHz: 0,
      delayS: 1e-3,
    };
    const rotor: Component = {
      kind: "rotor",
      shaft: 0,
      modalMassKg: 10,
      naturalHz: 50,
      dampingRatio: 0.1,
      unbalance: [{ timeS: 0, kgM: 0.01, angleRad: 0.6 }],
    };
    const f = 35;
    const motion = shaftMotion({ speed: [{ timeS: 0, revPerS: f }], startAngleRev: 0 });
    const found = written(channelSignal([rotor], { frontEnd }), motion, 50);
    const r = f / 50;
    const size = (0.001 * r * r * (TAU * f) ** 2) / Math.hypot(1 - r * r, 0.2 * r);
    const { gain, lagRad } = butterworth(2, f / 20, true);
    const lag = 0.6 + Math.atan2(0.2 * r, 1 - r * r) + lagRad + TAU * f * 1e-3 - Math.PI;
    expect(worstShare(found, (t) => size * gain * Math.cos(TAU * f * t - lag))).toBeLessThan(1e-8);
  });

  it("[WAVE-036] a front end of an order that does not exist is refused", () => {
    const filters = { highPassOrder: 5, highPassHz: 1, lowPassOrder: 0, lowPassHz: 1, delayS: 0 };
    const frontEnd: Response = { kind: "filters", ...filters };
    const tone: Component = {
      kind: "tone",
      frequencyHz: 5,
      quantity: "velocity",
      amplitudePk: 1,
      phaseLagRad: 0,
    };
    expect(() => written(channelSignal([tone], { frontEnd }), shaftMotion(), 1)).toThrow("order 5");
  });
});
