// What a person writes in a monitor profile. Defaults that need no other field stand here; the rest
// is worked out in profile-build.ts.
import { z } from "zod";
import {
  GEAR_REVOLUTIONS_MAX,
  ORDER_MAX,
  POSITIONS_MAX,
  RESPONSE_ORDER_MAX,
  RESPONSE_POINTS_MAX,
  SCALE_POINTS_MAX,
} from "../../shared/capacity.ts";
import type { Amount } from "../quantity.ts";
import { LOCK_REVOLUTIONS_MAX, TICKS_PER_SAMPLE_MAX } from "./firmware-limits.ts";
import {
  type QuantityOptions,
  amount,
  choose,
  found,
  levelUnit,
  named,
  quantity,
  real,
  record,
  share,
  vibration,
  vibrationValue,
  whole,
} from "./fields.ts";
import {
  BIAS_WORDS,
  CAUTION_WORDS,
  CHANNEL_WORDS,
  CLOCK_WORDS,
  DISPLAY_WORDS,
  FILTER_SIDE_WORDS,
  FILTER_WORDS,
  HEALTH_WORDS,
  PROFILE_WORDS,
  RESPONSE_ROW_WORDS,
  RESPONSE_WORDS,
  SCALE_ROW_WORDS,
  SHAFT_WORDS,
  TEST_WORDS,
  WORD_WORDS,
} from "./profile-words.ts";

export type TimeUnit = "s" | "sample";

/** Fields of time, speed and frequency in the profile's unit of time. */
export function timedFields(timeUnit: TimeUnit) {
  const isSampled = timeUnit === "sample";
  type Limits = Pick<QuantityOptions, "above" | "least" | "most" | "limitText">;
  const time = (example: string, limits: Limits = { least: 0 }) =>
    quantity({ dimensions: ["time"], timeUnit, example, ...limits });
  const speed = (limits: { above?: number; least?: number } = { least: 0 }) =>
    quantity({
      dimensions: ["speed"],
      timeUnit,
      example: isSampled ? "0.002 rev/sample" : "4800 r/min",
      ...limits,
    });
  const frequency = (example: string) =>
    quantity({ dimensions: ["frequency"], timeUnit, example, above: 0 });
  const speedRate = (limits: { above?: number } = {}) =>
    quantity({ dimensions: ["speed rate"], timeUnit, example: "10 rev/s²", ...limits });
  return { time, speed, frequency, speedRate };
}

export const ANGLE = quantity({ dimensions: ["angle"], example: "30 deg" });
/** A small angle of the wheel, kept in revolutions. */
export const ANGLE_REV = ANGLE.transform((rad) => rad / (2 * Math.PI));

function filterSide(timeUnit: TimeUnit) {
  return record(
    {
      order: whole(1, RESPONSE_ORDER_MAX).default(1),
      corner: timedFields(timeUnit).frequency("5 Hz"),
    },
    FILTER_SIDE_WORDS,
  );
}

/** The response of a transducer and its conditioning: none, filters, or a table. */
export function responseField(timeUnit: TimeUnit) {
  const { time, frequency } = timedFields(timeUnit);
  return record(
    {
      "high pass": filterSide(timeUnit).optional(),
      "low pass": filterSide(timeUnit).optional(),
      table: z
        .array(
          record(
            {
              frequency: frequency("10 Hz"),
              gain: real().positive(),
              "phase lag": ANGLE.default(0),
            },
            RESPONSE_ROW_WORDS,
          ),
        )
        .min(1)
        .max(RESPONSE_POINTS_MAX)
        .optional(),
      delay: time("0.1 ms").default(0),
    },
    RESPONSE_WORDS,
  );
}

function healthFields(timeUnit: TimeUnit) {
  const value = () => vibrationValue("2 g");
  return record(
    {
      persistence: timedFields(timeUnit).time("1 s", { above: 0 }).optional(),
      bias: record({ low: value(), high: value() }, BIAS_WORDS).optional(),
      "clipped samples": whole(1, 1_000_000).optional(),
      "flat below": vibration("0.1 g pk-pk", ["pk-pk"], { above: 0 }).optional(),
      "noise floor": vibration("0.002 g rms", ["rms"], { above: 0 }).optional(),
      "bursts above": vibration("2 g rms", ["rms"], { above: 0 }).optional(),
      "physical limit": vibration("80 g pk", ["pk"], { above: 0 }).optional(),
      "tracked to broadband": real().positive().optional(),
    },
    HEALTH_WORDS,
  );
}

function channelFields(timeUnit: TimeUnit) {
  return record(
    {
      transducer: z.enum(["charge", "powered", "coil"]).optional(),
      measures: z
        .enum(["acceleration", "velocity", "displacement", "unstated"])
        .default("velocity"),
      range: vibration("100 g pk", ["pk"], { above: 0 }).optional(),
      "count step": vibrationValue("0.003 g", { above: 0 }).optional(),
      response: responseField(timeUnit).optional(),
      health: healthFields(timeUnit).optional(),
      "functional test": record(
        {
          amplitude: vibration("1 g pk", undefined, { above: 0 }),
          shaft: z.string().optional(),
          order: whole(1, ORDER_MAX).default(1),
        },
        TEST_WORDS,
      ).optional(),
    },
    CHANNEL_WORDS,
  );
}

function shaftFields(timeUnit: TimeUnit) {
  const { time, speed, speedRate } = timedFields(timeUnit);
  return record(
    {
      positions: whole(1, POSITIONS_MAX).default(1),
      "per revolutions": whole(1, GEAR_REVOLUTIONS_MAX).default(1),
      index: z.enum(["none", "missing tooth", "extra edge"]).default("none"),
      "wheel error": ANGLE_REV.default(0),
      "lowest speed": speed({ above: 0 }).optional(),
      "highest speed": speed({ above: 0 }).optional(),
      "greatest acceleration": speedRate({ above: 0 }).optional(),
      "time-out": time("250 ms", { above: 0 }).optional(),
      "lock revolutions": whole(1, LOCK_REVOLUTIONS_MAX).default(2),
      "edge tolerance": share({ above: 0, most: 0.449, example: "20 %" }).default(0.2),
      "valid from": speed().optional(),
      "valid hysteresis": speed().optional(),
      "invalid after": time("0 s").default(0),
      "evidence of turning": z.array(z.enum(["running input", "other shaft"])).default([]),
    },
    SHAFT_WORDS,
  );
}

/** 1 Hz, or 2 % of the rotational speed: the full width between the −3 dB points. */
function bandwidthField(timeUnit: TimeUnit) {
  return amount({
    dimensions: ["frequency", "share"],
    timeUnit,
    example: "1 Hz",
    above: 0,
  }).transform((width: Amount) =>
    width.dimension === "share"
      ? ({ kind: "proportional", fullWidthRatio: width.value } as const)
      : ({ kind: "fixed", fullWidthHz: width.value } as const),
  );
}

function scaleField(timeUnit: TimeUnit) {
  const constant = real()
    .positive()
    .transform((factor) => [{ speedRevPerS: 0, factor }]);
  const rows = z
    .array(
      record(
        { speed: timedFields(timeUnit).speed(), factor: real().positive() },
        SCALE_ROW_WORDS,
      ).transform((row) => ({ speedRevPerS: row.speed, factor: row.factor })),
    )
    .min(1)
    .max(SCALE_POINTS_MAX);
  return choose<{ speedRevPerS: number; factor: number }[]>([constant, rows], (value) =>
    typeof value === "number"
      ? constant
      : Array.isArray(value)
        ? rows
        : `must be a number of display units per level unit, or rows of speed and factor, ` +
          `found ${found(value)}`,
  );
}

function displayFields(timeUnit: TimeUnit) {
  const { time } = timedFields(timeUnit);
  return record(
    {
      scale: scaleField(timeUnit).optional(),
      smoothing: time("0.5 s").default(0),
      step: real().positive().default(0.1),
      top: real().positive().default(10),
      hold: time("2 s").default(0),
      "greatest of": z.array(z.string()).min(1).optional(),
      substitute: z.string().optional(),
      word: record(
        {
          label: z
            .string()
            .regex(/^[0-3][0-7]{2}$/u, {
              error: (issue) =>
                `must be three octal digits in quotes, "001" to "377", found ${found(issue.input)}`,
            })
            .transform((digits) => Number.parseInt(digits, 8)),
          sdi: whole(0, 3).default(0),
          bits: whole(1, 18),
          resolution: real().positive(),
        },
        WORD_WORDS,
      ).optional(),
    },
    DISPLAY_WORDS,
  );
}

function cautionFields(timeUnit: TimeUnit) {
  const { time } = timedFields(timeUnit);
  return record(
    {
      level: real().positive(),
      hysteresis: real().min(0).default(0),
      "on-delay": time("3 s").default(0),
      "off-delay": time("5 s").default(0),
      "delay under inhibit": z.enum(["restarts", "runs"]).default("restarts"),
      "when invalid": z.enum(["end", "hold"]).default("end"),
      "procedure wait": time("10 s", { above: 0 }).optional(),
    },
    CAUTION_WORDS,
  );
}

function filterFields(timeUnit: TimeUnit) {
  return record(
    {
      channel: z.string().optional(),
      shaft: z.string().optional(),
      order: whole(1, ORDER_MAX).default(1),
      bandwidth: bandwidthField(timeUnit).optional(),
      level: levelUnit().optional(),
      display: displayFields(timeUnit).optional(),
      caution: cautionFields(timeUnit).optional(),
    },
    FILTER_WORDS,
  );
}

function sampleRateField(timeUnit: TimeUnit) {
  if (timeUnit === "sample")
    return z
      .literal("unstated")
      .transform(() => 1)
      .optional();
  return timedFields("s").frequency("12.8 kHz").optional();
}

/** Everything that a profile may hold. */
export function profileSchema(timeUnit: TimeUnit) {
  return record(
    {
      monitor: z.string().min(1).max(80),
      note: z.string().max(4000).default(""),
      time: z.enum(["seconds", "samples"]).default("seconds"),
      "sample rate": sampleRateField(timeUnit),
      "edge clock":
        timeUnit === "s"
          ? timedFields("s").frequency("80 MHz").optional()
          : record({ "ticks per sample": whole(1, TICKS_PER_SAMPLE_MAX) }, CLOCK_WORDS)
              .transform((clock) => clock["ticks per sample"])
              .optional(),
      "display period": timedFields(timeUnit).time("250 ms", { above: 0 }).optional(),
      channels: named(channelFields(timeUnit)),
      shafts: named(shaftFields(timeUnit)),
      filters: named(filterFields(timeUnit)),
    },
    PROFILE_WORDS,
  );
}

export type WrittenProfile = z.output<ReturnType<typeof profileSchema>>;
export type WrittenChannel = WrittenProfile["channels"][string];
export type WrittenShaft = WrittenProfile["shafts"][string];
export type WrittenFilter = WrittenProfile["filters"][string];
export type WrittenResponse = z.output<ReturnType<typeof responseField>>;
