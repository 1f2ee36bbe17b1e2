import { describe, expect, it } from "vitest";
import type { ShaftMotion, TachFault } from "../../../harness/scene/scene.ts";
import { makeWaveform } from "../../../harness/waveform/waveform.ts";
import { channelSignal, scene, shaftMotion } from "../../kit/scene-builder.ts";
import { TEST_SEED } from "../../kit/seed.ts";
import { drawn } from "./batches.ts";
import { directMotion, directTime } from "./direct.ts";

const CLOCK_HZ = 80_000_000;

const plainWheel: ShaftMotion["wheel"] = {
  positions: 1,
  revolutions: 1,
  index: "none",
  eccentricityRev: 0,
  jitterS: 0,
};

function edgesOf(motion: ShaftMotion, durationS = 1, seed = TEST_SEED): number[] {
  return drawn(scene({ durationS, seed, shafts: [motion], channels: [channelSignal([])] }))
    .edges[0]!;
}

/** Edges worked out one by one: places of the wheel, then bisection of the true angle. */
function directEdges(motion: ShaftMotion, durationS: number): number[] {
  const { positions, revolutions, index, eccentricityRev, badTooth } = motion.wheel;
  const ticks: number[] = [];
  const place = (position: number): number =>
    (position * revolutions) / positions +
    eccentricityRev * Math.sin((2 * Math.PI * position) / positions) +
    (badTooth !== undefined && badTooth.position === position ? badTooth.offsetRev : 0);
  const from = directMotion(motion, 0).rev;
  const until = directMotion(motion, durationS).rev;
  for (let cycle = Math.floor(from / revolutions) - 1; cycle * revolutions < until; cycle += 1) {
    const places = Array.from({ length: positions }, (_, i) => i);
    if (index === "missing-tooth") places.pop();
    if (index === "extra-edge") places.push(positions - 0.5);
    for (const position of places) {
      const rev = cycle * revolutions + place(position);
      if (rev < from || rev >= until) continue;
      ticks.push(directTime(motion, rev, durationS) * CLOCK_HZ);
    }
  }
  return ticks;
}

const ramp = [
  { timeS: 0, revPerS: 11.3 },
  { timeS: 0.313, revPerS: 47.7 },
  { timeS: 0.7004, revPerS: 19.1 },
];

const WHEELS: [name: string, motion: Partial<ShaftMotion>, wheel: Partial<ShaftMotion["wheel"]>][] =
  [
    ["one a revolution", {}, {}],
    ["one a revolution with an extra edge", {}, { index: "extra-edge" }],
    ["sixty", {}, { positions: 60 }],
    ["52 less one", {}, { positions: 52, index: "missing-tooth" }],
    ["36 and an extra edge", {}, { positions: 36, index: "extra-edge" }],
    ["255", {}, { positions: 255 }],
    ["geared, 7 in 3 revolutions", {}, { positions: 7, revolutions: 3 }],
    ["geared, 120 in 7 revolutions", {}, { positions: 120, revolutions: 7 }],
    ["an eccentric wheel", {}, { positions: 24, eccentricityRev: 0.003 }],
    ["a bad tooth", {}, { positions: 24, badTooth: { position: 5, offsetRev: -0.01 } }],
    ["ripple", { ripple: [{ order: 2, amplitudeRev: 0.01 }] }, { positions: 12 }],
    [
      "two ripples, one not at a whole order",
      {
        ripple: [
          { order: 2.5, amplitudeRev: 0.01 },
          { order: 7, amplitudeRev: 0.003 },
        ],
      },
      { positions: 20, index: "missing-tooth" },
    ],
  ];

describe("edges", () => {
  it.each(WHEELS)("[WAVE-020] %s: captured within 1 tick of a bisection", (_, motion, wheel) => {
    const whole = shaftMotion({ speed: ramp, ...motion, wheel: { ...plainWheel, ...wheel } });
    const found = edgesOf(whole);
    const right = directEdges(whole, 1);
    expect(found.length).toBe(right.length);
    let worst = 0;
    for (const [i, tick] of found.entries()) {
      worst = Math.max(worst, Math.abs(tick + 0.5 - right[i]!));
    }
    // floor takes half a tick either way from its middle; f64 angles and times take the rest.
    expect(worst).toBeLessThan(0.51);
  });

  it("[WAVE-021] an edge whose time is a whole tick is captured on that tick", () => {
    for (const [revPerS, positions] of [
      [80, 1],
      [100, 8],
      [64, 50],
    ] as const) {
      const speed = [{ timeS: 0, revPerS }];
      const wheel = { ...plainWheel, positions };
      const edges = edgesOf(shaftMotion({ startAngleRev: 0, speed, wheel }), 0.5);
      const pitch = CLOCK_HZ / (revPerS * positions);
      expect(edges).toEqual(Array.from({ length: (revPerS * positions) / 2 }, (_, i) => i * pitch));
    }
  });

  it("[WAVE-022] a shaft that stops and starts again gives no edge while at rest", () => {
    const speed = [
      { timeS: 0, revPerS: 20 },
      { timeS: 1, revPerS: 0 },
      { timeS: 3, revPerS: 0 },
      { timeS: 4, revPerS: 20 },
    ];
    const motion = shaftMotion({ startAngleRev: 0, speed, wheel: { ...plainWheel, positions: 4 } });
    const edges = edgesOf(motion, 4);
    // 10 revolutions down, 10 up; the one at rest, at angle 10, comes once.
    expect(edges.length).toBe(80);
    expect(edges.filter((tick) => tick > 1.001 * CLOCK_HZ && tick < 3 * CLOCK_HZ)).toEqual([]);
  });

  it("[WAVE-023] hours later edges are where they were", () => {
    const speed = [
      { timeS: 0, revPerS: 0 },
      { timeS: 35_000, revPerS: 0 },
      { timeS: 35_000, revPerS: 64 },
    ];
    const wheel = { ...plainWheel, positions: 50 };
    const source = makeWaveform(
      scene({
        durationS: 35_001,
        profile: { ...scene().profile, sampleRateHz: 100 },
        shafts: [shaftMotion({ startAngleRev: 0, speed, wheel })],
        channels: [channelSignal([])],
      }),
    );
    const edges: number[] = [];
    for (let batch = source.next(65536); batch !== undefined; batch = source.next(65536)) {
      edges.push(...batch.edges[0]!);
    }
    const first = 35_000 * CLOCK_HZ;
    expect(edges).toEqual(Array.from({ length: 3200 }, (_, i) => first + i * 25_000));
  });

  it("[WAVE-024] jitter is Gaussian of the stated rms, and edges stay in order", () => {
    const speed = [{ timeS: 0, revPerS: 100 }];
    const jitterS = 20e-6;
    const motion = (jitter: number): ShaftMotion =>
      shaftMotion({ speed, wheel: { ...plainWheel, positions: 20, jitterS: jitter } });
    const found = edgesOf(motion(jitterS), 10);
    const right = edgesOf(motion(0), 10);
    const count = Math.min(found.length, right.length);
    expect(Math.abs(found.length - right.length)).toBeLessThanOrEqual(1);
    let sum = 0;
    let squares = 0;
    for (let i = 0; i < count; i += 1) {
      const miss = (found[i]! - right[i]!) / (jitterS * CLOCK_HZ);
      sum += miss;
      squares += miss * miss;
    }
    // 20,000 draws: mean ± 1/√N, variance ± √(2/N), each times 6.
    expect(Math.abs(sum / count)).toBeLessThan(6 / Math.sqrt(count));
    expect(Math.abs(squares / count - 1)).toBeLessThan(6 * Math.sqrt(2 / count));
  });

  it("[WAVE-025] edges that jitter past each other are put in order, whatever the batches", () => {
    const wheel = { ...plainWheel, positions: 200, jitterS: 200e-6 };
    const motion = shaftMotion({ speed: [{ timeS: 0, revPerS: 50 }], wheel });
    const one = scene({ seed: TEST_SEED, durationS: 0.5, shafts: [motion] });
    const whole = drawn(one).edges[0]!;
    expect(drawn(one, [1, 17, 300]).edges[0]).toEqual(whole);
    expect(whole.every((tick, i) => i === 0 || tick > whole[i - 1]!)).toBe(true);
    // 5,000 places; a few share a tick or leave at the two ends.
    expect(whole.length).toBeGreaterThan(4900);
    expect(whole.length).toBeLessThanOrEqual(5020);
  });

  it("[WAVE-026] a wheel or ripple that would run backwards is refused", () => {
    const wheel = { ...plainWheel, positions: 10, badTooth: { position: 3, offsetRev: 0.11 } };
    expect(() => edgesOf(shaftMotion({ wheel }))).toThrow("past the next");
    const ripple = [{ order: 4, amplitudeRev: 0.04 }];
    expect(() => edgesOf(shaftMotion({ ripple }))).toThrow("backwards");
  });
});

/** 10 rev/s, 10 positions: an edge each 10 ms from 0 on. */
function faulted(faults: TachFault[], wheel: Partial<ShaftMotion["wheel"]> = {}): number[] {
  const speed = [{ timeS: 0, revPerS: 10 }];
  const whole = { ...plainWheel, positions: 10, ...wheel };
  const motion = shaftMotion({ startAngleRev: 0, speed, faults, wheel: whole });
  return edgesOf(motion, 0.5).map((tick) => tick / (CLOCK_HZ / 1000));
}

const every10Ms = Array.from({ length: 50 }, (_, i) => i * 10);
const without = (...gone: number[]): number[] => every10Ms.filter((ms) => !gone.includes(ms));
const withAlso = (base: number[], ...more: number[]): number[] =>
  [...base, ...more].sort((a, b) => a - b);

const FAULTS: [
  name: string,
  faults: TachFault[],
  wheel: Partial<ShaftMotion["wheel"]>,
  edgesMs: number[],
][] = [
  ["glitch", [{ kind: "glitch", atS: 0.101, fraction: 0.3 }], {}, withAlso(every10Ms, 113)],
  [
    "glitch on the very edge",
    [{ kind: "glitch", atS: 0.1, fraction: 0.3 }],
    {},
    withAlso(every10Ms, 103),
  ],
  [
    "two glitches after one edge",
    [
      { kind: "glitch", atS: 0.101, fraction: 0.7 },
      { kind: "glitch", atS: 0.102, fraction: 0.2 },
    ],
    {},
    withAlso(every10Ms, 112, 117),
  ],
  ["missed", [{ kind: "missed", atS: 0.195, count: 3 }], {}, without(200, 210, 220)],
  [
    "missed position",
    [{ kind: "missed-position", atS: 0.15, position: 3, count: 2 }],
    {},
    without(230, 240),
  ],
  [
    "missed beside the gap",
    [{ kind: "missed-position", atS: 0.15, position: 9, count: 1 }],
    { index: "missing-tooth" },
    without(90, 190, 290, 390, 490, 200),
  ],
  [
    "glitch position, in the gap",
    [{ kind: "glitch-position", atS: 0.15, position: 9, fraction: 0.5 }],
    { index: "missing-tooth" },
    withAlso(without(90, 190, 290, 390, 490), 195),
  ],
  ["drop-out", [{ kind: "drop-out", fromS: 0.1, untilS: 0.13 }], {}, without(100, 110, 120)],
  [
    "index lost, tooth",
    [{ kind: "index-lost", fromS: 0.15, untilS: 0.35 }],
    { index: "missing-tooth" },
    without(90, 390, 490),
  ],
  [
    "index lost, extra edge",
    [{ kind: "index-lost", fromS: 0.15, untilS: 0.35 }],
    { index: "extra-edge" },
    withAlso(every10Ms, 95, 395, 495),
  ],
  [
    "missed with an extra edge, which counts",
    [{ kind: "missed", atS: 0.085, count: 2 }],
    { index: "extra-edge" },
    withAlso(without(90), 195, 295, 395, 495),
  ],
];

describe("tachometer faults", () => {
  it.each(FAULTS)("[WAVE-027] %s", (_, faults, wheel, edgesMs) => {
    expect(faulted(faults, wheel)).toEqual(edgesMs);
  });

  it("[WAVE-028] a fault leaves the jitter of the other edges as it was", () => {
    const wheel = { jitterS: 1e-5 };
    const plain = faulted([], wheel);
    const missed = faulted([{ kind: "missed", atS: 0.195, count: 3 }], wheel);
    expect(missed.length).toBe(plain.length - 3);
    expect(missed.every((ms) => plain.includes(ms))).toBe(true);
  });

  it("[WAVE-029] a fault that could never come is refused", () => {
    const position: TachFault = { kind: "missed-position", atS: 0, position: 10, count: 1 };
    expect(() => faulted([position])).toThrow("position 10 of a wheel of 10");
    expect(() => faulted([{ kind: "glitch", atS: 0, fraction: 0 }])).toThrow("more than 0");
  });
});
