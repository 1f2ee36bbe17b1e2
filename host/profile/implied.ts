// What a profile's settings imply: the figures that `amberline check` prints.
import { POOL_SAMPLES } from "../../shared/capacity.ts";
import { sineIn } from "../quantity.ts";
import { filterPole, smoothingShare } from "./configuration.ts";
import { speedLeastRevPerS } from "./pool-budget.ts";
import type { FilterProfile, MonitorProfile, Quantity } from "./types.ts";

/**
 * Time constants of two equal poles until a step has settled to 1 %.
 *
 * Source    root of (1 + x)·e^(−x) = 0.01 (check value F-03, n = 2)
 */
export const SETTLING_TAU = 6.638352068;
/** Cycles that the triangle spans, and its delay in cycles. */
const TRIANGLE_CYCLES = 2;
const TRIANGLE_LATENCY_CYCLES = 1;
/** From lock: two whole cycles of the first triangle, and what settling takes to a whole cycle. */
const FIRST_VECTOR_CYCLES = 3;
/** Intervals between edges that the reference is found from at least. */
const LOCK_INTERVALS_MIN = 2;
/** Display steps after which a caution that has not cleared is said not to clear. */
const CLEARING_STEPS_MAX = 200_000;
/** Places of the step in a cycle, and of the display in its period, that are tried. */
const ALIGNMENTS = 16;

/** The response at one speed. Times in s, or in samples where the profile counts samples. */
export interface ImpliedAtSpeed {
  speedRevPerS: number;
  timeConstantS: number;
  /** Full width between the −3 dB points. */
  bandwidthHz: number;
  /** Full width of the rectangle that passes the same white noise; triangle and poles together. */
  noiseBandwidthHz: number;
  settlingS: number;
  latencyS: number;
  /** Longest from the first edge to a valid number. */
  acquisitionS: number;
  samplesPerPeriod: number;
  caution?: ImpliedClearing;
}

/** A step from 1.5 × the caution level to half of it. */
export interface ImpliedClearing {
  /** Longest until the number stands below the level; Infinity: never. */
  numberBelowS: number;
  /** Longest until the caution is off; Infinity: never. */
  clearsS: number;
}

export interface ImpliedFilter {
  name: string;
  channel: string;
  shaft: string;
  order: number;
  level: string;
  atSpeeds: ImpliedAtSpeed[];
  caution?: {
    level: number;
    /** The number must fall below this. */
    endsBelow: number;
    onDelayS: number;
    offDelayS: number;
    procedureWaitS?: number;
    /** The caution level in each quantity at the highest speed, SI pk; absent where unstated. */
    levelPk?: { quantity: Quantity; valuePk: number }[];
  };
}

export interface Implied {
  /** Lowest speed that the pool and a time-out of 2.5 knot intervals allow, per shaft. */
  shafts: { name: string; speedLeastRevPerS: number; speedMinRevPerS: number; timeoutS: number }[];
  poolSamples: number;
  filters: ImpliedFilter[];
  warnings: string[];
}

/** Duration T of a cycle, and h = T/τ; a cycle is several revolutions on a geared tachometer. */
function cycleAt(
  filter: FilterProfile,
  profile: MonitorProfile,
  speedRevPerS: number,
): { cycleS: number; h: number } {
  const { revolutions } = profile.shafts[filter.shaft]!;
  const cycleS = revolutions / speedRevPerS;
  const pole = filterPole(filter.bandwidth);
  return { cycleS, h: filter.bandwidth.kind === "fixed" ? cycleS / pole : pole * revolutions };
}

/**
 * Noise bandwidth of triangle and two poles, full width, Hz.
 *
 * Accuracy  the sum over the impulse response, cut where it is under 1e-12
 * Source    own derivation: revolution j weighs g(j) = s(j) − s(j−1), s(j) = 1 − (1 + jh)e^(−jh);
 *           white noise in neighbouring triangles correlates 2/3, 1/6; slow limit 1/(4τ)
 */
export function noiseBandwidthHz(poleStepValue: number, cyclesPerS: number): number {
  const h = poleStepValue;
  const count = Math.min(2_000_000, Math.ceil(36 / h) + 2);
  let last = 0;
  let lastWeight = 0;
  let sum = 0;
  for (let revolution = 1; revolution <= count; revolution += 1) {
    const step = 1 - (1 + revolution * h) * Math.exp(-revolution * h);
    const weight = step - last;
    sum += (2 / 3) * weight * weight + (1 / 3) * weight * lastWeight;
    [last, lastWeight] = [step, weight];
  }
  return sum * cyclesPerS;
}

/** Number against time after the step, at one alignment of step, revolution and display. */
function clearingOnce(
  filter: FilterProfile,
  profile: MonitorProfile,
  speedRevPerS: number,
  stepShare: number,
  displayShare: number,
): ImpliedClearing {
  const { display } = filter;
  const caution = display.caution!;
  const high = 1.5 * caution.levelCounts;
  const low = 0.5 * caution.levelCounts;
  const { cycleS, h } = cycleAt(filter, profile, speedRevPerS);
  const beta = Math.exp(-h);
  const smoothing = smoothingShare(display, profile.displayPeriodS);
  // The step falls a share of a cycle into cycle 0; time counts from the step.
  const f = stepShare;
  const vectorOf = (cycle: number): number => {
    if (cycle > 1) return low;
    if (cycle === 1) return low + ((high - low) * f * f) / 2;
    return low + (high - low) * (0.5 + f - (f * f) / 2);
  };
  let [y1, y2, number] = [high, high, high];
  let cycle = 0;
  let numberBelowS = NaN;
  for (let step = 0; step < CLEARING_STEPS_MAX; step += 1) {
    const timeS = (step + displayShare) * profile.displayPeriodS;
    while ((cycle + 1 - f) * cycleS <= timeS) {
      const vector = vectorOf(cycle);
      y2 = vector + beta * (y2 - vector + h * (y1 - vector));
      y1 = vector + beta * (y1 - vector);
      cycle += 1;
    }
    number += smoothing * (y2 - number);
    const counts = Math.min(Math.floor(number + 0.5), display.countsMax);
    if (counts < caution.levelCounts && Number.isNaN(numberBelowS)) numberBelowS = timeS;
    // The number only falls: once below, it stays below for the whole off-delay.
    if (counts < caution.levelCounts - caution.hysteresisCounts) {
      return { numberBelowS, clearsS: timeS + caution.offDelaySteps * profile.displayPeriodS };
    }
    if (Math.abs(number - low) < 1e-9) break;
  }
  return { numberBelowS: Number.isNaN(numberBelowS) ? Infinity : numberBelowS, clearsS: Infinity };
}

/**
 * The longest over alignments of the step with the cycle and the display.
 *
 * Accuracy  late by no more than an alignment in between, a sixteenth of a display period, and by
 *           0.08 of a revolution, which a sine's mean over a part of it differs by
 */
export function clearing(
  filter: FilterProfile,
  profile: MonitorProfile,
  speedRevPerS: number,
): ImpliedClearing {
  const longest = { numberBelowS: 0, clearsS: 0 };
  for (let step = 0; step < ALIGNMENTS; step += 1) {
    for (let display = 1; display <= ALIGNMENTS; display += 1) {
      const shares = [step / ALIGNMENTS, display / ALIGNMENTS] as const;
      const once = clearingOnce(filter, profile, speedRevPerS, ...shares);
      longest.numberBelowS = Math.max(longest.numberBelowS, once.numberBelowS);
      longest.clearsS = Math.max(longest.clearsS, once.clearsS);
    }
  }
  return longest;
}

function atSpeed(
  profile: MonitorProfile,
  filter: FilterProfile,
  speedRevPerS: number,
): ImpliedAtSpeed {
  const shaft = profile.shafts[filter.shaft]!;
  const { cycleS, h } = cycleAt(filter, profile, speedRevPerS);
  const tau = cycleS / h;
  // Two equal poles: the same pole frequency whether it was stated in Hz or by the speed.
  const bandwidthHz =
    filter.bandwidth.kind === "fixed"
      ? filter.bandwidth.fullWidthHz
      : filter.bandwidth.fullWidthRatio * speedRevPerS;
  const hasIndex = shaft.index !== "none";
  const lockCycles = Math.max(shaft.lockRevolutions, LOCK_INTERVALS_MIN / shaft.positions);
  // The first index is passed over where the run begins right before it: two pitches more.
  const cycles =
    lockCycles + FIRST_VECTOR_CYCLES + (hasIndex ? 1 + LOCK_INTERVALS_MIN / shaft.positions : 0);
  const implied: ImpliedAtSpeed = {
    speedRevPerS,
    timeConstantS: tau,
    bandwidthHz,
    noiseBandwidthHz: noiseBandwidthHz(h, 1 / cycleS),
    settlingS: SETTLING_TAU * tau + TRIANGLE_CYCLES * cycleS,
    latencyS: 2 * tau + TRIANGLE_LATENCY_CYCLES * cycleS,
    acquisitionS: cycles * cycleS + SETTLING_TAU * tau + profile.displayPeriodS,
    samplesPerPeriod: profile.sampleRateHz / (filter.order * speedRevPerS),
  };
  if (filter.display.caution) implied.caution = clearing(filter, profile, speedRevPerS);
  return implied;
}

function factorAt(filter: FilterProfile, speedRevPerS: number): number {
  const rows = filter.display.scale;
  let before = rows[0]!;
  if (speedRevPerS <= before.speedRevPerS) return before.factor;
  for (const row of rows) {
    if (speedRevPerS <= row.speedRevPerS && row !== before) {
      const share = (speedRevPerS - before.speedRevPerS) / (row.speedRevPerS - before.speedRevPerS);
      return before.factor + share * (row.factor - before.factor);
    }
    before = row;
  }
  return before.factor;
}

function impliedFilter(
  profile: MonitorProfile,
  filter: FilterProfile,
  speeds: readonly number[],
): ImpliedFilter {
  const implied: ImpliedFilter = {
    name: filter.name,
    channel: profile.channels[filter.channel]!.name,
    shaft: profile.shafts[filter.shaft]!.name,
    order: filter.order,
    level: `${filter.unit} ${filter.detector}`,
    atSpeeds: speeds.map((speed) => atSpeed(profile, filter, speed)),
  };
  const { caution, step } = filter.display;
  if (caution === undefined) return implied;
  const level = caution.levelCounts * step;
  implied.caution = {
    level,
    endsBelow: (caution.levelCounts - caution.hysteresisCounts) * step,
    onDelayS: caution.onDelaySteps * profile.displayPeriodS,
    offDelayS: caution.offDelaySteps * profile.displayPeriodS,
  };
  if (caution.procedureWaitS !== undefined) implied.caution.procedureWaitS = caution.procedureWaitS;
  const speed = speeds[speeds.length - 1];
  if (filter.quantity !== "unstated" && profile.timeUnit === "s" && speed !== undefined) {
    const valuePk = level / factorAt(filter, speed) / filter.levelFactor;
    const others: Quantity[] = ["acceleration", "velocity", "displacement"];
    implied.caution.levelPk = others.map((quantity) => ({
      quantity,
      valuePk: sineIn(valuePk, filter.quantity, quantity, filter.order * speed),
    }));
  }
  return implied;
}

/** Samples of a period under which a figure is worth a warning (not a refusal). */
const SAMPLES_PER_PERIOD_FEW = 20;

function seconds(value: number): string {
  return Number.isFinite(value) ? String(Number(value.toPrecision(3))) : "no number of";
}

/** Revolutions in a display period under which checks of the signal's size see a part of it. */
const REVOLUTIONS_FEW = 2;

/** Where a period cuts a slow revolution decides what rms and swing it shows. */
function healthWarnings(profile: MonitorProfile, filter: FilterProfile): string[] {
  const { name, health } = profile.channels[filter.channel]!;
  const { flatPkPk, noiseFloorRms, burstRms, physicalPk, broadbandRatio } = health;
  const limits = [flatPkPk, noiseFloorRms, burstRms, physicalPk, broadbandRatio];
  if (limits.every((limit) => limit === undefined)) return [];
  const turns = profile.shafts[filter.shaft]!.speedMinRevPerS * profile.displayPeriodS;
  if (turns >= REVOLUTIONS_FEW - 1e-9) return [];
  return [
    `${filter.name}: only ${seconds(turns)} revolutions in a display period at the lowest speed: ` +
      `the health checks of ${name} may take a sound transducer for a failed one`,
  ];
}

function filterWarnings(profile: MonitorProfile, implied: ImpliedFilter): string[] {
  const unit = profile.timeUnit === "s" ? "s" : "samples";
  const warnings: string[] = [];
  const fastest = implied.atSpeeds[implied.atSpeeds.length - 1];
  if (fastest !== undefined && fastest.samplesPerPeriod < SAMPLES_PER_PERIOD_FEW) {
    warnings.push(
      `${implied.name}: only ${seconds(fastest.samplesPerPeriod)} samples in a period of order ` +
        `${implied.order} at the highest speed; accuracy is stated from ` +
        `${SAMPLES_PER_PERIOD_FEW} on`,
    );
  }
  const slowest = implied.atSpeeds[0];
  if (slowest !== undefined && slowest.bandwidthHz / 2 >= slowest.speedRevPerS) {
    warnings.push(
      `${implied.name}: the bandwidth of ${seconds(slowest.bandwidthHz)} ` +
        `${profile.timeUnit === "s" ? "Hz" : "cycles/sample"} reaches the neighbouring orders at ` +
        `the lowest speed, ${seconds(slowest.speedRevPerS)} ` +
        `${profile.timeUnit === "s" ? "Hz" : "cycles/sample"} away`,
    );
  }
  const { caution } = implied;
  if (caution === undefined) return warnings;
  const longest = Math.max(...implied.atSpeeds.map((at) => at.caution?.clearsS ?? 0));
  if (longest === Infinity) {
    warnings.push(
      `${implied.name}: the caution does not clear when the level falls to half the caution ` +
        `level: that is not below ${seconds(caution.endsBelow)}`,
    );
  } else if (caution.procedureWaitS !== undefined && longest > caution.procedureWaitS) {
    warnings.push(
      `${implied.name}: the caution may need ${seconds(longest)} ${unit} to clear, longer than ` +
        `the procedure's wait of ${seconds(caution.procedureWaitS)} ${unit}`,
    );
  }
  return warnings;
}

/** A level that the channel cannot show: what reaches the caution is clipped first. */
function rangeWarnings(profile: MonitorProfile, filter: FilterProfile, implied: ImpliedFilter) {
  const { caution } = implied;
  const channel = profile.channels[filter.channel]!;
  if (caution === undefined) return [];
  const isSame = channel.quantity === filter.quantity;
  if (!isSame && (filter.quantity === "unstated" || channel.quantity === "unstated")) return [];
  const neededPk = implied.atSpeeds.map(({ speedRevPerS }) => {
    const levelPk = caution.level / factorAt(filter, speedRevPerS) / filter.levelFactor;
    const hz = filter.order * speedRevPerS;
    return isSame ? levelPk : sineIn(levelPk, filter.quantity, channel.quantity, hz);
  });
  const share = Math.min(...neededPk) / channel.range;
  if (!(share >= 1)) return [];
  return [
    `${implied.name}: the caution level is ${seconds(share)} times the range of channel ` +
      `${channel.name} or more: what reaches it is clipped first`,
  ];
}

/**
 * What the settings imply, at the given speeds or at each shaft's lowest valid and highest speed.
 *
 * Accuracy  closed forms where the path has one; clearing times by the recursion in f64, the
 *           longest over alignments of step, revolution and display period
 */
export function impliedBy(profile: MonitorProfile, speedRevPerS?: number): Implied {
  const filters = profile.filters.map((filter) => {
    const shaft = profile.shafts[filter.shaft]!;
    const speeds =
      speedRevPerS === undefined
        ? [shaft.validSpeedRevPerS, shaft.speedMaxRevPerS]
        : [speedRevPerS];
    return impliedFilter(profile, filter, speeds);
  });
  return {
    shafts: profile.shafts.map((shaft) => ({
      name: shaft.name,
      speedLeastRevPerS: speedLeastRevPerS(shaft, profile.sampleRateHz, profile.channels.length),
      speedMinRevPerS: shaft.speedMinRevPerS,
      timeoutS: shaft.timeoutS,
    })),
    poolSamples: POOL_SAMPLES,
    filters,
    warnings: filters.flatMap((filter, i) => [
      ...filterWarnings(profile, filter),
      ...healthWarnings(profile, profile.filters[i]!),
      ...rangeWarnings(profile, profile.filters[i]!, filter),
    ]),
  };
}
