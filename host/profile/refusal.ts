// Why the firmware refused a configuration, in the words of the profile that it was made from.
import * as L from "../../shared/layout.ts";
import * as STATUS from "../../shared/status.ts";
import type { ConfigurationRefused } from "../core.ts";
import { InputError } from "../input-error.ts";
import type { MonitorProfile } from "./types.ts";

/** Fields of a block: offset of the first byte, and what a profile calls it. */
type Fields = readonly (readonly [offset: number, name: string])[];

const GLOBALS: Fields = [
  [L.GLOBAL_CLOCK_HZ, "edge clock"],
  [L.GLOBAL_TICKS_PER_SAMPLE, "edge clock"],
  [L.GLOBAL_DISPLAY_SAMPLES, "display period"],
  [L.GLOBAL_CHANNEL_COUNT, "number of channels"],
  [L.GLOBAL_SHAFT_COUNT, "number of shafts"],
  [L.GLOBAL_FILTER_COUNT, "number of filters"],
];
const CHANNEL: Fields = [
  [L.CHANNEL_KIND, "transducer"],
  [L.CHANNEL_COUNT_STEP, "count step"],
  [L.CHANNEL_RANGE, "range"],
  [L.CHANNEL_RESPONSE, "response"],
  [L.CHANNEL_DELAY_S, "delay"],
  [L.CHANNEL_TABLE_COUNT, "response"],
  [L.CHANNEL_HEALTH_MASK, "health"],
  [L.CHANNEL_TEST_PK, "functional test"],
  [L.CHANNEL_TABLE, "response"],
];
const SHAFT: Fields = [
  [L.SHAFT_POSITIONS, "positions"],
  [L.SHAFT_INDEX, "index"],
  [L.SHAFT_REVOLUTIONS, "per revolutions"],
  [L.SHAFT_SPEED_MIN, "lowest speed"],
  [L.SHAFT_SPEED_MAX, "highest speed"],
  [L.SHAFT_ACCELERATION_MAX, "greatest acceleration"],
  [L.SHAFT_TIMEOUT_TICKS, "time-out"],
  [L.SHAFT_LOCK_REVOLUTIONS, "lock revolutions"],
  [L.SHAFT_EDGE_TOLERANCE, "edge tolerance"],
  [L.SHAFT_VALID_SPEED, "valid from"],
  [L.SHAFT_VALID_HYSTERESIS, "valid hysteresis"],
  [L.SHAFT_VALID_STEPS, "invalid after"],
  [L.SHAFT_EVIDENCE, "evidence of turning"],
];
const FILTER: Fields = [
  [L.FILTER_CHANNEL, "channel"],
  [L.FILTER_SHAFT, "shaft"],
  [L.FILTER_ORDER, "order"],
  [L.FILTER_INTEGRATIONS, "level"],
  [L.FILTER_BANDWIDTH, "bandwidth"],
  [L.FILTER_LEVEL_FACTOR, "level"],
];
const DISPLAY: Fields = [
  [L.DISPLAY_SOURCE, "display source"],
  [L.DISPLAY_SCALE_COUNT, "display scale"],
  [L.DISPLAY_SMOOTHING, "display smoothing"],
  [L.DISPLAY_STEP_INVERSE, "display step"],
  [L.DISPLAY_COUNTS_MAX, "display top"],
  [L.DISPLAY_FLAGS, "caution"],
  [L.DISPLAY_HYSTERESIS_COUNTS, "caution hysteresis"],
  [L.DISPLAY_ON_STEPS, "caution on-delay"],
  [L.DISPLAY_OFF_STEPS, "caution off-delay"],
  [L.DISPLAY_HOLD_STEPS, "display hold"],
  [L.DISPLAY_WORD_LABEL, "output word"],
  [L.DISPLAY_SCALE, "display scale"],
];

const RULES: Readonly<Record<number, string>> = {
  [STATUS.ERR_CONFIG_CLOCK]: "does not fit the sample rate",
  [STATUS.ERR_CONFIG_COUNT]: "is not what the firmware can carry",
  [STATUS.ERR_CONFIG_KIND]: "is of a kind that the firmware does not know",
  [STATUS.ERR_CONFIG_RANGE]: "is out of range",
  [STATUS.ERR_CONFIG_NOT_FINITE]: "is no finite number",
  [STATUS.ERR_CONFIG_REFERENCE]: "names what is not there",
  [STATUS.ERR_CONFIG_POOL]: "needs more samples than the firmware can keep",
  [STATUS.ERR_CONFIG_TIMEOUT]: "does not fit the lowest speed",
  [STATUS.ERR_CONFIG_INDEX]: "does not go with the number of positions",
  [STATUS.ERR_CONFIG_NYQUIST]: "lies beyond half the sample rate at the highest speed",
  [STATUS.ERR_CONFIG_TABLE]: "does not ascend",
  [STATUS.ERR_CONFIG_HYSTERESIS]: "must be less than the caution level",
};

interface Kind {
  base: number;
  size: number;
  fields: Fields;
  what: string;
  names: readonly { name: string }[];
}

function lastAtOrBefore(fields: Fields, offset: number): string {
  return fields.findLast(([from]) => from <= offset)?.[1] ?? "configuration";
}

/** What a profile calls the field at an offset of its configuration: `highest speed of shaft "N1"`. */
export function fieldAt(offset: number, profile: MonitorProfile): string {
  const { channels, shafts, filters } = profile;
  const kinds: Kind[] = [
    {
      base: L.CONFIG_DISPLAYS,
      size: L.DISPLAY_BYTES,
      fields: DISPLAY,
      what: "filter",
      names: filters,
    },
    {
      base: L.CONFIG_FILTERS,
      size: L.FILTER_BYTES,
      fields: FILTER,
      what: "filter",
      names: filters,
    },
    { base: L.CONFIG_SHAFTS, size: L.SHAFT_BYTES, fields: SHAFT, what: "shaft", names: shafts },
    {
      base: L.CONFIG_CHANNELS,
      size: L.CHANNEL_BYTES,
      fields: CHANNEL,
      what: "channel",
      names: channels,
    },
  ];
  const kind = kinds.find(({ base }) => offset >= base);
  if (kind === undefined) return lastAtOrBefore(GLOBALS, offset);
  const index = Math.floor((offset - kind.base) / kind.size);
  const field = lastAtOrBefore(kind.fields, (offset - kind.base) % kind.size);
  return `${field} of ${kind.what} "${kind.names[index]?.name ?? index}"`;
}

/**
 * A refusal as a complaint about the profile.
 *
 * Shape     `who` is what the complaint starts with; the profile's name where none is given
 */
export function refusedProfile(
  refused: ConfigurationRefused,
  profile: MonitorProfile,
  who = `profile "${profile.name}"`,
): InputError {
  const rule = RULES[refused.rule];
  const field = fieldAt(refused.fieldOffset, profile);
  const figures = `found ${figure(refused.found)}, limit ${figure(refused.limit)}`;
  const message =
    rule === undefined
      ? `the firmware does not take this configuration: ${refused.message}`
      : `the firmware refuses this: ${field} ${rule} (${figures})`;
  return new InputError({ file: who, line: 0, column: 0, message });
}

function figure(value: number): string {
  return String(Number(value.toPrecision(6)));
}
