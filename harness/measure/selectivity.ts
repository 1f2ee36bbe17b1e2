// What passes beside the order: response against frequency offset, widths, other orders, near-whole
// ratios. Tones of one amplitude; the level on the order itself is 1.
import type { Bench } from "./bench.ts";
import {
  continuousFilter,
  discreteFullWidthHz,
  discreteGain,
  imageShare,
  noiseBandwidthHz,
} from "./closed-forms.ts";
import { type Curve, type Measurement, atMost, told, within } from "./measurement.ts";

/** Intervals of the offset grid, in u of offset = width·sinh u: an even number, for Simpson's rule. */
const INTERVALS = 32;
/** Revolution rates up to which the response is followed. */
const REACH = 1.5;
/** Steps that a gain is the root mean square of. */
const STEPS = 20;
/** Offsets about the half-power point, as shares of it: straight lines between them serve. */
const HALF_POWER_SHARES = [0.98, 1.02];
/** Offsets below the order, in full widths: fewer, since down to frequency 0 there is little room. */
const LOWER_SHARES = [0.25, 0.5, 0.75, 1, 1.5, 2, 3];
/** Other whole orders that are played. */
const WHOLE_ORDERS = [1, 2, 3, 4, 5];
/** Ratios near whole ones. */
const NEAR_RATIOS = [1.97, 2.03, 2.97, 3.03];
/** How much larger than on the order another whole order is played, as far as the range goes. */
const COMPANY_TIMES = 3;

/** Level on the order, and the share by which it may be off. */
export interface Unit {
  level: number;
  share: number;
}

/** Root mean square of the last levels, and the greatest tolerance that the truth has for them. */
async function lastLevels(
  bench: Bench,
  name: string,
  components: Parameters<Bench["scene"]>[2],
): Promise<{ level: number; tolerance: number }> {
  const { displayPeriodS } = bench.profile;
  const made = bench.scene(name, bench.waitS + STEPS * displayPeriodS, components);
  const { steps } = await bench.play(made);
  const last = steps.slice(-STEPS);
  if (last.length < STEPS || !last.every((one) => one.isSettled)) {
    return { level: NaN, tolerance: NaN };
  }
  const square = last.reduce((sum, one) => sum + one.level ** 2, 0) / STEPS;
  return {
    level: Math.sqrt(square),
    tolerance: Math.max(...last.map((one) => one.truth.levelTol)),
  };
}

/** The level on the order itself, beside the truth's. */
export async function measuredUnit(
  bench: Bench,
): Promise<{ unit: Unit; measurement: Measurement }> {
  const { order } = bench.filter;
  const components = [bench.order(order, bench.constant(bench.amplitudePk))];
  const made = bench.scene("on the order", bench.waitS + 1, components);
  const { steps } = await bench.play(made);
  const last = steps.at(-1);
  const { truth } = last ?? { truth: { level: NaN, levelTol: NaN } };
  const unitName = `${bench.filter.unit} ${bench.filter.detector}`;
  const row = within(
    "level on the order",
    unitName,
    last?.level ?? NaN,
    truth.level,
    truth.levelTol,
  );
  return {
    unit: { level: last?.level ?? NaN, share: truth.levelTol / truth.level },
    measurement: {
      name: "Level",
      how: "A dwell on the order. Tolerance: edge clock, converter, single precision.",
      rows: [row],
    },
  };
}

/** A gain by a tone beside the order, and what it may be off by. */
async function gainAt(
  bench: Bench,
  unit: Unit,
  offsetHz: number,
): Promise<{ gain: number; closed: number; tolerance: number }> {
  const name = `a tone ${offsetHz.toFixed(6)} Hz beside the order`;
  const { level } = await lastLevels(bench, name, [bench.tone(offsetHz)]);
  const closed = discreteGain(offsetHz, bench.cycleS, bench.tauS);
  const image = imageShare(offsetHz, bench.cycleS, bench.cycleOrder);
  // Rounding and edges leave the same absolute error whatever passes; the image is a share of it.
  const tolerance = 2 * unit.share + closed * Math.abs(image);
  return { gain: level / unit.level, closed, tolerance };
}

export async function measuredResponse(bench: Bench, unit: Unit): Promise<Measurement[]> {
  const { cycleS, tauS } = bench;
  const width = discreteFullWidthHz(cycleS, tauS);
  const end = Math.asinh(REACH / cycleS / width);
  const points: { offset: number; weight: number; gain: number; tolerance: number }[] = [];
  let worst = { ratio: -1, offset: 0, gain: NaN, closed: NaN, tolerance: NaN };
  for (let i = 0; i <= INTERVALS; i += 1) {
    const u = (end * i) / INTERVALS;
    const offset = width * Math.sinh(u);
    const { gain, closed, tolerance } = await gainAt(bench, unit, offset);
    const simpson = i === 0 || i === INTERVALS ? 1 : i % 2 === 1 ? 4 : 2;
    const weight = ((simpson * end) / INTERVALS / 3) * width * Math.cosh(u);
    points.push({ offset, weight, gain, tolerance });
    const ratio = Math.abs(gain - closed) / tolerance;
    if (!(ratio <= worst.ratio)) worst = { ratio, offset, gain, closed, tolerance };
  }
  const lower = [];
  for (const share of LOWER_SHARES) {
    const offset = -share * width;
    if (bench.filter.order * bench.speedRevPerS + offset <= 0) continue;
    const { gain, closed, tolerance } = await gainAt(bench, unit, offset);
    lower.push({ x: offset, y: gain });
    const ratio = Math.abs(gain - closed) / tolerance;
    if (!(ratio <= worst.ratio)) worst = { ratio, offset, gain, closed, tolerance };
  }
  const response: Measurement = {
    name: "Response against frequency offset",
    how:
      "Tones beside the order, one after another; closed form: two revolutions' triangle and two " +
      "equal poles once a cycle. Tolerance: twice the level's own share, and the tone's image at " +
      "its negative frequency.",
    rows: [
      within(
        `gain where it is farthest off, at ${worst.offset.toPrecision(3).replace("-", "−")} Hz`,
        "1",
        worst.gain,
        worst.closed,
        worst.tolerance,
      ),
    ],
    curve: responseCurve(bench, [
      ...lower,
      ...points.map(({ offset, gain }) => ({ x: offset, y: gain })),
    ]),
  };
  return [response, await measuredWidths(bench, unit, points)];
}

/** In decibels below the order: a picture of gains would show the first few alone. */
const decibels = (gain: number): number => Math.max(-120, 20 * Math.log10(Math.max(gain, 1e-9)));

function responseCurve(bench: Bench, measured: { x: number; y: number }[]): Curve {
  const { cycleS, tauS } = bench;
  const reach = 4 * discreteFullWidthHz(cycleS, tauS);
  const closed = Array.from({ length: 401 }, (_, i) => {
    const x = reach * (i / 200 - 1);
    return { x, y: decibels(discreteGain(x, cycleS, tauS)) };
  });
  const inside = measured.filter(({ x }) => Math.abs(x) <= reach);
  return {
    title: "Response against frequency offset",
    x: "offset from the order, Hz",
    y: "gain, dB",
    measured: inside.map(({ x, y }) => ({ x, y: decibels(y) })).toSorted((a, b) => a.x - b.x),
    closed,
  };
}

/** Where a gain that falls from one offset to the next passes half power: a straight line between. */
async function halfPowerHz(
  bench: Bench,
  unit: Unit,
  side: 1 | -1,
): Promise<{ at: number; off: number }> {
  const closed = discreteFullWidthHz(bench.cycleS, bench.tauS) / 2;
  const [near, far] = [closed * HALF_POWER_SHARES[0]!, closed * HALF_POWER_SHARES[1]!];
  const a = await gainAt(bench, unit, side * near);
  const b = await gainAt(bench, unit, side * far);
  const slope = (b.gain - a.gain) / (far - near);
  const at = near + (Math.SQRT1_2 - a.gain) / slope;
  // The same line through the closed form's own two points tells what the line itself is off by.
  const closedSlope = (b.closed - a.closed) / (far - near);
  const straight = Math.abs(near + (Math.SQRT1_2 - a.closed) / closedSlope - closed);
  return { at, off: straight + Math.max(a.tolerance, b.tolerance) / Math.abs(closedSlope) };
}

async function measuredWidths(
  bench: Bench,
  unit: Unit,
  points: readonly { offset: number; weight: number; gain: number; tolerance: number }[],
): Promise<Measurement> {
  const { cycleS, tauS } = bench;
  const sides = [await halfPowerHz(bench, unit, 1), await halfPowerHz(bench, unit, -1)];
  const width = sides[0]!.at + sides[1]!.at;
  const closedWidth = discreteFullWidthHz(cycleS, tauS);
  const continuous = continuousFilter(tauS);
  const sum = (of: (gain: number, offset: number, tolerance: number) => number): number =>
    2 * points.reduce((all, one) => all + one.weight * of(one.gain, one.offset, one.tolerance), 0);
  const closedNoise = noiseBandwidthHz(cycleS, tauS);
  const ruled = sum((_, offset) => discreteGain(offset, cycleS, tauS) ** 2);
  const noise = sum((gain) => gain ** 2);
  const noiseOff =
    Math.abs(ruled - closedNoise) +
    sum((gain, _, tolerance) => 2 * gain * tolerance + tolerance ** 2);
  const percent = (share: number): number => 100 * share;
  return {
    name: "Bandwidth",
    how:
      "−3 dB by straight lines between two tones on either side; noise bandwidth by Simpson's rule " +
      "over the tones above, whose own error on the closed form is part of the tolerance.",
    rows: [
      within("−3 dB full width", "Hz", width, closedWidth, sides[0]!.off + sides[1]!.off),
      within("effective noise bandwidth", "Hz", noise, closedNoise, noiseOff),
      told(
        "−3 dB width from the continuous form",
        "%",
        percent(width / continuous.fullWidthHz - 1),
      ),
      told(
        "noise bandwidth from the continuous form",
        "%",
        percent(noise / continuous.noiseBandwidthHz - 1),
      ),
    ],
  };
}

/** What other orders leave in the level. */
export async function measuredRejection(bench: Bench, unit: Unit): Promise<Measurement[]> {
  const { order } = bench.filter;
  const whole: Measurement = {
    name: "Rejection of other whole orders",
    how:
      `The order, and ${COMPANY_TIMES} times as large another. What it leaves, as a share of the ` +
      "other; at most what the truth's tolerance allows.",
    rows: [],
  };
  const small = bench.amplitudePk / COMPANY_TIMES;
  for (const other of WHOLE_ORDERS) {
    if (other === order || !hasRoom(bench, other)) continue;
    const made = bench.scene(`order ${other} beside it`, bench.waitS + 2, [
      bench.order(order, bench.constant(small)),
      bench.order(other, bench.constant(bench.amplitudePk)),
    ]);
    const { steps } = await bench.play(made);
    const last = steps.slice(-STEPS).filter((one) => one.isSettled);
    const left = Math.max(...last.map(({ level, truth }) => Math.abs(level - truth.level)));
    const allowed = Math.max(...last.map(({ truth }) => truth.levelTol));
    const share = 100 / unit.level;
    const found = last.length === 0 ? NaN : left * share;
    whole.rows.push(atMost(`order ${other} leaves`, "%", found, allowed * share));
  }
  const near: Measurement = {
    name: "Rejection near whole ratios",
    how: "A second rotor's tone alone, as large as the order. Closed form as for the response.",
    rows: [],
  };
  for (const ratio of NEAR_RATIOS) {
    if (!hasRoom(bench, ratio)) continue;
    const offset = (ratio - order) * bench.speedRevPerS;
    const { gain, closed, tolerance } = await gainAt(bench, unit, offset);
    near.rows.push(within(`ratio ${ratio} passes`, "%", gain * 100, closed * 100, tolerance * 100));
  }
  return [whole, near];
}

/** Ten samples a period at least: beyond, the segments' own errors would be measured. */
const SAMPLES_A_PERIOD_MIN = 10;
function hasRoom(bench: Bench, order: number): boolean {
  return bench.profile.sampleRateHz / (order * bench.speedRevPerS) >= SAMPLES_A_PERIOD_MIN;
}
