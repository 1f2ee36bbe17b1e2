// What a person writes in a scenario. scenario-build.ts makes the scene from it.
import { z } from "zod";
import { POSITIONS_MAX, GEAR_REVOLUTIONS_MAX } from "../../shared/capacity.ts";
import {
  choose,
  chooseByKey,
  found,
  named,
  real,
  record,
  vibrationValue,
  whole,
} from "../../host/profile/fields.ts";
import type { TimeUnit } from "../../host/profile/profile-schema.ts";
import { ANGLE_REV, responseField, timedFields } from "../../host/profile/profile-schema.ts";
import { componentField } from "./component-schema.ts";
import { expectField } from "./expect-schema.ts";
import { channelFaultField, tachFaultField } from "./fault-schema.ts";
import {
  AT_WORDS,
  BAD_TOOTH_WORDS,
  CHANNEL_SIGNAL_WORDS,
  CONVERTER_WORDS,
  HOLD_WORDS,
  INPUT_WORDS,
  OVER_WORDS,
  RATE_WORDS,
  RIPPLE_WORDS,
  SCENARIO_WORDS,
  SHAFT_MOTION_WORDS,
  START_WORDS,
  WHEEL_WORDS,
} from "./scenario-words.ts";

/** One piece of a speed profile. */
export type SpeedPiece =
  | { at: number; speed: number }
  | { start: number }
  | { hold: number }
  | { to: number; over: number }
  | { to: number; rate: number };

function speedField(timeUnit: TimeUnit) {
  const { time, speed, speedRate } = timedFields(timeUnit);
  const constant = speed().transform((value): SpeedPiece[] => [{ start: value }]);
  const over = record({ to: speed(), over: time("20 s", { above: 0 }) }, OVER_WORDS);
  const rate = record({ to: speed(), rate: speedRate({ above: 0 }) }, RATE_WORDS);
  const ramp = choose<SpeedPiece>([over, rate], (value) => {
    const [hasOver, hasRate] = ["over", "rate"].map((key) => Object.hasOwn(value as object, key));
    if (hasOver && hasRate) return "may hold only one of over and rate";
    if (!hasOver && !hasRate) return "needs how long it takes (over), or how fast it goes (rate)";
    return hasOver ? over : rate;
  });
  const piece = chooseByKey<SpeedPiece>({
    at: record({ at: time("0 s"), speed: speed() }, AT_WORDS),
    start: record({ start: speed() }, START_WORDS),
    hold: record({ hold: time("10 s", { above: 0 }) }, HOLD_WORDS),
    to: ramp,
  });
  const pieces = z.array(piece).min(1);
  return choose<SpeedPiece[]>([constant, pieces], (value) =>
    Array.isArray(value)
      ? pieces
      : typeof value === "object" && value !== null
        ? `must be a speed, or a list of pieces (start, hold, to, at), found ${found(value)}; ` +
          "speeds of several shafts stand under shafts"
        : constant,
  );
}

function shaftField(timeUnit: TimeUnit) {
  const { time } = timedFields(timeUnit);
  return record(
    {
      speed: speedField(timeUnit),
      "start angle": ANGLE_REV.default(0),
      "torsional ripple": z
        .array(record({ order: real().positive(), amplitude: ANGLE_REV }, RIPPLE_WORDS))
        .default([]),
      wheel: record(
        {
          positions: whole(1, POSITIONS_MAX).optional(),
          "per revolutions": whole(1, GEAR_REVOLUTIONS_MAX).optional(),
          index: z.enum(["none", "missing tooth", "extra edge"]).optional(),
          eccentricity: ANGLE_REV.default(0),
          "bad tooth": record(
            { position: whole(0, POSITIONS_MAX - 1), offset: ANGLE_REV },
            BAD_TOOTH_WORDS,
          ).optional(),
          jitter: time("2 us").default(0),
        },
        WHEEL_WORDS,
      ).optional(),
      faults: z.array(tachFaultField(timeUnit)).default([]),
    },
    SHAFT_MOTION_WORDS,
  );
}

function channelField(timeUnit: TimeUnit) {
  const own = responseField(timeUnit);
  const none = z.literal("none").transform(() => "none" as const);
  const assumed = z.literal("as in the profile").transform(() => undefined);
  type FrontEnd = z.output<typeof own> | "none" | undefined;
  return record(
    {
      vibration: z.array(componentField(timeUnit)).default([]),
      mean: vibrationValue("0 in/s").optional(),
      "front end": choose<FrontEnd>([own, none, assumed], (value) =>
        value === "none" ? none : value === "as in the profile" ? assumed : own,
      ).optional(),
      faults: z.array(channelFaultField(timeUnit)).default([]),
      converter: record(
        {
          format: z.enum(["f32", "i16"]).default("f32"),
          step: vibrationValue("0.001 in/s", { above: 0 }).optional(),
        },
        CONVERTER_WORDS,
      ).optional(),
    },
    CHANNEL_SIGNAL_WORDS,
  );
}

function inputField(timeUnit: TimeUnit) {
  const names = z.array(z.string()).optional();
  return record(
    {
      at: timedFields(timeUnit).time("5 s"),
      inhibit: names,
      acknowledge: names,
      running: names,
      "functional test": z.boolean().optional(),
    },
    INPUT_WORDS,
  );
}

/** A profile by its file, or written out in the scenario. */
const PROFILE = z.union([z.string(), z.looseObject({})], {
  error: (issue) =>
    issue.input === undefined
      ? "is missing"
      : `must be a file name or a whole profile, found ${found(issue.input)}`,
});

/** A slip of the pen must not run for years: over forty days, or as many samples at 30 kHz. */
const DURATION_MOST = {
  s: { most: 3.6e6, limitText: "1000 h" },
  sample: { most: 1e11, limitText: "1e11 samples" },
} as const;

/** Everything that a scenario may hold, the table of cases apart. */
export function scenarioSchema(timeUnit: TimeUnit) {
  const { time } = timedFields(timeUnit);
  return record(
    {
      question: z.string().min(1).max(300),
      see: z.string().min(1).max(300).optional(),
      note: z.string().max(4000).optional(),
      requirements: z.array(z.string()).default([]),
      profile: PROFILE,
      "profile changes": z.looseObject({}).optional(),
      duration: time("30 s", { above: 0, ...DURATION_MOST[timeUnit] }),
      seed: whole(0, 2 ** 32 - 1).optional(),
      speed: speedField(timeUnit).optional(),
      vibration: z.array(componentField(timeUnit)).optional(),
      shafts: named(shaftField(timeUnit)).optional(),
      channels: named(channelField(timeUnit)).optional(),
      inputs: z.array(inputField(timeUnit)).default([]),
      expect: expectField(timeUnit).optional(),
    },
    SCENARIO_WORDS,
  );
}

export type WrittenScenario = z.output<ReturnType<typeof scenarioSchema>>;
export type WrittenShaftMotion = NonNullable<WrittenScenario["shafts"]>[string];
export type WrittenChannelSignal = NonNullable<WrittenScenario["channels"]>[string];
export type WrittenExpectation = NonNullable<WrittenScenario["expect"]>;
