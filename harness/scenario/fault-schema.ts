// Faults of transducers and tachometers as a person writes them.
import { z } from "zod";
import { POSITIONS_MAX } from "../../shared/capacity.ts";
import {
  real,
  record,
  share,
  vibration,
  vibrationValue,
  whole,
} from "../../host/profile/fields.ts";
import type { TimeUnit } from "../../host/profile/profile-schema.ts";
import { timedFields } from "../../host/profile/profile-schema.ts";
import {
  BIAS_FAULT_WORDS,
  CLIP_WORDS,
  DROP_OUT_WORDS,
  FLAT_WORDS,
  GAIN_WORDS,
  GLITCH_WORDS,
  INDEX_LOST_WORDS,
  LOOSE_WORDS,
  MISSED_WORDS,
  NOT_FINITE_WORDS,
  OPEN_LEAD_WORDS,
  SPIKE_WORDS,
} from "./scenario-words.ts";

export function channelFaultField(timeUnit: TimeUnit) {
  const { time } = timedFields(timeUnit);
  const span = { from: time("5 s").default(0), until: time("8 s").optional() };
  return z.discriminatedUnion("fault", [
    record(
      {
        fault: z.literal("clip"),
        level: vibrationValue("3 in/s", { above: 0 }),
        ...span,
      },
      CLIP_WORDS,
    ),
    record(
      { fault: z.literal("flat"), value: vibrationValue("0 in/s").optional(), ...span },
      FLAT_WORDS,
    ),
    record(
      { fault: z.literal("bias"), value: vibrationValue("2 in/s"), ...span },
      BIAS_FAULT_WORDS,
    ),
    record(
      { fault: z.literal("open lead"), share: share({ most: 1 }).default(0), ...span },
      OPEN_LEAD_WORDS,
    ),
    record(
      {
        fault: z.literal("loose connector"),
        bursts: vibration("10 in/s pk", ["pk"], { above: 0 }),
        "per second": real().positive(),
        length: time("200 ms", { above: 0 }).default(0.2),
        ...span,
      },
      LOOSE_WORDS,
    ),
    record({ fault: z.literal("gain"), factor: real(), ...span }, GAIN_WORDS),
    record(
      {
        fault: z.literal("spike"),
        value: vibrationValue("20 in/s"),
        at: time("5 s"),
        samples: whole(1, 100_000).default(1),
      },
      SPIKE_WORDS,
    ),
    record(
      {
        fault: z.literal("not finite"),
        at: time("5 s"),
        samples: whole(1, 100_000).default(1),
      },
      NOT_FINITE_WORDS,
    ),
  ]);
}

export function tachFaultField(timeUnit: TimeUnit) {
  const { time } = timedFields(timeUnit);
  const position = whole(0, POSITIONS_MAX - 1).optional();
  const span = { from: time("5 s").default(0), until: time("8 s").optional() };
  return z.discriminatedUnion("fault", [
    record(
      {
        fault: z.literal("glitch"),
        at: time("5 s"),
        fraction: share({ above: 0, most: 0.999, example: "30 %" }).default(0.3),
        position,
      },
      GLITCH_WORDS,
    ),
    record(
      {
        fault: z.literal("missed edges"),
        at: time("5 s"),
        count: whole(1, 100_000).default(1),
        position,
      },
      MISSED_WORDS,
    ),
    record({ fault: z.literal("drop-out"), ...span }, DROP_OUT_WORDS),
    record({ fault: z.literal("index lost"), ...span }, INDEX_LOST_WORDS),
  ]);
}
