// What the signal path's counters, and a look at the samples, say against the levels of a replay.
import * as U from "../../shared/units.ts";
import type { MonitorProfile } from "../../host/profile/types.ts";
import type { Counters, EventRecord } from "../../host/record-types.ts";
import { healthName, lostName } from "../judge/event-names.ts";
import { numberText } from "../report/number-text.ts";
import { counted } from "../results/scene-words.ts";
import type { ConstantWatch } from "./constant-watch.ts";

export interface Doubt {
  /** A plain sentence: how many, which share, since when. */
  words: string;
  /** Filters whose levels are not to be relied on for it; none: it is worth a word only. */
  filters: string[];
}

interface Seen {
  count: number;
  firstSample: number;
  lastSample: number;
}

const nothingSeen = (): Seen => ({ count: 0, firstSample: Number.NaN, lastSample: Number.NaN });

function see(seen: Seen, sample: number): void {
  if (seen.count === 0) seen.firstSample = sample;
  seen.lastSample = sample;
  seen.count += 1;
}

/** Looks for samples at the end of a range: of the profile's channels, and of the file's format. */
export class ClipWatch {
  readonly #range: number[];
  /** Least and greatest value that the format holds, as they reach the signal path. */
  readonly #held: { low: number; high: number } | undefined;
  readonly #wasHeld: boolean[];
  readonly overRange: Seen[];
  /** Two or more side by side: one alone may be the peak that a file was scaled to. */
  readonly atFormatEnd: Seen[];

  constructor(
    profile: MonitorProfile,
    valueRange: { low: number; high: number } | undefined,
    scale: number,
  ) {
    this.#range = profile.channels.map((channel) => Math.fround(channel.range));
    this.#held = valueRange && {
      low: Math.fround(Math.fround(valueRange.low) * scale),
      high: Math.fround(Math.fround(valueRange.high) * scale),
    };
    this.overRange = profile.channels.map(nothingSeen);
    this.atFormatEnd = profile.channels.map(nothingSeen);
    this.#wasHeld = profile.channels.map(() => false);
  }

  take(channels: readonly ArrayLike<number>[], firstSample: number): void {
    for (const [channel, samples] of channels.entries()) {
      for (let i = 0; i < samples.length; i += 1) {
        const value = samples[i]!;
        if (Math.abs(value) >= this.#range[channel]!) {
          see(this.overRange[channel]!, firstSample + i);
        }
        this.#takeHeld(channel, value, firstSample + i);
      }
    }
  }

  #takeHeld(channel: number, value: number, sample: number): void {
    if (this.#held === undefined) return;
    const isHeld = value <= this.#held.low || value >= this.#held.high;
    if (isHeld && this.#wasHeld[channel]!) {
      const seen = this.atFormatEnd[channel]!;
      if (seen.count === 0 || seen.lastSample < sample - 1) see(seen, sample - 1);
      see(seen, sample);
    }
    this.#wasHeld[channel] = isHeld;
  }
}

/** What one pass over the recording gives to judge its levels by. */
export interface PassFacts {
  profile: MonitorProfile;
  counters: Counters;
  clips: ClipWatch;
  still: ReturnType<ConstantWatch["finish"]>;
  sampleCount: number;
  events: readonly EventRecord[];
  /** Of a sample, and of a tick, in words with the unit. */
  sampleText: (sample: number) => string;
  tickText: (tick: number) => string;
}

/** Part of a whole in percent; never 0 % or 100 % of what is not none or all. */
function share(count: number, all: number): string {
  const percent = (100 * count) / all;
  if (count === all) return "100 %";
  if (percent > 99.99) return "over 99.99 %";
  if (percent < 0.01) return "under 0.01 %";
  return `${numberText(percent, percent > 99 ? 4 : 2)} %`;
}

function filtersOf({ profile }: PassFacts, channel?: number): string[] {
  return profile.filters
    .filter((filter) => channel === undefined || filter.channel === channel)
    .map((filter) => filter.name);
}

function lostDoubts(facts: PassFacts): Doubt[] {
  const { profile, counters, sampleCount } = facts;
  return profile.channels.flatMap(({ name }, channel): Doubt[] => {
    const count = counters.samplesNotFinite[channel]!;
    if (count === 0) return [];
    const how = count === 1 ? "was no number and was" : "were no number and were";
    const words =
      `${counted(count, "sample")} of "${name}" ${how} dropped ` +
      `(${share(count, sampleCount)} of ${sampleCount}).`;
    return [{ words, filters: filtersOf(facts, channel) }];
  });
}

function clipDoubts(facts: PassFacts): Doubt[] {
  const { profile, counters, clips, still, events, sampleCount, sampleText } = facts;
  return profile.channels.flatMap(({ name }, channel) => {
    const doubts: Doubt[] = [];
    const add = (count: number, seen: Seen, what: string): void => {
      if (count === 0) return;
      const when =
        seen.count > 1
          ? `the first at ${sampleText(seen.firstSample)}, the last at ${sampleText(seen.lastSample)}`
          : `at ${sampleText(seen.firstSample)}`;
      doubts.push({
        words:
          `Channel "${name}": ${count} of ${sampleCount} samples ${what} ` +
          `(${share(count, sampleCount)}), ${when}.`,
        filters: filtersOf(facts, channel),
      });
    };
    const clipped = counters.samplesClipped[channel]!;
    add(clipped, clips.overRange[channel]!, "are clipped, at or over the channel's range");
    const atEnd = clips.atFormatEnd[channel]!;
    add(atEnd.count, atEnd, "are clipped, at the end of what the file can hold");
    const crests = still.crests[channel]!;
    if (doubts.length === 0) {
      const ends = "stand still at the recording's own greatest or least value, as clipped ones do";
      add(crests.count, crests, ends);
    }
    const flat = still.flat[channel]!;
    const isTold = events.some(
      ({ detail, source }) => detail === U.HEALTH_FLAT && source === channel,
    );
    if (!isTold) add(flat.count, flat, "lie in flat stretches of one value");
    return doubts;
  });
}

const HEALTH_WORDS: Readonly<Record<number, string>> = {
  [U.HEALTH_BIAS]: "has a bias outside the stated one",
  [U.HEALTH_CLIP]: "clips",
  [U.HEALTH_FLAT]: "is flat while the shaft turns",
  [U.HEALTH_NOISE_FLOOR]: "has lost its noise floor, as an open lead does",
  [U.HEALTH_BURST]: "is noisy: low-frequency bursts, as of a loose connector",
  [U.HEALTH_PHYSICAL]: "has peaks above what the profile states as physical",
  [U.HEALTH_BROADBAND]: "has a tracked level that its broadband level does not bear out",
};

/** Transducer faults by channel and check, and what of the checks' counters they leave unsaid. */
function healthDoubts(facts: PassFacts): Doubt[] {
  const { profile, counters, events, tickText } = facts;
  const doubts: Doubt[] = [];
  for (const [check, stepCount] of counters.health.entries()) {
    if (stepCount === 0) continue;
    const onSteps = `found on ${counted(stepCount, "display step")}`;
    const its = events.filter(({ detail }) => detail === check);
    const faults = its.filter(({ code }) => code === U.EVENT_TRANSDUCER_FAULT);
    const channels = [...new Set(faults.map(({ source }) => source))];
    for (const channel of channels) {
      const own = its.filter(({ source }) => source === channel);
      const first = faults.find(({ source }) => source === channel)!;
      const times = own.filter(({ code }) => code === U.EVENT_TRANSDUCER_FAULT).length;
      const isOver = own.at(-1)!.code === U.EVENT_TRANSDUCER_HEALTHY;
      const end = isOver ? `over at ${tickText(own.at(-1)!.tick)}` : "to the end";
      const often = times > 1 ? `${times} times, ` : "";
      const steps = channels.length > 1 ? `${onSteps} of all channels` : onSteps;
      doubts.push({
        words:
          `Channel "${profile.channels[channel]!.name}" ${HEALTH_WORDS[check] ?? "is not healthy"}: ` +
          `${often}since ${tickText(first.tick)}, ${end} (${steps}).`,
        filters: filtersOf(facts, channel),
      });
    }
    if (channels.length === 0) {
      doubts.push({
        words:
          `Health check "${healthName(check)}": a fault was ${onSteps}, never on enough of them in ` +
          "a row to count as one.",
        filters: filtersOf(facts),
      });
    }
  }
  return doubts;
}

/** Counters of the tachometer, in words; those under `isLevel` touch the level itself. */
const EDGE_WORDS = [
  { field: "edgesMissed", words: "were missed and bridged", isLevel: true },
  { field: "edgesIrregular", words: "fitted nowhere and were dropped", isLevel: true },
  { field: "edgesEarly", words: "came too early and were dropped as glitches", isLevel: false },
] as const;

function shaftDoubts(facts: PassFacts): Doubt[] {
  const { profile, counters, events, tickText } = facts;
  return profile.shafts.flatMap(({ name }, shaft) => {
    const tracked = profile.filters.filter((filter) => filter.shaft === shaft);
    const filters = tracked.map((filter) => filter.name);
    const of = `Tachometer of shaft "${name}"`;
    const [missed, irregular, early] = EDGE_WORDS.map(({ field }) => counters[field][shaft]!);
    const all = counters.edges[shaft]! + missed! + irregular! + early!;
    const doubts = EDGE_WORDS.flatMap(({ field, words, isLevel }): Doubt[] => {
      const count = counters[field][shaft]!;
      if (count === 0) return [];
      return [
        {
          words: `${of}: ${count} of ${all} edges ${words} (${share(count, all)}).`,
          filters: isLevel ? filters : [],
        },
      ];
    });
    const lost = counters.referenceLost[shaft]!;
    const event = events.find(
      ({ code, source }) => code === U.EVENT_REFERENCE_LOST && source === shaft,
    );
    if (lost > 0) {
      const first = event && `, first at ${tickText(event.tick)} (${lostName(event.detail)})`;
      doubts.push({
        words: `${of}: its reference was lost ${counted(lost, "time")}${first ?? ""}; no level there.`,
        filters: [],
      });
    }
    const contradictions = counters.indexContradictions[shaft]!;
    if (contradictions > 0) {
      const what = counted(contradictions, "revolution");
      doubts.push({
        words: `${of}: the index contradicts itself in ${what}: phase is not to be relied on.`,
        filters: [],
      });
    }
    const late = counters.samplesLate[shaft]!;
    if (late > 0) {
      const what = counted(late, "interval");
      doubts.push({ words: `${of}: ${what} dropped because samples were gone.`, filters });
    }
    return doubts;
  });
}

/** Everything that speaks against a pass's levels, the samples first. */
export function doubtsOf(facts: PassFacts): Doubt[] {
  const { recordsLost } = facts.counters;
  const doubts = [...clipDoubts(facts), ...lostDoubts(facts), ...healthDoubts(facts)];
  doubts.push(...shaftDoubts(facts));
  if (recordsLost > 0) {
    const words = `${counted(recordsLost, "record")} of the signal path were lost: levels are missing.`;
    doubts.push({ words, filters: filtersOf(facts) });
  }
  return doubts;
}
