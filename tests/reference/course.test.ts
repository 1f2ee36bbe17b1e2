// Run-ups, angles, rotor and chance: the product's own against SciPy's quadrature, splines, solver of
// equations of motion and distributions.
import { describe, expect, it } from "vitest";
import { FLAG_SETTLED } from "../../shared/layout.ts";
import { LAYER_AREA, TAIL_START, gaussianOf } from "../../harness/random/gaussian.ts";
import { randomStream, waitOf } from "../../harness/random/stream.ts";
import { rectangular } from "../../harness/box/decision.ts";
import { scaleAt } from "../../harness/judge/number-interval.ts";
import type { Component } from "../../harness/scene/scene.ts";
import { carriersOf } from "../../harness/truth/carriers.ts";
import { boundaryTimeS, CycleVectors } from "../../harness/truth/cycle-vectors.ts";
import { randomFactor } from "../../harness/truth/random-factor.ts";
import { RotorTruth } from "../../harness/truth/rotor-amplitude.ts";
import { MotionTruth } from "../../harness/truth/shaft-motion.ts";
import { makeWaveform } from "../../harness/waveform/waveform.ts";
import * as L from "../../shared/layout.ts";
import { openStage, STAGE_BUILDS, writeFields } from "../assembly/kit/stage.ts";
import { levelsOf, playScene } from "../kit/play-scene.ts";
import {
  channelProfile,
  channelSignal,
  filterProfile,
  fittedWheel,
  monitorProfile,
  orderWith,
  scene,
  shaftMotion,
  shaftProfile,
} from "../kit/scene-builder.ts";
import { TEST_SEED } from "../kit/seed.ts";
import { vectorError } from "../published/core-bounds.ts";
import { F32, F64, near, nearBy, nearPair, SCIPY } from "./golden.ts";

const { ramp, dwell, motion, statistics, rotor } = SCIPY;
const TAU = 2 * Math.PI;

const rampSpeed = [
  { timeS: 0, revPerS: ramp.fromRevPerS },
  { timeS: ramp.durationS, revPerS: ramp.fromRevPerS + ramp.revPerS2 * ramp.durationS },
];
const rampSignal = channelSignal([
  orderWith(
    { kind: "constant", amplitudePk: ramp.amplitudePk, phaseLagRad: ramp.lagRad },
    { quantity: "velocity" },
  ),
  {
    kind: "tone",
    frequencyHz: ramp.toneHz,
    quantity: "velocity",
    amplitudePk: ramp.tonePk,
    phaseLagRad: ramp.toneLagRad,
  },
]);

describe("a run-up with a tone of fixed frequency", () => {
  it("[LIB-007] the truth's vectors are those of quadrature over the angle", () => {
    const given = { speed: rampSpeed, startAngleRev: ramp.startRev, ripple: [] };
    const truth = new MotionTruth(given);
    const grid = { shaft: 0, motion: truth, cycleRev: 1, offsetRev: 0, order: 1 };
    const carriers = carriersOf(rampSignal, "velocity", [truth], ramp.rateHz);
    const vectors = new CycleVectors(grid, carriers);
    for (const { closesS, vector } of ramp.rows) {
      const closing = Math.round(truth.angleAt(closesS));
      const [from, middle, until] = [-2, -1, 0].map((c) => boundaryTimeS(grid, closing + c));
      nearBy(until!, closesS, 1e-13);
      const z = { re: 0, im: 0 };
      vectors.vector(closing - 1, from!, middle!, until!, z);
      // 1e-10 stated, of the largest component.
      nearPair(z, vector, 1e-10 * ramp.tonePk, `${closesS} s`);
    }
    expect(ramp.rows.length).toBeGreaterThan(50);
  });

  it("[LIB-007] and at a steady speed, where the truth has a closed form", () => {
    const speed = [{ timeS: 0, revPerS: dwell.revPerS }];
    const truth = new MotionTruth({ speed, startAngleRev: dwell.startRev, ripple: [] });
    const grid = { shaft: 0, motion: truth, cycleRev: 1, offsetRev: 0, order: 1 };
    const vectors = new CycleVectors(
      grid,
      carriersOf(rampSignal, "velocity", [truth], ramp.rateHz),
    );
    dwell.middles.forEach((middle, i) => {
      const [from, at, until] = [-1, 0, 1].map((c) => boundaryTimeS(grid, middle + c));
      const z = { re: 0, im: 0 };
      vectors.vector(middle, from!, at!, until!, z);
      nearPair(z, dwell.vectors[i]!, 1e-10 * ramp.tonePk, `${middle}`);
    });
  });

  it("[LIB-007] the firmware's levels are those of quadrature, and of a spline over its samples", async () => {
    const wheel = { positions: 36, index: "missing-tooth" } as const;
    const profile = monitorProfile({
      sampleRateHz: ramp.rateHz,
      // A step about as often as a revolution.
      displayPeriodS: 0.02,
      channels: [channelProfile({ quantity: "velocity" })],
      shafts: [shaftProfile(wheel)],
      filters: [
        filterProfile({
          unit: "m/s",
          levelFactor: 1,
          bandwidth: { kind: "fixed", fullWidthHz: ramp.widthHz },
        }),
      ],
    });
    const play = scene({
      profile,
      durationS: ramp.durationS,
      shafts: [
        shaftMotion({
          speed: rampSpeed,
          startAngleRev: ramp.startRev,
          wheel: fittedWheel(wheel),
        }),
      ],
      channels: [rampSignal],
    });
    const levels = levelsOf(await playScene(play)).filter(
      (one) => (one.flags & FLAG_SETTLED) !== 0,
    );
    const fastest = rampSpeed[1]!.revPerS;
    const seen = [
      { pk: ramp.amplitudePk, hz: fastest },
      { pk: ramp.tonePk, hz: ramp.toneHz },
    ];
    // Between two of twelve knots a revolution the phase runs in a straight line: a parabola of
    // π·a·S²/6 at most is left, its mean taken out, on all that does not stand still in it: the
    // tone, and the order's image.
    const segmentS = 1 / 12 / ramp.fromRevPerS;
    const parabola = (Math.PI * ramp.revPerS2 * segmentS ** 2) / 6;
    const error =
      vectorError(seen, fastest, ramp.rateHz) + parabola * (ramp.tonePk + ramp.amplitudePk);
    expect(error).toBeLessThan(6e-5);
    let compared = 0;
    for (const row of ramp.rows) {
      const level = levels.find(
        (one) => Math.abs((one.tick - one.ageTicks) / profile.clockHz - row.closesS) < 1e-4,
      );
      if (level === undefined) continue;
      compared += 1;
      nearPair(level, row.level, error, `${row.closesS} s`);
      // Samples of 3 pk in f32, here and there.
      nearPair(level, row.resampled, error + 3 * F32, `${row.closesS} s, resampled`);
    }
    expect(compared).toBeGreaterThan(50);
  });
});

describe("angles and tables", () => {
  it("[LIB-008] angle and time of a course with ripple are those of quadrature and root", () => {
    const speed = motion.timeS.map((timeS, i) => ({ timeS, revPerS: motion.revPerS[i]! }));
    const ripple = [{ order: motion.rippleOrder, amplitudeRev: motion.rippleRev }];
    const truth = new MotionTruth({ speed, startAngleRev: motion.startRev, ripple });
    motion.times.forEach((timeS, i) => near(truth.angleAt(timeS), motion.angles[i]!, 16 * F64));
    // The root is good to 1e-14 there.
    motion.revolutions.forEach((rev, i) => nearBy(truth.timeAt(rev), motion.reached[i]!, 3e-14));
  });

  it("[LIB-008] a scale over speed is numpy's interpolation, in the judge and the firmware", async () => {
    const { speeds, factors } = motion.scale;
    const scale = speeds.map((speedRevPerS, i) => ({ speedRevPerS, factor: factors[i]! }));
    motion.asked.forEach((speed, i) => near(scaleAt(scale, speed), motion.scaled[i]!, 8 * F64));
    for (const build of STAGE_BUILDS) {
      // oxlint-disable-next-line no-await-in-loop
      const { run, view } = await openStage(build);
      writeFields(view, run.addressDisplay(), [
        [L.DISPLAY_SCALE_COUNT, "i32", scale.length],
        ...scale.flatMap(({ speedRevPerS, factor }, i) => {
          const at = L.DISPLAY_SCALE + i * L.SCALE_POINT_BYTES;
          return [
            [at, "f32", speedRevPerS] as [number, "f32", number],
            [at + 4, "f32", factor] as [number, "f32", number],
          ];
        }),
      ]);
      // Factors, speed and five operations.
      motion.asked.forEach((speed, i) => near(run.stageScale(speed), motion.scaled[i]!, 16 * F32));
    }
  });
});

/** Pearson's sum over equally likely cells. */
function chiSquare(edges: readonly number[], count: number, next: () => number): number {
  const cells = Array.from({ length: edges.length + 1 }, () => 0);
  for (let i = 0; i < count; i += 1) {
    const value = next();
    let [low, high] = [0, edges.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (value < edges[middle]!) high = middle;
      else low = middle + 1;
    }
    cells[low]! += 1;
  }
  const expected = count / cells.length;
  return cells.reduce((sum, one) => sum + (one - expected) ** 2 / expected, 0);
}

describe("chance against scipy.stats", () => {
  it("[LIB-009] noise is normal, waits are exponential, by 64 cells of 6250 each", () => {
    const stream = randomStream(TEST_SEED, 3);
    const most = statistics.chiSquareMost;
    expect(chiSquare(statistics.normalEdges, 400_000, () => gaussianOf(stream))).toBeLessThan(most);
    expect(chiSquare(statistics.waitEdges, 400_000, () => waitOf(stream))).toBeLessThan(most);
    // Noise that is a fiftieth too wide would be told: its sum grows by 2·0.02² a number.
    const wide = (): number => 1.02 * gaussianOf(stream);
    expect(chiSquare(statistics.normalEdges, 800_000, wide)).toBeGreaterThan(most);
  });

  it("[LIB-009] the factor on random terms is a quantile of Rayleigh's distribution", () => {
    statistics.looks.forEach(([durationS, displayPeriodS, trackers], i) => {
      near(randomFactor(durationS, displayPeriodS, trackers), statistics.factors[i]!, 1e-12);
    });
  });

  it("[LIB-009] the ziggurat's layers and a rectangular uncertainty are as defined", () => {
    expect(TAIL_START).toBe(statistics.zigguratTail);
    // Fifteen digits are written.
    near(LAYER_AREA, statistics.zigguratArea, 1e-13);
    near(rectangular(1), statistics.rectangular, 4 * F64);
  });
});

describe("a rotor run through its resonance", () => {
  const component: Component & { kind: "rotor" } = {
    kind: "rotor",
    shaft: 0,
    modalMassKg: 2,
    naturalHz: rotor.naturalHz,
    dampingRatio: rotor.zeta,
    unbalance: [{ timeS: 0, kgM: 2, angleRad: 0 }],
  };
  const speed = [
    { timeS: 0, revPerS: rotor.fromRevPerS },
    { timeS: rotor.durationS, revPerS: rotor.toRevPerS },
  ];
  const truthMotion = new MotionTruth({ speed, startAngleRev: 0, ripple: [] });
  const greatest = (pairs: readonly (readonly [number, number])[]): number =>
    Math.max(...pairs.map((one) => Math.hypot(...one)));

  it("[LIB-010] the truth's displacement and velocity are those of DOP853", () => {
    const truth = new RotorTruth(component, truthMotion);
    for (const [derivatives, wanted] of [
      [0, rotor.displacements],
      [1, rotor.velocities],
    ] as const) {
      rotor.times.forEach((timeS, i) => {
        const z = { re: 0, im: 0 };
        truth.amplitudeAt(timeS, derivatives, z);
        // 1e-12 a step there, over some thousand steps.
        nearPair(z, wanted[i]!, 1e-9 * greatest(wanted), `${timeS} s`);
      });
    }
  });

  it("[LIB-010] the waveform's samples stand on them", () => {
    const profile = monitorProfile({ channels: [channelProfile({ quantity: "displacement" })] });
    const channels = [channelSignal([component])];
    const shafts = [shaftMotion({ speed, startAngleRev: 0 })];
    const made = makeWaveform(scene({ profile, durationS: 3.6, shafts, channels }));
    const samples = new Float64Array(made.sampleCount);
    for (let batch = made.next(4096); batch !== undefined; batch = made.next(4096)) {
      samples.set(batch.samples[0]!, batch.firstSample);
    }
    const most = greatest(rotor.displacements);
    rotor.times.forEach((timeS, i) => {
      const [re, im] = rotor.displacements[i]!;
      const turned = TAU * truthMotion.angleAt(timeS);
      const wanted = re * Math.cos(turned) - im * Math.sin(turned);
      // The mode's steps are good for 1e-8, samples are f32.
      nearBy(samples[Math.round(timeS * 12_800)]!, wanted, (1e-8 + F32) * most, `${timeS} s`);
    });
  });
});
