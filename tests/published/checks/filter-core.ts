// The firmware's own filter, played from scenes. What may differ from the continuous filter is
// computed: the vector once a revolution, its triangle, and single precision.
import { expect } from "vitest";
import { FLAG_SETTLED } from "../../../shared/layout.ts";
import type { Bandwidth } from "../../../host/profile/types.ts";
import { SHARE_MIN } from "../../../host/profile/firmware-limits.ts";
import { noiseBandwidthHz as impliedNoiseBandwidthHz } from "../../../host/profile/implied.ts";
import type { LevelRecord } from "../../../host/record-types.ts";
import {
  discreteFullWidthHz,
  discreteGain,
  noiseBandwidthHz,
} from "../../../harness/measure/closed-forms.ts";
import type { Component, Scene } from "../../../harness/scene/scene.ts";
import { levelsOf, playScene } from "../../kit/play-scene.ts";
import {
  channelProfile,
  channelSignal,
  filterProfile,
  monitorProfile,
  orderComponent,
  orderWith,
  scene,
  shaftMotion,
  shaftProfile,
} from "../../kit/scene-builder.ts";
import { check, near, nearBy, trap } from "../check.ts";
import { phaseErrorDeg, vectorError } from "../core-bounds.ts";

const TAU = 2 * Math.PI;
/** τ times half the width between the −3 dB points of two equal poles (row F-02). */
const TAU_HALF_WIDTH = 0.643594252905583 / TAU;
const REV_PER_S = 400;
const T = 1 / REV_PER_S;

function played(components: Component[], over: Partial<Scene> = {}, bandwidth?: Bandwidth): Scene {
  const profile = monitorProfile({
    channels: [channelProfile({ quantity: "velocity" })],
    shafts: [shaftProfile({ speedMaxRevPerS: 500 })],
    filters: [
      filterProfile({
        unit: "m/s",
        levelFactor: 1,
        ...(bandwidth !== undefined && { bandwidth }),
      }),
    ],
    displayPeriodS: 0.05,
  });
  return scene({
    profile,
    durationS: 4,
    shafts: [shaftMotion({ speed: [{ timeS: 0, revPerS: REV_PER_S }], startAngleRev: 0 })],
    channels: [channelSignal(components)],
    ...over,
  });
}

const tone = (frequencyHz: number, amplitudePk: number): Component => ({
  kind: "tone",
  frequencyHz,
  quantity: "velocity",
  amplitudePk,
  phaseLagRad: 0.4,
});
const isSettled = (one: LevelRecord): boolean => (one.flags & FLAG_SETTLED) !== 0;

/** A tone's image two orders up passes the triangle at 2 + offset/n: its gain is the offset's share. */
const image = (offsetHz: number): number => (offsetHz * T) ** 2 / 4;

for (const [id, what, offsetHz, gain] of [
  ["F-02", "half a width beside the order reads 0.7071", 0.5, Math.SQRT1_2],
  ["F-20", "five pole frequencies beside reads 0.038461538", 5 * 0.776887, 0.038461538],
  ["F-20", "ten pole frequencies beside reads 0.009900990", 10 * 0.776887, 0.00990099],
] as const) {
  check(id, `firmware of 1 Hz: a tone ${what}`, async () => {
    // 0.776887 Hz is the pole's frequency: 0.5 Hz over 0.643594253.
    const play = played([tone(REV_PER_S + offsetHz, 1)], { durationS: 14 });
    const levels = levelsOf(await playScene(play)).slice(-40);
    expect(levels.every(isSettled)).toBe(true);
    const omegaT = TAU * offsetHz * T;
    // Triangle and held vector; 11 s after the start, 50 τ, nothing of it is left; f32.
    const share = omegaT ** 2 / 6 + omegaT ** 2 / 20;
    for (const one of levels) nearBy(one.level, gain, gain * share + image(offsetHz) + 2e-6);
  });
}

/** A component that steps from one amplitude to another at an index. */
function step(at: number, from: number, to: number): Component {
  const rows = [
    { timeS: 0, amplitudePk: from, phaseLagRad: 0.4 },
    { timeS: at, amplitudePk: to, phaseLagRad: 0.4 },
  ];
  return orderWith({ kind: "steps", rows }, { quantity: "velocity" });
}

check(
  "F-03",
  "firmware of 1 Hz: a step follows 1 − (1 + x)·e^(−x), 1 % left at 6.638 τ",
  async () => {
    const tauS = TAU_HALF_WIDTH / 0.5;
    const levels = levelsOf(await playScene(played([step(2, 0, 6)], { durationS: 5 })));
    // Seen at a display step: the newest revolution closed within T before it, its triangle stands T
    // earlier, and the vector is held over T. Two equal poles move by at most 1/e of a step a τ.
    const late = (3 * T) / tauS / Math.E + 2e-5;
    let compared = 0;
    for (const one of levels) {
      const x = (one.tick / 80e6 - 2 - 1.5 * T) / tauS;
      if (x < 0.1) continue;
      compared += 1;
      nearBy(one.level / 6, 1 - (1 + x) * Math.exp(-x), late);
    }
    expect(compared).toBeGreaterThan(40);
  },
);

check("F-26", "firmware of 1 Hz: a step 0 → 6 passes 4 after 2.289 τ", async () => {
  const tauS = TAU_HALF_WIDTH / 0.5;
  const levels = levelsOf(await playScene(played([step(2, 0, 6)], { durationS: 5 })));
  const over = levels.findIndex((one) => one.level >= 4);
  const [before, after] = [levels[over - 1]!, levels[over]!];
  const share = (4 - before.level) / (after.level - before.level);
  const crossingS = (before.tick + share * (after.tick - before.tick)) / 80e6;
  // The straight line between two steps of 0.05 s: period²/8 of the bend, under 1/τ² of a step, over
  // the slope there, 0.23/τ of it.
  const period = 0.05 / tauS;
  nearBy((crossingS - 2 - 1.5 * T) / tauS, 2.289281415, (1.5 * T) / tauS + period ** 2 / 8 / 0.23);
});

check("F-24", "firmware of 5 %: as many revolutions to 99 % at 100 as at 400 rev/s", async () => {
  const turnsTo99 = async (revPerS: number): Promise<number> => {
    const motion = shaftMotion({ speed: [{ timeS: 0, revPerS }], startAngleRev: 0 });
    const bandwidth = { kind: "proportional", fullWidthRatio: 0.05 } as const;
    const play = played([step(2, 0, 6)], { durationS: 4, shafts: [motion] }, bandwidth);
    const levels = levelsOf(await playScene(play));
    const first = levels.find((one) => one.level >= 0.99 * 6)!;
    const closedS = (first.tick - first.ageTicks) / 80e6;
    return (closedS - 2) * revPerS;
  };
  // Two equal poles: 6.638352068/h revolutions, h by row F-02, half a revolution late by the vector
  // held and one by the triangle. A display step, 0.05 s, may come that much later.
  const wanted = (6.638352068 * TAU_HALF_WIDTH) / 0.025;
  for (const revPerS of [100, 400]) {
    // oxlint-disable-next-line no-await-in-loop
    const turns = (await turnsTo99(revPerS)) - 0.5;
    expect(turns).toBeGreaterThanOrEqual(wanted - 1);
    expect(turns).toBeLessThanOrEqual(wanted + 1 + 0.05 * revPerS);
  }
});

check("F-19", "firmware: a companion at a whole order beside leaves nothing", async () => {
  const alone = played([orderComponent(1, 1, 20, "velocity")]);
  const both = played([
    orderComponent(1, 1, 20, "velocity"),
    orderComponent(2, 10, 70, "velocity"),
    orderComponent(3, 10, -50, "velocity"),
  ]);
  const [one, other] = [await playScene(alone), await playScene(both)];
  const levels = levelsOf(other).filter(isSettled);
  expect(levels.length).toBeGreaterThan(20);
  const seen = [
    { pk: 2, hz: REV_PER_S },
    { pk: 10, hz: 2 * REV_PER_S },
    { pk: 10, hz: 3 * REV_PER_S },
  ];
  const error = vectorError(seen, REV_PER_S);
  expect(error).toBeLessThan(10 * 1e-3);
  for (const [i, level] of levelsOf(one).filter(isSettled).entries()) {
    nearBy(levels[i]!.level, level.level, error);
  }
});

trap(
  "O-10",
  "cancellation: differences of near equal terms spoil no gain, width or noise bandwidth",
  async () => {
    // The smallest share that a profile may have, where 1 − β − βh is 5e-9.
    const T_S = 1 / REV_PER_S;
    const tauS = T_S / SHARE_MIN;
    // Each difference is good to 2^-52, of h²/2.
    const rounding = 2 ** -50 / SHARE_MIN ** 2;
    expect(rounding).toBeLessThan(1e-6);
    near(discreteGain(0, T_S, tauS), 1, rounding);
    near(discreteFullWidthHz(T_S, tauS), (2 * TAU_HALF_WIDTH) / tauS, rounding);
    near(4 * tauS * noiseBandwidthHz(T_S, tauS), 1, rounding + SHARE_MIN ** 2);
    near(4 * tauS * impliedNoiseBandwidthHz(SHARE_MIN, REV_PER_S), 1, rounding + SHARE_MIN ** 2);
    // The firmware in f32, as narrow as a speed of 500 rev/s allows: a level over four time constants.
    const share = (1.01 * SHARE_MIN * 500) / REV_PER_S;
    const bandwidth = {
      kind: "fixed",
      fullWidthHz: 2 * TAU_HALF_WIDTH * REV_PER_S * share,
    } as const;
    const play = played([orderComponent(1, 6, 20, "velocity")], { durationS: 80 }, bandwidth);
    const error = vectorError([{ pk: 1, hz: REV_PER_S }], REV_PER_S);
    near(levelsOf(await playScene(play)).at(-1)!.level, 6, error);
  },
);

trap("U-19", "an integration lags: velocity never reads 90° ahead of acceleration", async () => {
  const profile = monitorProfile({
    filters: [filterProfile({ quantity: "velocity", unit: "m/s", levelFactor: 1 })],
  });
  const last = levelsOf(await playScene(scene({ profile, durationS: 3 }))).at(-1)!;
  const lagDeg = (-Math.atan2(last.im, last.re) * 180) / Math.PI;
  // Tables with +90° for lag would have 30° − 90°.
  nearBy(Math.abs(lagDeg + 60), 180, phaseErrorDeg([{ pk: 10, hz: 80 }], 80, 10));
});

for (const [derivatives, quantity, lagDeg] of [
  [0, "acceleration", 30],
  [1, "velocity", 120],
  [2, "displacement", 210],
] as const) {
  check("U-19", `firmware: ${derivatives} integrations turn the phase to ${lagDeg}°`, async () => {
    // a = A·cos(ωt − 30°): each integral lags by 90° more and is ω times smaller.
    const profile = monitorProfile({
      filters: [filterProfile({ quantity, unit: "m/s", levelFactor: 1 })],
    });
    const last = levelsOf(await playScene(scene({ profile, durationS: 3 }))).at(-1)!;
    const found = (-Math.atan2(last.im, last.re) * 180) / Math.PI;
    const seen = [{ pk: 10, hz: 80 }];
    nearBy((found + 360) % 360, lagDeg, phaseErrorDeg(seen, 80, 10));
    // The speed that divides is a tick in a revolution off at most, each time.
    const speedShare = derivatives * (80 / 80e6);
    nearBy(last.level * (TAU * 80) ** derivatives, 10, vectorError(seen, 80) + 10 * speedShare);
  });
}
