// The tachometer: the firmware's stage alone, the whole firmware, and the truth's wheel.
import { beforeAll, expect } from "vitest";
import { COUNTER_EDGES_EARLY, COUNTER_EDGES_MISSED } from "../../../shared/layout.ts";
import { INDEX_MISSING_TOOTH, INDEX_NONE } from "../../../shared/units.ts";
import { MotionTruth } from "../../../harness/truth/shaft-motion.ts";
import { WheelTruth } from "../../../harness/truth/wheel-truth.ts";
import {
  edgeTicks,
  lastOf,
  orders,
  phaseLagDeg,
  runCore,
  turning,
} from "../../assembly/kit/core-run.ts";
import { profileOf } from "../../assembly/kit/plain-profile.ts";
import { ticksOf, wheelEdges, withGlitch } from "../../assembly/kit/tach-edges.ts";
import { TachStage, tachCompile } from "../../assembly/kit/tach-stage.ts";
import { levelsOf, playScene } from "../../kit/play-scene.ts";
import {
  channelProfile,
  filterProfile,
  fittedWheel,
  monitorProfile,
  oneShaftScene,
  orderComponent,
  scene,
  shaftMotion,
  shaftProfile,
} from "../../kit/scene-builder.ts";
import { check, near, nearBy, trap } from "../check.ts";
import { phaseErrorDeg, vectorError } from "../core-bounds.ts";
import { siValue } from "./units.ts";

let module: WebAssembly.Module;
beforeAll(async () => {
  module = await tachCompile();
});

/** f32: rounding of the intervals, their quotient, and counts over 2^24. */
const F32 = 4 * 2 ** -24;

/** Speed in r/min that the stage reads off edges so many ticks apart. */
function readRpm(clockHz: number, positions: number, ticks: number): number {
  const stage = new TachStage(module, {
    clockHz,
    positions,
    speedMin: 0.01,
    speedMax: 500,
    timeoutTicks: 10 * ticks,
    lockRevolutions: 2,
  });
  stage.feed(Array.from({ length: 4 * positions + 4 }, (_, i) => 5 + i * ticks));
  expect(stage.isLocked).toBe(true);
  return stage.speed * 60;
}

check("T-01", "320 000 counts at 3000 r/min, one pulse, 16 MHz: 3.125e-6 a count", () => {
  near(readRpm(16e6, 1, 320_000), 3000, F32);
  near(readRpm(16e6, 60, 16_000), 1000, F32);
  // f32 has steps of 6e-8: a count more shows to 2 % of itself.
  const share = 1 - readRpm(16e6, 1, 320_001) / 3000;
  near(share, 3.125e-6, (2 * F32) / 3.125e-6);
  near(1 - readRpm(16e6, 60, 16_001) / 1000, 6.25e-5, (2 * F32) / 6.25e-5 + 1e-4);
});
trap(
  "T-01",
  "a count is a tenth of the 0.003125 % and 0.0625 % that the percent column says",
  () => {
    const one = 1 - readRpm(16e6, 1, 320_001) / 3000;
    const many = 1 - readRpm(16e6, 60, 16_001) / 1000;
    near(one / (0.003125 / 100), 0.1, (2 * F32) / 3.125e-6);
    near(many / (0.0625 / 100), 0.1, (2 * F32) / 6.25e-5 + 1e-4);
  },
);
check("T-02", "12 500 counts at 4800 r/min and 1 MHz; 208 or 209 on a wheel of 60", () => {
  near(readRpm(1e6, 1, 12_500), 4800, F32);
  near(4800 - readRpm(1e6, 1, 12_501), 0.384, (4800 * F32) / 0.384 + 1e-4);
  nearBy(readRpm(1e6, 60, 208), 4807.6923, 4808 * F32 + 5e-5);
  nearBy(readRpm(1e6, 60, 209), 4784.689, 4785 * F32 + 5e-5);
  // 23.04 and 1.44 r/min a count are the slope K/n² at n = 208.333 and 3333.333 counts; from n₁ to
  // n₁ + 1 the reading falls by K/(n₁·(n₁ + 1)).
  for (const [clockHz, perCount, n1, n] of [
    [1e6, 23.04, 208, 625 / 3],
    [16e6, 1.44, 3333, 10_000 / 3],
  ] as const) {
    const fall = readRpm(clockHz, 60, n1) - readRpm(clockHz, 60, n1 + 1);
    near((fall * n1 * (n1 + 1)) / n ** 2, perCount, (4808 * 2 * F32) / perCount);
  }
});

check(
  "T-03",
  "100 pulses a revolution: 600 ms at 1 r/min, 200 µs at 3000, 25 counts of 125 kHz",
  () => {
    const gapS = (rpm: number): number => {
      const motion = shaftMotion({
        speed: [{ timeS: 0, revPerS: rpm / 60 }],
        wheel: fittedWheel({ positions: 100 }),
      });
      const truth = new MotionTruth(motion);
      const shaft = shaftProfile({ positions: 100 });
      const play = scene({ profile: monitorProfile({ shafts: [shaft] }), shafts: [motion] });
      const wheel = new WheelTruth(play, 0, truth);
      return wheel.positionTimeS(2) - wheel.positionTimeS(1);
    };
    near(gapS(1), 0.6, 1e-12);
    near(gapS(3000), 200e-6, 1e-9);
    near(readRpm(125_000, 100, 25), 3000, F32);
  },
);

check(
  "T-05",
  "a capture of 32 bits wraps after 268.435456 s of 16 MHz, and nothing shows it",
  async () => {
    expect(2 ** 32 / 16e6).toBe(268.435456);
    const profile = monitorProfile({
      clockHz: 16_000_000,
      sampleRateHz: 1000,
      channels: [channelProfile({ quantity: "velocity" })],
      filters: [filterProfile({ unit: "m/s", levelFactor: 1 })],
    });
    const play = oneShaftScene({
      profile,
      durationS: 272,
      speed: [{ timeS: 0, revPerS: 10 }],
      components: [orderComponent(1, 1, 30, "velocity")],
    });
    const played = await playScene(play);
    const levels = levelsOf(played).filter((one) => one.tick > 265 * 16e6);
    expect(levels.some((one) => one.tick > 2 ** 32)).toBe(true);
    // A tick in each of two revolutions of a tenth of a second, f32.
    const error = vectorError([{ pk: 1, hz: 10 }], 10, 1000, 16e6);
    for (const one of levels) {
      near(one.speedRevPerS, 10, 10 / 16e6 + 2 * F32);
      nearBy(one.level, 1, error);
    }
    expect(played.counters.edgesEarly[0]! + played.counters.edgesIrregular[0]!).toBe(0);
    expect(played.counters.referenceLost[0]).toBe(0);
  },
);
check("T-06", "00000100 less FFFFFF00, modulo 2^32, is 512", () => {
  const stage = new TachStage(module, { clockHz: 1e5, positions: 1, timeoutTicks: 4000 });
  const last = 2 ** 32 + 0x100;
  stage.feed([last - 3 * 512, last - 2 * 512, 0xffffff00, last]);
  expect(stage.isLocked).toBe(true);
  near(stage.speed, 1e5 / 512, F32);
});

check("T-07", "an edge late by 1 µs turns the phase by 0.0288° at 4800 r/min", async () => {
  const wheel = { positions: 1 };
  const phaseAt = async (revPerS: number, lateS: number): Promise<number> => {
    const profile = profileOf(wheel);
    const shaft = turning(revPerS);
    const edges = [
      edgeTicks(shaft, wheel, 3, profile.clockHz).map((tick) => tick + lateS * profile.clockHz),
    ];
    const signals = [orders(shaft, [{ order: 1, amplitudePk: 1, phaseLagDeg: 100 }])];
    const { levels } = await runCore({ profile, edges, signals, durationS: 3 });
    return phaseLagDeg(lastOf(levels));
  };
  for (const [rpm, lateS, deg] of [
    [4800, 1e-6, 0.0288],
    [4800, 1e-5, 0.288],
    [6000, 5e-5, 1.8],
  ] as const) {
    const revPerS = rpm / 60;
    // oxlint-disable-next-line no-await-in-loop
    const turned = (await phaseAt(revPerS, 0)) - (await phaseAt(revPerS, lateS));
    nearBy(turned, deg, 2 * phaseErrorDeg([{ pk: 1, hz: revPerS }], revPerS, 1));
  }
});

check("T-10", "a missing tooth leaves a gap of 2 pitches, which is the index", () => {
  const ticks = ticksOf(
    wheelEdges({ positions: 36, index: INDEX_MISSING_TOOTH, turns: 4, revPerS: 80 }),
  );
  const pitch = 80e6 / 80 / 36;
  const gaps = ticks.slice(1).map((tick, i) => (tick - ticks[i]!) / pitch);
  // Floors of two captures: a tick each.
  for (const gap of gaps) nearBy(gap, gap > 1.5 ? 2 : 1, 2 / pitch);
  expect(gaps.filter((gap) => gap > 1.5).length).toBe(4 - 1);
  const stage = new TachStage(module, { positions: 36, index: INDEX_MISSING_TOOTH });
  stage.feed(ticks);
  expect(stage.starts).toHaveLength(1);
  expect(stage.starts[0]!.positions).toBe(2);
  expect(stage.counter(COUNTER_EDGES_MISSED)).toBe(0);
});
check("T-10", "a gap of 1.4 pitches is no index", () => {
  const edges = wheelEdges({ positions: 36, index: INDEX_NONE, turns: 6, revPerS: 80 });
  const late = withGlitch(edges, 100.4).filter((edge) => edge.place !== 101);
  const stage = new TachStage(module, { positions: 36, index: INDEX_MISSING_TOOTH });
  stage.feed(ticksOf(late));
  expect(stage.isLocked).toBe(false);
  expect(stage.counter(COUNTER_EDGES_EARLY)).toBe(0);
});

check("T-11", "4800 r/min are 80 Hz and 12.5 ms a revolution; 6000 are 100 Hz", () => {
  expect(siValue("4800 r/min", "speed")).toBe(80);
  expect(siValue("6000 r/min", "speed")).toBe(100);
  const speed = [{ timeS: 0, revPerS: siValue("4800 r/min", "speed") }];
  const motion = new MotionTruth({ speed, startAngleRev: 0, ripple: [] });
  expect(motion.timeAt(1)).toBe(0.0125);
});

check(
  "O-04",
  "constant speed taken over 12.5 ms of a run-up of 10 rev/s² errs by 0.0703125°",
  () => {
    const speed = [
      { timeS: 0, revPerS: 70 },
      { timeS: 2, revPerS: 90 },
    ];
    const motion = new MotionTruth({ speed, startAngleRev: 0, ripple: [] });
    const T = 1 / 80;
    const straight = (motion.angleAt(1 - T / 2) + motion.angleAt(1 + T / 2)) / 2;
    // Angles of 75 revolutions carry 2^-46 each.
    nearBy((straight - motion.angleAt(1)) * 360, 0.0703125, 360 * 2 ** -44);
  },
);

check("O-06", "an eccentric wheel: the order keeps J0, its neighbour gets J1", async () => {
  const rows = [
    [0.1, 0.997501562, 0.049937526],
    [0.5, 0.938469807, 0.242268458],
    [1, 0.765197687, 0.440050586],
  ] as const;
  const positions = 251;
  const order = 10;
  for (const [beta, carrier, side] of rows) {
    const profile = monitorProfile({
      channels: [channelProfile({ quantity: "velocity" })],
      shafts: [
        shaftProfile({
          positions,
          // As many knots as positions: at most 8 a sample.
          speedMaxRevPerS: 50,
          accelerationMaxRevPerS2: 300,
        }),
      ],
      filters: [order, order + 1].map((one) =>
        filterProfile({ order: one, unit: "m/s", levelFactor: 1 }),
      ),
    });
    const play = oneShaftScene({
      profile,
      durationS: 4,
      speed: [{ timeS: 0, revPerS: 10 }],
      wheel: { eccentricityRev: beta / order / (2 * Math.PI) },
      components: [orderComponent(order, 1, 0, "velocity")],
    });
    // oxlint-disable-next-line no-await-in-loop
    const played = await playScene(play);
    // Without an index a revolution starts at any tooth, which turns the phase but no level. The
    // image, 20 orders up, reaches J20 and J21 of the error: nothing. A quadratic through a knot a
    // tooth misses 0.385/6·(2π/251)³ of the error β.
    const knots = 2 * beta * (0.385 / 6) * ((2 * Math.PI) / positions) ** 3;
    const share = knots + vectorError([{ pk: 1, hz: 11 * 10 }], 10) + 5e-10;
    nearBy(levelsOf(played, 0).at(-1)!.level, carrier, share);
    nearBy(levelsOf(played, 1).at(-1)!.level, side, share);
  }
});
