// What the options of `amberline replay` mean, in samples.
import { existsSync } from "node:fs";
import type { Bandwidth, MonitorProfile } from "../../host/profile/types.ts";
import { type Dimension, parseQuantity } from "../../host/quantity.ts";
import type { Recording, Stretch } from "../recording/recording.ts";
import {
  constantSpeed,
  CYCLES_PER_SAMPLE_MAX,
  edgeTimes,
  type ShaftSpeed,
  speedTable,
  type UnitFactors,
  type Wheel,
} from "../recording/speed-sources.ts";
import { searchedSpeed } from "../recording/searched-speed.ts";
import { sampleRateWords } from "../recording/sample-rate-words.ts";
import { tachometerChannel } from "../recording/tachometer-channel.ts";
import { CallError } from "./command-errors.ts";
import { headParts } from "./replay-unit.ts";

export interface ReplayOptions {
  profile?: string;
  channel?: string[];
  speed?: string;
  speedNear?: string;
  speedSpan: string;
  edges?: string;
  tachometer?: string;
  /** Absent: the profile's wheel, else one edge a revolution. */
  positions?: number;
  threshold?: number;
  hysteresis?: number;
  slope: "rising" | "falling";
  order?: number[];
  /** Absent: 2 % of the speed. */
  bandwidth?: string;
  /** Absent: from the speeds. */
  speedBin?: string;
  rate?: string;
  fileUnit?: string;
  methods?: true;
  from?: string;
  until?: string;
}

/** Sample rate and the unit of time: a recording whose rate nobody knows counts samples. */
export interface Timing {
  sampleRateHz: number;
  timeUnit: "s" | "sample";
}

/** A timing, how surely its rate is known, and what must be said of it. */
export interface ToldTiming extends Timing {
  /** Half the width within which the file's times leave the rate; absent where it is stated. */
  sampleRateUncertaintyHz?: number;
  rateNotes: string[];
}

/** A rate that somebody states, or that the times of the file give. */
interface KnownRate {
  who: string;
  hz: number;
  uncertaintyHz?: number;
}

/** `others`: what may be written besides, in words. */
function amount(
  name: string,
  text: string,
  dimensions: Dimension[],
  timing: Timing,
  others = "",
): number {
  const parsed = parseQuantity(text, { dimensions, timeUnit: timing.timeUnit });
  if (typeof parsed === "string") {
    const hint =
      timing.timeUnit === "sample" && !dimensions.includes("share")
        ? "; the sample rate is not known, --rate may state it"
        : "";
    throw new CallError(`--${name} ${parsed}${others}${hint}`);
  }
  return parsed.value;
}

/** Shares by which two rates may differ: no word, and no refusal (two clocks differ by less). */
const RATE_SHARE_ALIKE = 1e-6;
const RATE_SHARE_NEAR = 1e-3;

const COUNTED: ToldTiming = { sampleRateHz: 1, timeUnit: "sample", rateNotes: [] };

/** A stated rate in place of the one known so far, with a word where the two are not alike. */
function takenRate(rate: KnownRate, before: KnownRate | undefined, notes: string[]): KnownRate {
  if (before === undefined) return rate;
  const offHz = Math.abs(rate.hz - before.hz);
  const surelyHz = before.uncertaintyHz ?? 0;
  const [one, other] = [rate, before].map(
    ({ who, hz, uncertaintyHz }) => `${who} ${sampleRateWords(hz, uncertaintyHz)}`,
  );
  if (offHz > Math.max(RATE_SHARE_NEAR * rate.hz, surelyHz)) {
    throw new CallError(`${one}, ${other}: they must be equal`);
  }
  if (offHz > Math.max(RATE_SHARE_ALIKE * rate.hz, surelyHz)) {
    const share = ((offHz / rate.hz) * 100).toPrecision(2);
    notes.push(
      `${one}, ${other}. The former is taken; if the latter is right, times and speeds are off ` +
        `by ${share} %.`,
    );
  }
  return rate;
}

/**
 * The sample rate: the profile's, else as stated, else the file's, else samples are counted. Each
 * is held against the next.
 *
 * Errors    CallError where two of them contradict each other
 */
export function timingOf(
  recording: Recording,
  profile: MonitorProfile | undefined,
  rate: string | undefined,
): ToldTiming {
  const rateNotes: string[] = [];
  let known: KnownRate | undefined;
  const { sampleRateHz: hz, sampleRateUncertaintyHz: uncertaintyHz } = recording;
  if (hz !== undefined) {
    const who = uncertaintyHz === undefined ? "the file says" : "the file's times give";
    known = { who, hz, uncertaintyHz };
  }
  if (rate !== undefined) {
    const amountHz = amount("rate", rate, ["frequency"], { sampleRateHz: 1, timeUnit: "s" });
    if (!(amountHz > 0)) throw new CallError(`--rate must be over 0, found ${rate}`);
    known = takenRate({ who: "--rate says", hz: amountHz }, known, rateNotes);
  }
  if (profile?.timeUnit === "sample") return COUNTED;
  if (profile !== undefined) {
    const who = `the profile "${profile.name}" says`;
    known = takenRate({ who, hz: profile.sampleRateHz }, known, rateNotes);
  }
  if (known === undefined) return COUNTED;
  return {
    sampleRateHz: known.hz,
    timeUnit: "s",
    sampleRateUncertaintyHz: known.uncertaintyHz,
    rateNotes,
  };
}

/** The stretch in samples; `until` past the end means to the end. */
export function stretchOf(options: ReplayOptions, timing: Timing): Stretch {
  const at = (name: "from" | "until", missing: number): number => {
    const text = options[name];
    if (text === undefined) return missing;
    // Samples may be counted whether or not the rate is known.
    const rule = /sample/.test(text) ? { sampleRateHz: 1, timeUnit: "sample" as const } : timing;
    const others = rule.timeUnit === "s" ? "; samples do, too" : "";
    return Math.round(amount(name, text, ["time"], rule, others) * rule.sampleRateHz);
  };
  const stretch = { fromSample: at("from", 0), untilSample: at("until", Infinity) };
  if (stretch.fromSample < 0 || !(stretch.untilSample > stretch.fromSample)) {
    throw new CallError("--until must come after --from, and --from must not be negative");
  }
  return stretch;
}

/** Full bandwidth: a share of the speed ("2 %") or fixed ("1 Hz", "0.004 cycles/sample"). */
export function bandwidthOf(text: string, timing: Timing): Bandwidth {
  if (text.trim().endsWith("%")) {
    const ratio = amount("bandwidth", text, ["share"], timing);
    if (!(ratio > 0 && ratio <= 0.5)) throw new CallError("--bandwidth must be within 0 and 50 %");
    return { kind: "proportional", fullWidthRatio: ratio };
  }
  const others = "; a share of the speed in % does, too";
  const width = amount("bandwidth", text, ["frequency"], timing, others);
  if (!(width > 0)) throw new CallError("--bandwidth must be over 0");
  return { kind: "fixed", fullWidthHz: width };
}

/** Width of the bins of levels against speed, in the told unit of speed. */
export function speedBinOf(text: string | undefined, timing: Timing): number | undefined {
  if (text === undefined) return undefined;
  const perSample = speedAmount("speed-bin", text, timing);
  return timing.timeUnit === "s" ? perSample * timing.sampleRateHz * 60 : perSample;
}

/** Channels that a complaint lists one by one. */
const CHANNELS_LISTED = 12;

/** `1 "a", 2 "tach"`: what a channel may be called by. */
function channelList({ channelNames }: Recording): string {
  const listed = channelNames.slice(0, CHANNELS_LISTED).map((name, i) => `${i + 1} "${name}"`);
  const more = channelNames.length - listed.length;
  return listed.join(", ") + (more > 0 ? ` and ${more} more` : "");
}

function noChannel(recording: Recording, name: string, who: string): CallError {
  return new CallError(
    `${who} names channel "${name}", which ${recording.path} lacks; it has ` +
      channelList(recording),
  );
}

/** The column of this name, else the only one that is so called beside a unit: "tach" of "tach (V)". */
function namedColumn({ channelNames }: Recording, name: string): number {
  const column = channelNames.indexOf(name);
  if (column >= 0) return column;
  const bare = channelNames.map((head) => headParts(head).name);
  return bare.indexOf(name) === bare.lastIndexOf(name) ? bare.indexOf(name) : -1;
}

/** Columns of the recording by name. */
export function columnsOf(recording: Recording, names: readonly string[], who: string): number[] {
  return names.map((name) => {
    const column = namedColumn(recording, name);
    if (column < 0) throw noChannel(recording, name, who);
    return column;
  });
}

/** A column by name, or by number from 1 where no channel has such a name. */
export function columnOf(recording: Recording, name: string, who: string): number {
  const column = namedColumn(recording, name);
  if (column >= 0) return column;
  const number = /^\d+$/.test(name) ? Number(name) : 0;
  if (number >= 1 && number <= recording.channelNames.length) return number - 1;
  throw noChannel(recording, name, who);
}

/** The columns that are replayed without a profile: as asked for, else all but the tachometer's. */
export function replayedColumns(recording: Recording, options: ReplayOptions): number[] {
  const { channel, tachometer } = options;
  if (channel !== undefined) {
    return [...new Set(channel.map((name) => columnOf(recording, name, "--channel")))];
  }
  const all = recording.channelNames.map((_, column) => column);
  if (tachometer === undefined) return all;
  const taken = columnOf(recording, tachometer, "--tachometer");
  const others = all.filter((column) => column !== taken);
  if (others.length > 0) return others;
  throw new CallError(
    `${recording.path} has no channel beside the tachometer's; --channel may name that one, too`,
  );
}

const SPEED_DIGITS_MAX = 6;

/** A speed as a person reads it, with the digits that an uncertainty of a share of it leaves. */
export function speedWords(cyclesPerSample: number, timing: Timing, uncertaintyShare = 0): string {
  // One digit past the first that the uncertainty touches.
  const known = Math.ceil(-Math.log10(uncertaintyShare)) + 1;
  const digits = Math.max(2, Math.min(SPEED_DIGITS_MAX, known));
  const words = (value: number): string => {
    const text = value.toPrecision(digits);
    return text.includes("e") ? String(Number(text)) : text;
  };
  if (timing.timeUnit === "sample") return `${words(cyclesPerSample)} rev/sample`;
  const revPerS = cyclesPerSample * timing.sampleRateHz;
  return `${words(revPerS)} rev/s (${words(revPerS * 60)} r/min)`;
}

/** A sample of the recording as a place in time. */
function placeWords(sample: number, { timeUnit, sampleRateHz }: Timing): string {
  if (timeUnit === "sample") return `sample ${Math.round(sample)}`;
  return `${Number((sample / sampleRateHz).toPrecision(4))} s`;
}

/** A frequency serves as a speed, too: the shaft turns once a cycle. */
function speedAmount(name: string, text: string, timing: Timing, others = ""): number {
  const value = amount(name, text, ["speed", "frequency"], timing, others) / timing.sampleRateHz;
  if (!(value > 0)) throw new CallError(`--${name} must be over 0`);
  return value;
}

/** Samples in a time of 1, by unit: seconds where none is written, samples where no rate is known. */
function timeFactors({ timeUnit, sampleRateHz: rate }: Timing): UnitFactors {
  const counted = { "": rate, sample: 1, samples: 1 };
  if (timeUnit === "sample") return counted;
  return { ...counted, s: rate, ms: rate / 1000, min: rate * 60, h: rate * 3600 };
}

/** rev/sample in a speed of 1, by unit: r/min where none is written. */
function speedFactors({ timeUnit, sampleRateHz: rate }: Timing): UnitFactors {
  if (timeUnit === "sample") return { "": 1, "rev/sample": 1 };
  const perMinute = 1 / (60 * rate);
  const perSecond = 1 / rate;
  return {
    "": perMinute,
    "r/min": perMinute,
    rpm: perMinute,
    "rev/s": perSecond,
    Hz: perSecond,
    "rev/sample": 1,
  };
}

/** The wheel that measured edges come from: as stated, else the profile's, else one edge. */
function wheelOf(positions: number | undefined, profile: MonitorProfile | undefined): Wheel {
  const shaft = positions === undefined ? profile?.shafts[0] : undefined;
  if (shaft === undefined) return { positions: positions ?? 1, revolutions: 1, index: "none" };
  return { positions: shaft.positions, revolutions: shaft.revolutions, index: shaft.index };
}

/**
 * The shaft's edges, from whichever option states them.
 *
 * Errors    CallError where none or several state them; InputError from the file that does
 */
export async function shaftSpeedOf(
  options: ReplayOptions,
  recording: Recording,
  columns: number[],
  { profile, timing, stretch }: { profile?: MonitorProfile; timing: ToldTiming; stretch: Stretch },
): Promise<ShaftSpeed> {
  const wheel = wheelOf(options.positions, profile);
  const { speed, speedNear, edges, tachometer } = options;
  const stated = [speed, speedNear, edges, tachometer].filter((one) => one !== undefined);
  if (stated.length !== 1) {
    throw new CallError(
      `${stated.length === 0 ? "nothing says" : "several options say"} how fast the shaft turns: ` +
        "one of --speed, --speed-near, --edges, --tachometer is needed",
    );
  }
  const place = (sample: number): string => placeWords(sample + stretch.fromSample, timing);
  if (tachometer !== undefined) {
    const column = columnOf(recording, tachometer, "--tachometer");
    return tachometerChannel(recording, column, options, wheel, stretch, place);
  }
  if (edges !== undefined) return edgeTimes(edges, timeFactors(timing), wheel, stretch);
  if (speedNear !== undefined) {
    const span = amount("speed-span", options.speedSpan, ["share"], timing);
    if (!(span > 0 && span < 1)) throw new CallError("--speed-span must be within 0 and 100 %");
    const near = speedAmount("speed-near", speedNear, timing);
    return searchedSpeed(recording, columns, near, span, stretch, {
      speed: (found, share) => speedWords(found, timing, share),
      place,
      rateShare: (timing.sampleRateUncertaintyHz ?? 0) / timing.sampleRateHz,
    });
  }
  if (/\.(csv|txt|tsv)$/i.test(speed!) || existsSync(speed!)) {
    const units = { samplesPerTime: timeFactors(timing), cyclesPerSample: speedFactors(timing) };
    return speedTable(speed!, units, stretch);
  }
  const constant = speedAmount("speed", speed!, timing, "; a table does, too: a .csv");
  if (constant > CYCLES_PER_SAMPLE_MAX) {
    const turns = constant.toPrecision(3);
    throw new CallError(`--speed makes ${turns} revolutions in a sample, at most one is taken`);
  }
  return constantSpeed(constant);
}
