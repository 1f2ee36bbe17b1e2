// A whole replay: profile, passes over the recording, what is told at the end.
import { FILTERS_MAX, POOL_MARGIN_SAMPLES, POOL_SAMPLES } from "../../shared/capacity.ts";
import { ConfigurationRefused, Core } from "../../host/core.ts";
import { fileComplaint } from "../../host/input-error.ts";
import { releaseCorePath } from "../../host/package-root.ts";
import { impliedBy } from "../../host/profile/implied.ts";
import { poolNeedSamples, timeoutLeastS } from "../../host/profile/pool-budget.ts";
import { refusedProfile } from "../../host/profile/refusal.ts";
import type { Bandwidth, MonitorProfile } from "../../host/profile/types.ts";
import type { Counters, EventRecord, ExceedanceRecord } from "../../host/record-types.ts";
import { eventName } from "../judge/event-names.ts";
import type { Recording, Stretch } from "../recording/recording.ts";
import { replayProfile, TIMEOUT_ROOM } from "../recording/replay-profile.ts";
import type { ShaftSpeed } from "../recording/speed-sources.ts";
import { CoreTarget } from "../target/core-target.ts";
import { type ReplayTake, replayThrough } from "./replay.ts";
import { type FilterTally, ReplayTally } from "./replay-tally.ts";

/** Channels side by side in a pass: more would leave each too little room to wait for its knot. */
const PASS_CHANNELS_MAX = 4;
/** The firmware's shortest display period: health looks at eight slices of it. */
const PERIOD_SAMPLES_MIN = 8;
/** Fewer samples than this in a period of the highest order deserve a word. */
const SAMPLES_PER_PERIOD_GOOD = 20;

/** A level that a straying speed makes read low by less than this share is not worth a word. */
const LOSS_TOLD = 0.005;

/** Highest frequency that is tracked, cycles per sample: a little under half the sample rate. */
export const CYCLES_PER_SAMPLE_MAX = 0.499;

export interface ReplayRequest {
  recording: Recording;
  stretch: Stretch;
  speed: ShaftSpeed;
  timeUnit: "s" | "sample";
  sampleRateHz: number;
  /** Half the width within which the file's times leave the rate; absent where it is stated. */
  sampleRateUncertaintyHz?: number;
  /** What must be said of the rate: who states it, and against what. */
  rateNotes?: string[];
  columns: number[];
  scale: number;
  /** With a profile: its filters; without: these orders of each column. */
  profile?: MonitorProfile;
  orders: number[];
  bandwidth: Bandwidth;
}

export interface ReplayEvent {
  name: string;
  source: number;
  time: number;
  speed: number;
  level: number;
  detail: number;
}

export interface ReplayExceedance {
  filter: string;
  onset: number;
  end: number;
  peakAt: number;
  peakLevel: number;
  peakShown: number;
  speedAtPeak: number;
  timeAbove: number;
}

export interface ReplayOutcome {
  filters: FilterTally[];
  events: ReplayEvent[];
  exceedances: ReplayExceedance[];
  counters: Counters[];
  notes: string[];
  sampleCount: number;
  isPhaseRelative: boolean;
  /** Of a tachometer channel: standard deviations of an edge's time in samples, and as phase. */
  edgeTiming?: ShaftSpeed["edgeTiming"];
  /** Only what came before the interrupt is in here. */
  isInterrupted: boolean;
  /** What is wrong with the file at the place up to which it was replayed. */
  fault?: string;
}

interface Pass {
  profile: MonitorProfile;
  columns: number[];
}

/** Channels that one pass may take: the firmware keeps each one's samples until its next knot. */
function channelsPerPass({ orders, recording, speed, sampleRateHz }: ReplayRequest): number {
  const slowest = speed.speedMin * sampleRateHz;
  const timeoutS = timeoutLeastS(speed.wheel, slowest) * TIMEOUT_ROOM;
  const byPool = Math.floor(POOL_SAMPLES / poolNeedSamples(sampleRateHz, timeoutS));
  if (byPool < 1) {
    const revolutions = timeoutLeastS(speed.wheel, 1) * TIMEOUT_ROOM;
    const most = Math.floor((POOL_SAMPLES - POOL_MARGIN_SAMPLES) / revolutions);
    throw fileComplaint(
      recording.path,
      `the shaft turns too slowly for this sample rate: ${Math.round(1 / speed.speedMin)} samples ` +
        `in a revolution, with room to slow down, and with these edges the firmware keeps ${most}; ` +
        "more edges a revolution, a lower sample rate or a faster stretch (--from, --until) would do",
    );
  }
  return Math.max(1, Math.min(byPool, PASS_CHANNELS_MAX, Math.floor(FILTERS_MAX / orders.length)));
}

/** Profiles of the passes that cover all filters, with the columns of each. */
function passesOf(request: ReplayRequest): Pass[] {
  const { profile, columns, orders, recording, speed, sampleRateHz } = request;
  if (profile !== undefined) return [{ profile: withEdges(profile, request), columns }];
  const perPass = channelsPerPass(request);
  // The room above the speed must not ask for more than the sample rate gives.
  const highest = CYCLES_PER_SAMPLE_MAX / Math.max(...orders);
  const passes = [];
  for (let from = 0; from < columns.length; from += perPass) {
    const some = columns.slice(from, from + perPass);
    const displayPeriodS =
      request.timeUnit === "s"
        ? Math.max(PERIOD_SAMPLES_MIN, Math.round(sampleRateHz / 10)) / sampleRateHz
        : Math.max(PERIOD_SAMPLES_MIN, Math.round(1 / speed.speedTypical));
    const made = replayProfile({
      channelNames: some.map((column) => recording.channelNames[column]!),
      orders,
      bandwidth: request.bandwidth,
      speedMin: speed.speedMin * sampleRateHz,
      speedMax: Math.min(speed.speedMax, highest) * sampleRateHz,
      wheel: speed.wheel,
      sampleRateHz,
      timeUnit: request.timeUnit,
      displayPeriodS,
    });
    passes.push({ profile: made, columns: some });
  }
  return passes;
}

/**
 * The user's profile, its first shaft's wheel that of the edges at hand; the time-out is made
 * longer where knots lie further apart on this wheel than on the profile's.
 */
function withEdges(profile: MonitorProfile, { speed }: ReplayRequest): MonitorProfile {
  const [first, ...others] = profile.shafts;
  const leastS = timeoutLeastS(speed.wheel, first!.speedMinRevPerS);
  const timeoutS = first!.timeoutS < leastS ? leastS * TIMEOUT_ROOM : first!.timeoutS;
  const shaft = { ...first!, ...speed.wheel, timeoutS };
  return { ...profile, shafts: [shaft, ...others] };
}

/**
 * Replays a recording on the built-in core.
 *
 * Errors    InputError where the profile does not fit
 */
export async function runReplay(
  request: ReplayRequest,
  signal: AbortSignal,
): Promise<ReplayOutcome> {
  const outcome: ReplayOutcome = {
    filters: [],
    events: [],
    exceedances: [],
    counters: [],
    notes: [...(request.rateNotes ?? []), ...request.speed.notes],
    sampleCount: 0,
    isPhaseRelative: request.speed.isPhaseRelative,
    edgeTiming: request.speed.edgeTiming,
    isInterrupted: false,
  };
  const { recording } = request;
  for (const pass of passesOf(request)) {
    await runPass(request, pass, outcome, signal);
    if (signal.aborted) break;
  }
  const samples = `${outcome.sampleCount} samples a channel`;
  if (signal.aborted) {
    outcome.isInterrupted = true;
    outcome.notes.unshift(`Interrupted: the last channels read end after ${samples}.`);
  } else if (recording.fault !== undefined) {
    outcome.fault = recording.fault.message;
    outcome.notes.unshift(`Only what stands before a fault was read, ${samples}: ${outcome.fault}`);
  }
  if (outcome.filters.some((filter) => filter.settledCount * 2 < filter.computedCount)) {
    outcome.notes.push(
      "The stretch is short for this bandwidth: levels had settled to 1 % on less than half of it, " +
        "so their statistics are taken over its second half.",
    );
  }
  for (const filter of outcome.filters) {
    if (!filter.endsAtLevel) continue;
    outcome.notes.push(
      `The stretch ends while the number of "${filter.name}" stands at its caution level: ` +
        "that exceedance has no end and is not listed.",
    );
  }
  outcome.notes = [...new Set([...outcome.notes, ...scaleNotes(request), ...readerNotes(request)])];
  return outcome;
}

/** One pass over the recording; what it gives is added to the outcome. */
async function runPass(
  request: ReplayRequest,
  { profile, columns }: Pass,
  outcome: ReplayOutcome,
  signal: AbortSignal,
): Promise<void> {
  const tallies = profile.filters.map(
    (filter) =>
      new ReplayTally(filter.name, `${filter.unit} ${filter.detector}`, filter.display.step),
  );
  const { recording, scale, stretch, speed, sampleRateHz } = request;
  const input = { recording, profile, columns, scale, ...stretch, edges: speed.makeEdges() };
  const target = new CoreTarget(Core.fromFile(releaseCorePath()));
  const startTime = stretch.fromSample / sampleRateHz;
  const timeOf = (tick: number): number => startTime + tick / profile.clockHz;
  const take: ReplayTake = {
    level: (record) => tallies[record.filter]!.take(record, timeOf(record.tick)),
    event: (record) => outcome.events.push(toldEvent(record, timeOf)),
    exceedance: (record) => outcome.exceedances.push(toldExceedance(record, profile, timeOf)),
  };
  const played = replayThrough(input, target, take, signal);
  const done = await unlessRefused(profile, request, played);
  outcome.filters.push(...tallies.map((tally) => tally.finish()));
  outcome.counters.push(done.counters);
  outcome.sampleCount = done.sampleCount;
  outcome.notes.push(...rateNotes(profile, speed, sampleRateHz));
  outcome.notes.push(...wanderNotes(profile, request));
}

/** A refusal by the firmware as a complaint about the profile, or about the options it comes of. */
async function unlessRefused<T>(
  profile: MonitorProfile,
  request: ReplayRequest,
  answer: Promise<T>,
): Promise<T> {
  try {
    return await answer;
  } catch (error) {
    if (!(error instanceof ConfigurationRefused)) throw error;
    const isMade = request.profile === undefined;
    throw refusedProfile(error, profile, isMade ? request.recording.path : undefined);
  }
}

function toldEvent(record: EventRecord, timeOf: (tick: number) => number): ReplayEvent {
  return {
    name: eventName(record.code),
    source: record.source,
    time: timeOf(record.tick),
    speed: record.speedRevPerS,
    level: record.level,
    detail: record.detail,
  };
}

function toldExceedance(
  record: ExceedanceRecord,
  profile: MonitorProfile,
  timeOf: (tick: number) => number,
): ReplayExceedance {
  const filter = profile.filters[record.filter]!;
  const onset = timeOf(record.onsetTick);
  return {
    filter: filter.name,
    onset,
    end: timeOf(record.endTick),
    peakAt: onset + record.peakSteps * profile.displayPeriodS,
    peakLevel: record.peakLevel,
    peakShown: record.peakShownCounts * filter.display.step,
    speedAtPeak: record.speedAtPeakRevPerS,
    timeAbove: record.aboveSteps * profile.displayPeriodS,
  };
}

/** A word of warning where there are few samples in a period of the highest order. */
function rateNotes(profile: MonitorProfile, speed: ShaftSpeed, sampleRateHz: number): string[] {
  const highest = Math.max(...profile.filters.map((filter) => filter.order));
  const samples = sampleRateHz / (speed.speedTypical * sampleRateHz * highest);
  if (samples >= SAMPLES_PER_PERIOD_GOOD) return [];
  return [
    `Only ${samples.toPrecision(3)} samples in a period of order ${highest} ` +
      `(${SAMPLES_PER_PERIOD_GOOD} are good): whatever lies beyond half the sample rate is folded ` +
      "onto the level, and the ends of a revolution are integrated less well.",
  ];
}

/**
 * How low a steady level reads where the shaft strays from a speed that is taken as constant: two
 * equal poles pass 1/(1 + (√2 − 1)·x²) of a tone that is x half bandwidths off (check value F-02).
 */
function wanderNotes(profile: MonitorProfile, { speed, sampleRateHz }: ReplayRequest): string[] {
  const wander = (speed.wanderPerSample ?? 0) * sampleRateHz;
  const { filters } = impliedBy(profile, speed.speedTypical * sampleRateHz);
  let most = { loss: 0, order: 1 };
  for (const [i, { order }] of profile.filters.entries()) {
    const off = (order * wander) / (filters[i]!.atSpeeds[0]!.bandwidthHz / 2);
    const loss = 1 - 1 / (1 + (Math.SQRT2 - 1) * off ** 2);
    if (loss > most.loss) most = { loss, order };
  }
  if (most.loss < LOSS_TOLD) return [];
  return [
    `The speed is taken as constant. Where the shaft strays from it most, a steady level of order ` +
      `${most.order} reads ${(most.loss * 100).toPrecision(2)} % low, so narrow is the bandwidth.`,
  ];
}

/** Whole numbers of a WAV are shares of full scale: without a stated unit no level is in a true one. */
function scaleNotes({ recording, profile, scale }: ReplayRequest): string[] {
  if (profile === undefined || scale !== 1 || recording.fullScale === undefined) return [];
  return [
    "The file holds whole numbers and no unit: its full scale is taken as 1 SI unit of the " +
      "profile's channels. --file-unit may state what it stands for.",
  ];
}

function readerNotes({ recording, columns }: ReplayRequest): string[] {
  const lost = columns
    .map((column) => [recording.channelNames[column]!, recording.notFiniteCount[column]!] as const)
    .filter(([, count]) => count > 0)
    .map(
      ([name, count]) =>
        `${count} ${count === 1 ? "sample" : "samples"} of "${name}" ` +
        `${count === 1 ? "was no number and was" : "were no number and were"} dropped.`,
    );
  return [...recording.notes, ...lost];
}
