// A written profile → MonitorProfile: defaults that depend on other fields, names → indexes, and
// every rule that needs more than one field.
import { CHANNELS_MAX, FILTERS_MAX, SHAFTS_MAX } from "../../shared/capacity.ts";
import { nearestHint } from "../input-error.ts";
import {
  CLOCK_HZ_MAX,
  DISPLAY_SAMPLES_MAX,
  DISPLAY_SAMPLES_MIN,
  STEPS_MAX,
  TICKS_PER_SAMPLE_MAX,
} from "./firmware-limits.ts";
import type { Complaints } from "./located-parse.ts";
import { buildChannel } from "./profile-channel.ts";
import { buildFilter, checkDisplaySources, checkTestTones } from "./profile-filter.ts";
import type { WrittenProfile } from "./profile-schema.ts";
import { buildShaft, checkPool } from "./profile-shaft.ts";
import type { MonitorProfile } from "./types.ts";
import type { Path } from "./yaml-tree.ts";

/**
 * Edge clock where none is stated: the whole multiple of the sample rate that is nearest, with as
 * many ticks in a sample as the firmware takes at most.
 */
const CLOCK_HZ = 80e6;
/** Ticks of a sample where time counts samples. */
const TICKS_PER_SAMPLE = 4096;
/** Display period where none is stated. */
const DISPLAY_PERIOD_S = 0.25;
const DISPLAY_PERIOD_SAMPLES = 3200;
const SAMPLE_RATE_HZ = 12_800;

/** What the parts of a profile are built with. */
export interface ProfileContext {
  complaints: Complaints;
  written: WrittenProfile;
  timeUnit: "s" | "sample";
  sampleRateHz: number;
  clockHz: number;
  displaySamples: number;
  displayPeriodS: number;
  channelNames: string[];
  shaftNames: string[];
  filterNames: string[];
}

/** Whole number nearest to a value that must be whole; NaN where it is not. */
export function wholeOf(value: number): number {
  const nearest = Math.round(value);
  return Math.abs(value - nearest) <= 1e-9 * Math.max(1, Math.abs(value)) ? nearest : NaN;
}

/** A number as a person would write it. */
export function plain(value: number): string {
  return String(Number(value.toPrecision(10)));
}

/** A delay as display steps; one that is not whole names the two nearest that are. */
export function stepsOf(context: ProfileContext, delay: number, path: Path): number {
  const steps = wholeOf(delay / context.displayPeriodS);
  if (steps > STEPS_MAX) {
    context.complaints.field(path, `must be at most ${STEPS_MAX} display periods, found ${steps}`);
  }
  if (!Number.isNaN(steps)) return steps;
  const unit = context.timeUnit === "s" ? "s" : "samples";
  const period = context.displayPeriodS;
  const below = Math.floor(delay / period) * period;
  context.complaints.field(
    path,
    `must be a whole number of display periods of ${plain(period)} ${unit}, ` +
      `found ${plain(delay)} ${unit}; the nearest are ${plain(below)} ${unit} ` +
      `and ${plain(below + period)} ${unit}`,
  );
  return 0;
}

/** A number outside what the firmware takes. */
export function needRange(
  context: ProfileContext,
  value: number,
  least: number,
  most: number,
  path: Path,
): void {
  if (value >= least && value <= most) return;
  context.complaints.field(
    path,
    `is out of range: ${plain(value)} in SI, and the firmware takes ${least} to ${most}`,
  );
}

/** True where the second is above the first as the firmware holds them, in f32. */
export function ascends(first: number, second: number): boolean {
  return Math.fround(first) < Math.fround(second);
}

/** Index of a name; the only one where none is written. */
export function indexOf(
  context: ProfileContext,
  kind: "channel" | "shaft" | "filter",
  name: string | undefined,
  path: Path,
): number {
  const names = context[`${kind}Names`];
  if (name === undefined) {
    if (names.length === 1) return 0;
    // Where there is none to name, their own count is told already.
    if (names.length === 0) return 0;
    context.complaints.whole(path, `${kind} is missing (${names.join(", ")})`, true);
    return 0;
  }
  const index = names.indexOf(name);
  if (index >= 0) return index;
  context.complaints.field(path, `names no ${kind}: "${name}"${nearestHint(name, names)}`);
  return 0;
}

function checkCount(context: ProfileContext, part: "channels" | "shafts" | "filters"): void {
  const limits = { channels: CHANNELS_MAX, shafts: SHAFTS_MAX, filters: FILTERS_MAX };
  const count = Object.keys(context.written[part]).length;
  if (count >= 1 && count <= limits[part]) return;
  context.complaints.whole([part], `${part} must hold 1 to ${limits[part]}, found ${count}`, true);
}

function buildContext(written: WrittenProfile, complaints: Complaints): ProfileContext {
  const timeUnit = written.time === "samples" ? "sample" : "s";
  const sampleRateHz = written["sample rate"] ?? (timeUnit === "s" ? SAMPLE_RATE_HZ : 1);
  const clockDefault =
    timeUnit === "s"
      ? Math.min(TICKS_PER_SAMPLE_MAX, Math.max(1, Math.round(CLOCK_HZ / sampleRateHz))) *
        sampleRateHz
      : TICKS_PER_SAMPLE;
  const clockHz = written["edge clock"] ?? clockDefault;
  const period = timeUnit === "s" ? DISPLAY_PERIOD_S : DISPLAY_PERIOD_SAMPLES;
  const samples =
    written["display period"] === undefined
      ? Math.max(1, Math.round(period * sampleRateHz))
      : written["display period"] * sampleRateHz;
  const context: ProfileContext = {
    complaints,
    written,
    timeUnit,
    sampleRateHz,
    clockHz,
    displaySamples: wholeOf(samples),
    displayPeriodS: samples / sampleRateHz,
    channelNames: Object.keys(written.channels),
    shaftNames: Object.keys(written.shafts),
    filterNames: Object.keys(written.filters),
  };
  checkClocks(context, samples);
  for (const part of ["channels", "shafts", "filters"] as const) checkCount(context, part);
  return context;
}

function checkClocks(context: ProfileContext, samples: number): void {
  const { complaints, clockHz, sampleRateHz } = context;
  const ticks = wholeOf(clockHz / sampleRateHz);
  if (!(ticks >= 1)) {
    const below = Math.max(1, Math.floor(clockHz / sampleRateHz));
    complaints.field(
      ["edge clock"],
      `must be a whole multiple of the sample rate ${plain(sampleRateHz)} Hz, ` +
        `found ${plain(clockHz)} Hz; the nearest are ${plain(below * sampleRateHz)} Hz ` +
        `and ${plain((below + 1) * sampleRateHz)} Hz`,
    );
  } else if (Number.isNaN(wholeOf(clockHz)) || clockHz > CLOCK_HZ_MAX) {
    const limit = `must be a whole number of Hz up to ${CLOCK_HZ_MAX}`;
    complaints.field(["edge clock"], `${limit}, found ${plain(clockHz)} Hz`);
  } else if (ticks > TICKS_PER_SAMPLE_MAX) {
    const limit = `must have at most ${TICKS_PER_SAMPLE_MAX} ticks in a sample`;
    complaints.field(["edge clock"], `${limit}, found ${ticks}`);
  }
  if (Number.isNaN(context.displaySamples) || samples < 1) {
    const below = Math.max(1, Math.floor(samples));
    complaints.field(
      ["display period"],
      `must be a whole number of samples, found ${plain(samples)} samples; the nearest are ` +
        `${plain((below / sampleRateHz) * 1e3)} ms and ` +
        `${plain(((below + 1) / sampleRateHz) * 1e3)} ms`,
    );
    context.displaySamples = below;
  } else if (samples < DISPLAY_SAMPLES_MIN || samples > DISPLAY_SAMPLES_MAX) {
    const limit = `must be ${DISPLAY_SAMPLES_MIN} to ${DISPLAY_SAMPLES_MAX} samples`;
    complaints.field(["display period"], `${limit}, found ${plain(samples)}`);
  }
}

/** The profile in SI; what is wrong goes to `complaints`, and then the result must not be used. */
export function buildProfile(written: WrittenProfile, complaints: Complaints): MonitorProfile {
  const context = buildContext(written, complaints);
  const channels = context.channelNames.map((name) => buildChannel(context, name));
  const shafts = context.shaftNames.map((name) => buildShaft(context, name));
  const filters = context.filterNames.map((name) => buildFilter(context, name, channels, shafts));
  checkPool(context, shafts);
  checkDisplaySources(context, filters);
  checkTestTones(context, channels, shafts);
  return {
    name: written.monitor,
    note: written.note,
    clockHz: context.clockHz,
    sampleRateHz: context.sampleRateHz,
    displayPeriodS: context.displayPeriodS,
    timeUnit: context.timeUnit,
    channels,
    shafts,
    filters,
  };
}
