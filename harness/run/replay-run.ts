// A whole replay: profile, passes over the recording, what is told at the end.
import { FILTERS_MAX, POOL_MARGIN_SAMPLES, POOL_SAMPLES } from "../../shared/capacity.ts";
import { ConfigurationRefused } from "../../host/core.ts";
import { fileComplaint } from "../../host/input-error.ts";
import { builtInCore } from "../../host/built-in-core.ts";
import { impliedBy } from "../../host/profile/implied.ts";
import { poolNeedSamples, timeoutLeastS } from "../../host/profile/pool-budget.ts";
import { refusedProfile } from "../../host/profile/refusal.ts";
import type { Bandwidth, MonitorProfile } from "../../host/profile/types.ts";
import type { Counters, EventRecord, ExceedanceRecord } from "../../host/record-types.ts";
import { eventName } from "../judge/event-names.ts";
import { SourceNames } from "../judge/source-names.ts";
import { numberText } from "../report/number-text.ts";
import type { MethodResults } from "../method/opinion-types.ts";
import type { Recording, Stretch } from "../recording/recording.ts";
import { replayProfile, TIMEOUT_ROOM } from "../recording/replay-profile.ts";
import type { ShaftSpeed } from "../recording/speed-sources.ts";
import { CoreTarget } from "../target/core-target.ts";
import { MethodRecorder } from "./method-recorder.ts";
import { type ReplayTake, replayThrough } from "./replay.ts";
import { ConstantWatch } from "./constant-watch.ts";
import { ClipWatch, type Doubt, doubtsOf } from "./replay-doubts.ts";
import { passNotes, wholeNotes } from "./replay-notes.ts";
import { type FilterTally, ReplayTally } from "./replay-tally.ts";
import { speedBinWidth } from "./speed-bins.ts";

/** Channels side by side in a pass: more would leave each too little room to wait for its knot. */
const PASS_CHANNELS_MAX = 4;
/** The firmware's shortest display period: health looks at eight slices of it. */
const PERIOD_SAMPLES_MIN = 8;

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
  /** The unit that this comes from, and who says it; absent where nobody does. */
  unit?: { text: string; from: "option" | "heads" };
  /** Without a profile: the unit of each column's levels. */
  levelUnits?: string[];
  /** With a profile: its filters; without: these orders of each column. */
  profile?: MonitorProfile;
  orders: number[];
  /** Second opinions are put beside the levels. */
  usesMethods?: boolean;
  bandwidth: Bandwidth;
  /** Of the table of levels against speed, r/min or rev/sample; absent: from the speeds. */
  speedBinWidth?: number;
}

export interface ReplayEvent {
  name: string;
  /** What it is of, by name: a filter, "shaft N1", "channel frame", "device". */
  of: string;
  time: number;
  speed: number;
  level: number;
  detail: number;
  /** What the detail says; empty where it says nothing. */
  detailText: string;
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
  /** Bins of the filters' levels by speed. */
  speedBins: { width: number; unit: "r/min" | "rev/sample" };
  /** By how much later a level follows its speed, seconds or samples, at the middle speed. */
  levelLag: number;
  events: ReplayEvent[];
  exceedances: ReplayExceedance[];
  counters: Counters[];
  /** What speaks against levels, each sentence once. */
  doubts: Doubt[];
  notes: string[];
  sampleCount: number;
  isPhaseRelative: boolean;
  /** Of a tachometer channel: standard deviations of an edge's time in samples, and as phase. */
  edgeTiming?: ShaftSpeed["edgeTiming"];
  /** Second opinions, where they were asked for. */
  methods?: MethodResults;
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
      units: some.map((_, i) => request.levelUnits?.[from + i] ?? "units"),
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

/** Display periods, and turns of the shaft, through which a channel that is alive does not stand. */
const FLAT_PERIODS = 3;
const FLAT_TURNS = 2;

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
    speedBins: {
      width: request.speedBinWidth ?? Number.NaN,
      unit: request.timeUnit === "s" ? "r/min" : "rev/sample",
    },
    levelLag: Number.NaN,
    events: [],
    exceedances: [],
    counters: [],
    doubts: [],
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
  outcome.notes = [...new Set([...outcome.notes, ...wholeNotes(request, outcome)])];
  return outcome;
}

function constantWatch(
  { channels, displayPeriodS }: MonitorProfile,
  { speed, sampleRateHz }: ReplayRequest,
): ConstantWatch {
  const periods = FLAT_PERIODS * displayPeriodS * sampleRateHz;
  return new ConstantWatch(channels.length, Math.max(periods, FLAT_TURNS / speed.speedTypical));
}

/** One pass over the recording; what it gives is added to the outcome. */
async function runPass(
  request: ReplayRequest,
  { profile, columns }: Pass,
  outcome: ReplayOutcome,
  signal: AbortSignal,
): Promise<void> {
  const tallies = profile.filters.map((filter) => {
    const { name, order, unit, detector, display } = filter;
    const channel = profile.channels[filter.channel]!.name;
    return new ReplayTally({ name, channel, order, unit: `${unit} ${detector}` }, display.step);
  });
  const { recording, scale, stretch, speed, sampleRateHz } = request;
  const input = { recording, profile, columns, scale, ...stretch, edges: speed.makeEdges() };
  const names = new SourceNames(profile);
  const toldBefore = new Set(outcome.events.map(eventKey));
  const target = new CoreTarget(builtInCore());
  const startTime = stretch.fromSample / sampleRateHz;
  const timeOf = (tick: number): number => startTime + tick / profile.clockHz;
  const clips = new ClipWatch(profile, recording.valueRange, scale);
  const constants = constantWatch(profile, request);
  const events: EventRecord[] = [];
  const methods = request.usesMethods === true ? new MethodRecorder(profile, startTime) : undefined;
  const take: ReplayTake = {
    samples: (channels, firstSample) => {
      clips.take(channels, firstSample);
      constants.take(channels, firstSample);
    },
    ...(methods === undefined
      ? {}
      : {
          watch: {
            batch: (batch) => methods.takeBatch(batch),
            records: (bytes) => methods.takeRecords(bytes),
          },
        }),
    level: (record) => tallies[record.filter]!.take(record, timeOf(record.tick)),
    event: (record) => {
      events.push(record);
      const event = toldEvent(record, names, timeOf);
      if (!toldBefore.has(eventKey(event))) outcome.events.push(event);
    },
    exceedance: (record) => outcome.exceedances.push(toldExceedance(record, profile, timeOf)),
  };
  const played = replayThrough(input, target, take, signal);
  const done = await unlessRefused(profile, request, played);
  if (methods !== undefined) addOpinions(outcome, methods.finish(), request.profile !== undefined);
  const perTold = request.timeUnit === "s" ? 60 : 1;
  if (!(outcome.speedBins.width > 0)) outcome.speedBins.width = binWidthOf(tallies, perTold);
  const { width } = outcome.speedBins;
  outcome.filters.push(...tallies.map((tally) => tally.finish(perTold, width)));
  outcome.levelLag = levelLagOf(profile, speed.speedTypical * sampleRateHz);
  outcome.counters.push(done.counters);
  const timeText = (time: number): string =>
    request.timeUnit === "s" ? `${numberText(time, 6)} s` : `sample ${Math.round(time)}`;
  const still = constants.finish();
  const facts = { profile, clips, still, events, ...done };
  addDoubts(
    outcome,
    doubtsOf({
      ...facts,
      sampleText: (sample) => timeText(startTime + sample / sampleRateHz),
      tickText: (tick) => timeText(timeOf(tick)),
    }),
  );
  outcome.sampleCount = done.sampleCount;
  outcome.notes.push(...passNotes(profile, request));
}

/** Each pass finds the shaft anew: what it says of it once more is said of its filters too. */
function addDoubts(outcome: ReplayOutcome, doubts: readonly Doubt[]): void {
  for (const doubt of doubts) {
    const before = outcome.doubts.find(({ words }) => words === doubt.words);
    if (before === undefined) outcome.doubts.push(doubt);
    else before.filters.push(...doubt.filters);
  }
}

/** A pass's second opinions after those of the passes before. */
function addOpinions(outcome: ReplayOutcome, added: MethodResults, hasNames: boolean): void {
  const before = outcome.methods ?? { notes: [], filters: [], maps: [] };
  const first = outcome.filters.length;
  outcome.methods = {
    notes: [...new Set([...before.notes, ...added.notes])],
    filters: [
      ...before.filters,
      ...added.filters.map((one) => ({ ...one, filter: one.filter + first })),
    ],
    maps: [
      ...before.maps,
      // A profile that was made has no name for its one shaft.
      ...added.maps.map((map) => (hasNames ? map : { ...map, shaft: "the shaft" })),
    ],
  };
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

function toldEvent(
  record: EventRecord,
  names: SourceNames,
  timeOf: (tick: number) => number,
): ReplayEvent {
  return {
    name: eventName(record.code),
    of: names.ofEvent(record.code, record.source),
    time: timeOf(record.tick),
    speed: record.speedRevPerS,
    level: record.level,
    detail: record.detail,
    detailText: names.detail(record.code, record.detail),
  };
}

/** Each pass finds the shaft anew, and tells of it what the passes before have told. */
function eventKey({ name, of, time, detail }: ReplayEvent): string {
  return [name, of, time, detail].join("\n");
}

function binWidthOf(tallies: readonly ReplayTally[], perTold: number): number {
  const spans = tallies.map((tally) => tally.speedSpan);
  const least = spans.reduce((a, span) => Math.min(a, span.least), Infinity);
  const most = spans.reduce((a, span) => Math.max(a, span.most), 0);
  return speedBinWidth(Math.min(least, most) * perTold, most * perTold);
}

/** The longest by which a filter's level follows later, as the profile's settings imply. */
function levelLagOf(profile: MonitorProfile, speed: number): number {
  const { filters } = impliedBy(profile, speed);
  return Math.max(...filters.map((filter) => filter.atSpeeds[0]!.latencyS));
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
