// What a person writes in a scenario. scenario-build.ts makes the scene from it.
import { z } from "zod";
import { POSITIONS_MAX, GEAR_REVOLUTIONS_MAX } from "../../shared/capacity.ts";
import type { Amount } from "../../host/quantity.ts";
import {
  choose,
  chooseByKey,
  found,
  named,
  quantity,
  real,
  record,
  share,
  vibration,
  vibrationValue,
  whole,
} from "../../host/profile/fields.ts";
import type { TimeUnit } from "../../host/profile/profile-schema.ts";
import { ANGLE, ANGLE_REV, responseField, timedFields } from "../../host/profile/profile-schema.ts";
import { EVENT_CODES } from "./event-codes.ts";

const PHASE = ANGLE.default(0);

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
  const ramp = choose<SpeedPiece>(
    [
      record({ to: speed(), over: time("20 s", { above: 0 }) }),
      record({ to: speed(), rate: speedRate({ above: 0 }) }),
    ],
    (value) =>
      Object.hasOwn(value as object, "over")
        ? record({ to: speed(), over: time("20 s", { above: 0 }) })
        : record({ to: speed(), rate: speedRate({ above: 0 }) }),
  );
  const piece = chooseByKey<SpeedPiece>({
    at: record({ at: time("0 s"), speed: speed() }),
    start: record({ start: speed() }),
    hold: record({ hold: time("10 s", { above: 0 }) }),
    to: ramp,
  });
  const pieces = z.array(piece).min(1);
  return choose<SpeedPiece[]>([constant, pieces], (value) =>
    Array.isArray(value)
      ? pieces
      : typeof value === "object" && value !== null
        ? `must be a speed, or a list of pieces (start, hold, to, at), found ${found(value)}`
        : constant,
  );
}

export interface WrittenRow {
  at: number;
  amplitude: Amount;
  "phase lag": number;
}
export interface WrittenOrder {
  order: number;
  shaft?: string | undefined;
  amplitude?: Amount | undefined;
  "phase lag": number;
  "power of speed"?: number | undefined;
  "at speed"?: number | undefined;
  steps?: WrittenRow[] | undefined;
  lines?: WrittenRow[] | undefined;
}
export interface WrittenTone {
  tone: number;
  amplitude: Amount;
  "phase lag": number;
}
export interface WrittenUnbalance {
  at: number;
  amount: number;
  angle: number;
}
export interface WrittenRotor {
  rotor: {
    shaft?: string | undefined;
    "modal mass": number;
    "natural frequency"?: number | undefined;
    "critical speed"?: number | undefined;
    "damping ratio": number;
    unbalance: WrittenUnbalance[];
  };
}
export interface WrittenNoise {
  noise: Amount;
}
export type WrittenComponent = WrittenOrder | WrittenTone | WrittenRotor | WrittenNoise;

function unbalanceField(timeUnit: TimeUnit) {
  const amountField = quantity({ dimensions: ["unbalance"], example: "1000 g mm", least: 0 });
  const one = record({ amount: amountField, angle: ANGLE.default(0) }).transform((vector) => [
    { at: 0, ...vector },
  ]);
  const rows = z
    .array(
      record({
        at: timedFields(timeUnit).time("5 s"),
        amount: amountField,
        angle: ANGLE.default(0),
      }),
    )
    .min(1);
  return choose<WrittenUnbalance[]>([one, rows], (value) => (Array.isArray(value) ? rows : one));
}

function componentField(timeUnit: TimeUnit): z.ZodType<WrittenComponent> {
  const { time, speed, frequency } = timedFields(timeUnit);
  const rows = () =>
    z
      .array(record({ at: time("0 s"), amplitude: vibration("1.2 in/s pk"), "phase lag": PHASE }))
      .min(1);
  const rotor = record({
    shaft: z.string().optional(),
    "modal mass": quantity({ dimensions: ["mass"], example: "150 kg", above: 0 }),
    "natural frequency": frequency("66 Hz").optional(),
    "critical speed": speed({ above: 0 }).optional(),
    "damping ratio": share({ above: 0, most: 0.999, example: "3 %" }),
    unbalance: unbalanceField(timeUnit),
  });
  return chooseByKey<WrittenComponent>({
    order: record({
      order: real().positive().max(1000),
      shaft: z.string().optional(),
      amplitude: vibration("1.2 in/s pk").optional(),
      "phase lag": PHASE,
      "power of speed": whole(0, 2).optional(),
      "at speed": speed({ above: 0 }).optional(),
      steps: rows().optional(),
      lines: rows().optional(),
    }),
    tone: record({
      tone: frequency("120 Hz"),
      amplitude: vibration("0.05 in/s pk"),
      "phase lag": PHASE,
    }),
    rotor: record({ rotor }),
    noise: record({ noise: vibration("0.02 in/s rms", ["rms"]) }),
  });
}

function channelFaultField(timeUnit: TimeUnit) {
  const { time } = timedFields(timeUnit);
  const span = { from: time("5 s").default(0), until: time("8 s").optional() };
  return z.discriminatedUnion("fault", [
    record({
      fault: z.literal("clip"),
      level: vibrationValue("3 in/s", { above: 0 }),
      ...span,
    }),
    record({ fault: z.literal("flat"), value: vibrationValue("0 in/s").optional(), ...span }),
    record({ fault: z.literal("bias"), value: vibrationValue("2 in/s"), ...span }),
    record({ fault: z.literal("open lead"), share: share({ most: 1 }).default(0), ...span }),
    record({
      fault: z.literal("loose connector"),
      bursts: vibration("10 in/s pk", ["pk"], { above: 0 }),
      "per second": real().positive(),
      length: time("200 ms", { above: 0 }).default(0.2),
      ...span,
    }),
    record({ fault: z.literal("gain"), factor: real(), ...span }),
    record({
      fault: z.literal("spike"),
      value: vibrationValue("20 in/s"),
      at: time("5 s"),
      samples: whole(1, 100_000).default(1),
    }),
    record({
      fault: z.literal("not finite"),
      at: time("5 s"),
      samples: whole(1, 100_000).default(1),
    }),
  ]);
}

function tachFaultField(timeUnit: TimeUnit) {
  const { time } = timedFields(timeUnit);
  const position = whole(0, POSITIONS_MAX - 1).optional();
  const span = { from: time("5 s").default(0), until: time("8 s").optional() };
  return z.discriminatedUnion("fault", [
    record({
      fault: z.literal("glitch"),
      at: time("5 s"),
      fraction: share({ above: 0, most: 0.999, example: "30 %" }).default(0.3),
      position,
    }),
    record({
      fault: z.literal("missed edges"),
      at: time("5 s"),
      count: whole(1, 100_000).default(1),
      position,
    }),
    record({ fault: z.literal("drop-out"), ...span }),
    record({ fault: z.literal("index lost"), ...span }),
  ]);
}

function shaftField(timeUnit: TimeUnit) {
  const { time } = timedFields(timeUnit);
  return record({
    speed: speedField(timeUnit),
    "start angle": ANGLE_REV.default(0),
    "torsional ripple": z
      .array(record({ order: real().positive(), amplitude: ANGLE_REV }))
      .default([]),
    wheel: record({
      positions: whole(1, POSITIONS_MAX).optional(),
      "per revolutions": whole(1, GEAR_REVOLUTIONS_MAX).optional(),
      index: z.enum(["none", "missing tooth", "extra edge"]).optional(),
      eccentricity: ANGLE_REV.default(0),
      "bad tooth": record({ position: whole(0, POSITIONS_MAX - 1), offset: ANGLE_REV }).optional(),
      jitter: time("2 us").default(0),
    }).optional(),
    faults: z.array(tachFaultField(timeUnit)).default([]),
  });
}

function channelField(timeUnit: TimeUnit) {
  const own = responseField(timeUnit);
  const none = z.literal("none").transform(() => "none" as const);
  const assumed = z.literal("as in the profile").transform(() => undefined);
  type FrontEnd = z.output<typeof own> | "none" | undefined;
  return record({
    vibration: z.array(componentField(timeUnit)).default([]),
    mean: vibrationValue("0 in/s").optional(),
    "front end": choose<FrontEnd>([own, none, assumed], (value) =>
      value === "none" ? none : value === "as in the profile" ? assumed : own,
    ).optional(),
    faults: z.array(channelFaultField(timeUnit)).default([]),
    converter: record({
      format: z.enum(["f32", "i16"]).default("f32"),
      step: vibrationValue("0.001 in/s", { above: 0 }).optional(),
    }).optional(),
  });
}

function inputField(timeUnit: TimeUnit) {
  const names = z.array(z.string()).optional();
  return record({
    at: timedFields(timeUnit).time("5 s"),
    inhibit: names,
    acknowledge: names,
    running: names,
    "functional test": z.boolean().optional(),
  });
}

const CHECKS = [
  "level",
  "phase",
  "speed",
  "shown",
  "validity",
  "caution",
  "events",
  "exceedances",
  "counters",
  "decidable",
  "expectation",
] as const;

function expectField(timeUnit: TimeUnit) {
  const { time } = timedFields(timeUnit);
  const span = { from: time("5 s").default(0), until: time("8 s").optional() };
  const cautionSpan = record({ filter: z.string().optional(), ...span });
  const event = z.enum([...EVENT_CODES.keys()] as [string, ...string[]]);
  return record({
    "caution never": z.array(z.string()).optional(),
    "caution on": z.array(cautionSpan).optional(),
    "caution off": z.array(cautionSpan).optional(),
    events: z.array(record({ event, of: z.string().optional(), ...span })).optional(),
    "events never": z.array(event).optional(),
    counters: z
      .array(
        record({
          counter: z.enum(COUNTER_NAMES),
          of: z.string().optional(),
          "at least": whole(0, 2 ** 31).optional(),
          "at most": whole(0, 2 ** 31).optional(),
        }),
      )
      .optional(),
    "undecided share": share({ most: 1 }).default(0.02),
    "tolerance reason": z.string().min(1).optional(),
    canary: z.enum(CHECKS).optional(),
    plant: record({ alteration: z.string(), amount: real() }).optional(),
  });
}

/** Counters as scenarios name them, and how their members are counted. */
export const COUNTERS = {
  blocks: { field: "blocks", of: "device" },
  samples: { field: "samples", of: "device" },
  "refused blocks": { field: "refusedBlocks", of: "device" },
  "records lost": { field: "recordsLost", of: "device" },
  edges: { field: "edges", of: "shaft" },
  "edges early": { field: "edgesEarly", of: "shaft" },
  "edges missed": { field: "edgesMissed", of: "shaft" },
  "edges irregular": { field: "edgesIrregular", of: "shaft" },
  "reference lost": { field: "referenceLost", of: "shaft" },
  "index contradictions": { field: "indexContradictions", of: "shaft" },
  "samples not finite": { field: "samplesNotFinite", of: "channel" },
  "samples clipped": { field: "samplesClipped", of: "channel" },
  health: { field: "health", of: "check" },
  revolutions: { field: "revolutions", of: "shaft" },
  "samples late": { field: "samplesLate", of: "shaft" },
} as const;
type CounterName = keyof typeof COUNTERS;
const COUNTER_NAMES = Object.keys(COUNTERS) as [CounterName, ...CounterName[]];

/** Health checks in the order of their numbers. */
export const HEALTH_NAMES = [
  "bias",
  "clip",
  "flat",
  "noise floor",
  "burst",
  "physical",
  "broadband",
] as const;

/** A profile by its file, or written out in the scenario. */
const PROFILE = z
  .union([z.string(), z.looseObject({})], {
    error: (issue) =>
      issue.input === undefined
        ? "is missing"
        : `must be a file name or a whole profile, found ${found(issue.input)}`,
  })
  .meta({ description: "A profile's file, from this file's folder; or a profile written out" });

/** A slip of the pen must not run for years: over forty days, or as many samples at 30 kHz. */
const DURATION_MOST = {
  s: { most: 3.6e6, limitText: "1000 h" },
  sample: { most: 1e11, limitText: "1e11 samples" },
} as const;

/** Everything that a scenario may hold, the table of cases apart. */
export function scenarioSchema(timeUnit: TimeUnit) {
  const { time } = timedFields(timeUnit);
  return record({
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
  });
}

export type WrittenScenario = z.output<ReturnType<typeof scenarioSchema>>;
export type WrittenShaftMotion = NonNullable<WrittenScenario["shafts"]>[string];
export type WrittenChannelSignal = NonNullable<WrittenScenario["channels"]>[string];
export type WrittenExpectation = NonNullable<WrittenScenario["expect"]>;
