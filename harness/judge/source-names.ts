// What the index in an event or a counter stands for, by name: nobody counts shafts from 0.
import * as U from "../../shared/units.ts";
import type { Counters } from "../../host/record-types.ts";
import type { MonitorProfile } from "../scene/scene.ts";
import { causeName, healthName, lostName } from "./event-names.ts";

type Kind = "shaft" | "channel" | "filter" | "device" | "check";

const SHAFT_EVENTS = [
  U.EVENT_REFERENCE_FOUND,
  U.EVENT_REFERENCE_LOST,
  U.EVENT_INDEX_FOUND,
  U.EVENT_INDEX_LOST,
];
const CHANNEL_EVENTS = [U.EVENT_TRANSDUCER_FAULT, U.EVENT_TRANSDUCER_HEALTHY];
const DEVICE_EVENTS = [U.EVENT_TEST_ON, U.EVENT_TEST_OFF, U.EVENT_RECORDS_LOST];

/** Each counter in the words of a scenario, and what its index counts. */
export const COUNTER_WORDS: Readonly<Record<keyof Counters, { words: string; of: Kind }>> = {
  blocks: { words: "blocks", of: "device" },
  samples: { words: "samples", of: "device" },
  refusedBlocks: { words: "refused blocks", of: "device" },
  recordsLost: { words: "records lost", of: "device" },
  edges: { words: "edges", of: "shaft" },
  edgesEarly: { words: "edges early", of: "shaft" },
  edgesMissed: { words: "edges missed", of: "shaft" },
  edgesIrregular: { words: "edges irregular", of: "shaft" },
  referenceLost: { words: "reference lost", of: "shaft" },
  indexContradictions: { words: "index contradictions", of: "shaft" },
  samplesNotFinite: { words: "samples not finite", of: "channel" },
  samplesClipped: { words: "samples clipped", of: "channel" },
  health: { words: "health", of: "check" },
  revolutions: { words: "revolutions", of: "shaft" },
  samplesLate: { words: "samples late", of: "shaft" },
};

function eventKind(code: number): Kind {
  if (SHAFT_EVENTS.includes(code)) return "shaft";
  if (CHANNEL_EVENTS.includes(code)) return "channel";
  return DEVICE_EVENTS.includes(code) ? "device" : "filter";
}

/** Names of one profile's parts. */
export class SourceNames {
  private readonly profile: MonitorProfile;

  constructor(profile: MonitorProfile) {
    this.profile = profile;
  }

  /** "fan" for a filter, whose number it is; else "shaft N1", "channel frame", "device". */
  ofEvent(code: number, source: number): string {
    return this.named(eventKind(code), source);
  }

  /** "shaft N1: edges missed"; a counter of the whole device stands alone. */
  ofCounter(name: string, index: number): string {
    const known = Object.entries(COUNTER_WORDS).find(([field]) => field === name)?.[1];
    if (known === undefined) return name;
    const of = this.named(known.of, index);
    return known.of === "device" ? known.words : `${of}: ${known.words}`;
  }

  ofFilter(filter: number): string {
    return this.named("filter", filter);
  }

  /** What an event's detail says; empty where it says nothing. */
  detail(code: number, detail: number): string {
    switch (code) {
      case U.EVENT_REFERENCE_LOST:
        return lostName(detail);
      case U.EVENT_INDEX_FOUND:
        return `position ${detail}`;
      case U.EVENT_INVALID:
        return causeName(detail);
      case U.EVENT_SUBSTITUTE_ON:
        return this.ofFilter(detail);
      case U.EVENT_TRANSDUCER_FAULT:
      case U.EVENT_TRANSDUCER_HEALTHY:
        return healthName(detail);
      case U.EVENT_RECORDS_LOST:
        return `${detail} lost`;
      default:
        return "";
    }
  }

  private named(kind: Kind, index: number): string {
    if (kind === "device") return "device";
    if (kind === "check") return `health check ${healthName(index)}`;
    const { shafts, channels, filters } = this.profile;
    const all = { shaft: shafts, channel: channels, filter: filters }[kind];
    const name = all[index]?.name;
    if (name === undefined) return `${kind} no. ${index + 1}`;
    return kind === "filter" ? name : `${kind} ${name}`;
  }
}
