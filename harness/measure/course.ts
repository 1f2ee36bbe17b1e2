// What the level does in time: a step, a growing vibration, how large it may be, how fast the shaft, how
// long until the first number.
import { SETTLING_TAU } from "../../host/profile/implied.ts";
import type { Bench, MeasuredStep } from "./bench.ts";
import { rampLagS } from "./closed-forms.ts";
import { type Measurement, type MeasuredRow, atLeast, atMost, within } from "./measurement.ts";

/** What is left of a step when it counts as arrived. */
const LEFT = 0.01;
/** Shares of the channel's range at which the level is read. */
const SHARES = [0.001, 0.01, 0.1, 0.5, 0.95];
/** Speeds inside and outside a limit. */
const INSIDE = 1.02;
const OUTSIDE = 1.06;

/** First time at which a falling remainder passes LEFT, by a straight line between steps. */
function arrival(
  steps: readonly MeasuredStep[],
  remainder: (step: MeasuredStep) => number,
): number {
  for (let i = steps.length - 1; i > 0; i -= 1) {
    const [before, after] = [remainder(steps[i - 1]!), remainder(steps[i]!)];
    if (Math.abs(before) < LEFT) continue;
    const [from, until] = [steps[i - 1]!.timeS, steps[i]!.timeS];
    return (
      from + ((Math.abs(before) - LEFT) / (Math.abs(before) - Math.abs(after))) * (until - from)
    );
  }
  return NaN;
}

export async function measuredStep(bench: Bench): Promise<Measurement> {
  const { order } = bench.filter;
  const { displayPeriodS } = bench.profile;
  const atS = bench.waitS;
  const [low, high] = [bench.amplitudePk / 2, bench.amplitudePk];
  const phaseLagRad = 0.7;
  const made = bench.scene("a step", atS + bench.waitS + 10 * displayPeriodS, [
    bench.order(order, {
      kind: "steps",
      rows: [
        { timeS: 0, amplitudePk: low, phaseLagRad },
        { timeS: atS, amplitudePk: high, phaseLagRad },
      ],
    }),
  ]);
  const { steps } = await bench.play(made);
  const after = steps.filter((one) => one.timeS >= atS && one.truth.isJudged);
  const end = after.at(-1);
  const size = (end?.truth.level ?? NaN) / 2;
  const worst = after.reduce(
    (most, one) => {
      const ratio = Math.abs(one.level - one.truth.level) / one.truth.levelTol;
      return ratio <= most.ratio ? most : { ratio, step: one };
    },
    { ratio: -1, step: end },
  ).step;
  const truthEnd = end?.truth.level ?? NaN;
  const measuredS = arrival(after, (one) => ((end?.level ?? NaN) - one.level) / size) - atS;
  const closedS = arrival(after, (one) => (truthEnd - one.truth.level) / size) - atS;
  // A straight line between steps moves with the levels at its ends over its slope.
  const slope = steepness(after, truthEnd, size);
  const levelTol = Math.max(...after.map((one) => one.truth.levelTol));
  const rows: MeasuredRow[] = [];
  if (worst !== undefined) {
    rows.push(
      within(
        `level where it is farthest off, ${(worst.timeS - atS).toFixed(3)} s after`,
        `${bench.filter.unit} ${bench.filter.detector}`,
        worst.level,
        worst.truth.level,
        worst.truth.levelTol,
      ),
    );
  }
  rows.push(
    within("within 1 % of the step after", "s", measuredS, closedS, (2 * levelTol) / slope),
  );
  return {
    name: "Step",
    how:
      "The amplitude doubles at once. Closed form: the vectors of the revolutions about the step, " +
      "through both poles. Times between display steps by a straight line, in both.",
    rows,
    curve: {
      title: "Step of the amplitude",
      x: "time after the step, s",
      y: `level, ${bench.filter.unit} ${bench.filter.detector}`,
      measured: after
        .filter((one) => one.timeS - atS <= 12 * bench.tauS + displayPeriodS)
        .map((one) => ({ x: one.timeS - atS, y: one.level })),
      closed: after
        .filter((one) => one.timeS - atS <= 12 * bench.tauS + displayPeriodS)
        .map((one) => ({ x: one.timeS - atS, y: one.truth.level })),
    },
  };
}

/** Change of the truth per second where it arrives. */
function steepness(steps: readonly MeasuredStep[], end: number, size: number): number {
  for (let i = steps.length - 1; i > 0; i -= 1) {
    const [before, after] = [steps[i - 1]!, steps[i]!];
    if (Math.abs(end - before.truth.level) / size < LEFT) continue;
    return Math.abs(after.truth.level - before.truth.level) / (after.timeS - before.timeS);
  }
  return NaN;
}

export async function measuredLag(bench: Bench): Promise<Measurement> {
  const { order } = bench.filter;
  const durationS = bench.waitS + 20 * bench.profile.displayPeriodS;
  const phaseLagRad = 0.7;
  const low = bench.amplitudePk / 10;
  const made = bench.scene("a growing vibration", durationS, [
    bench.order(order, {
      kind: "lines",
      rows: [
        { timeS: 0, amplitudePk: low, phaseLagRad },
        { timeS: durationS, amplitudePk: bench.amplitudePk, phaseLagRad },
      ],
    }),
  ]);
  const { steps } = await bench.play(made);
  const last = steps.filter((one) => one.isSettled).slice(-5);
  const closed = rampLagS(bench.cycleS, bench.tauS);
  // The level in the channel's own amplitude: the truth's level at the end is that of what was played.
  const rows = last.slice(-1).map((one): MeasuredRow => {
    const perS = (bench.amplitudePk - low) / durationS;
    const endS = one.timeS - one.ageS;
    // What the truth makes of one unit of amplitude at this speed, by its own level and lag.
    const truthAmplitude = low + perS * (endS - closed);
    const factor = one.truth.level / truthAmplitude;
    const measured = endS - (one.level / factor - low) / perS;
    return within(
      "lag behind a straight growth",
      "s",
      measured,
      closed,
      one.truth.levelTol / factor / perS,
    );
  });
  if (rows.length === 0) rows.push(within("lag behind a straight growth", "s", NaN, closed, 0));
  return {
    name: "Lag",
    how:
      "The amplitude grows straight at a held speed; the lag is told at the end of the newest " +
      "revolution that counts, without the display's own age. Closed form: a cycle for the " +
      "triangle, and the mean delay of both poles.",
    rows,
  };
}

export async function measuredLinearity(bench: Bench): Promise<Measurement> {
  const { order, channel } = bench.filter;
  const { range } = bench.profile.channels[channel]!;
  const rows: MeasuredRow[] = [];
  for (const share of SHARES) {
    const amplitude = share * range;
    const made = bench.scene(`${share} of the range`, bench.waitS + 1, [
      bench.order(order, bench.constant(amplitude)),
    ]);
    const last = (await bench.play(made)).steps.at(-1);
    const { level, levelTol } = last?.truth ?? { level: NaN, levelTol: NaN };
    rows.push(
      within(
        `level over amplitude at ${share * 100} % of the range`,
        "%",
        (100 * (last?.level ?? NaN)) / level,
        100,
        (100 * levelTol) / level,
      ),
    );
  }
  return {
    name: "Linearity",
    how: "Dwells at shares of the channel's range. Tolerance: what the truth allows at each.",
    rows,
  };
}

/** Whether a number ever is valid at a speed, as 1 or 0. */
async function isValidAt(bench: Bench, speedRevPerS: number): Promise<number> {
  const waitS = (bench.waitS * bench.speedRevPerS) / Math.min(bench.speedRevPerS, speedRevPerS);
  const made = bench.scene(
    `held at ${speedRevPerS.toFixed(4)} rev/s`,
    waitS + 1,
    [bench.order(bench.filter.order, bench.constant(bench.amplitudePk))],
    speedRevPerS,
  );
  return (await bench.play(made)).steps.some((one) => one.isValid) ? 1 : 0;
}

export async function measuredSpeedRange(bench: Bench): Promise<Measurement> {
  const shaft = bench.profile.shafts[bench.filter.shaft]!;
  const lowest = Math.max(
    shaft.speedMinRevPerS,
    shaft.validSpeedRevPerS + shaft.validHysteresisRevPerS,
  );
  const highest = shaft.speedMaxRevPerS;
  const rpm = (speed: number): string => `${Number((60 * speed).toPrecision(4))} r/min`;
  const rows: MeasuredRow[] = [];
  for (const [speed, isValid] of [
    [lowest * INSIDE, 1],
    [Math.min(shaft.validSpeedRevPerS, lowest) / OUTSIDE, 0],
    [highest / INSIDE, 1],
    [highest * OUTSIDE, 0],
  ] as const) {
    const what = `a number at ${rpm(speed)} (${isValid === 1 ? "inside" : "outside"})`;
    rows.push(within(what, "valid", await isValidAt(bench, speed), isValid, 0));
  }
  return {
    name: "Speed range",
    how:
      "Dwells a little inside and outside the profile's lowest and highest speed; between lowest " +
      "valid speed and its hysteresis either would be right, so the outside stands below both.",
    rows,
  };
}

export async function measuredSettling(bench: Bench): Promise<Measurement> {
  const made = bench.scene("the first number", bench.waitS + 2, [
    bench.order(bench.filter.order, bench.constant(bench.amplitudePk)),
  ]);
  const { steps, foundS = NaN } = await bench.play(made);
  const validS = steps.find((one) => one.isValid)?.timeS ?? NaN;
  const { cycleS, tauS } = bench;
  const settlingS = SETTLING_TAU * tauS;
  // Two cycles of the first triangle stand before the poles begin, a cycle until the next edge that
  // closes one, a cycle that settling is rounded up to, a display period until it is told.
  const latestS = settlingS + 4 * cycleS + bench.profile.displayPeriodS;
  return {
    name: "Settling",
    how:
      "From the reference found to the first valid number: 6.64 time constants after the first " +
      "whole vector, which takes three cycles or so, told at the next display step.",
    rows: [
      atLeast("first number after the reference", "s", validS - foundS, settlingS),
      atMost("the same, at most", "s", validS - foundS, latestS),
    ],
  };
}
