// What a person may expect beside the computed truth.
import { z } from "zod";
import { real, record, share, whole } from "../../host/profile/fields.ts";
import type { TimeUnit } from "../../host/profile/profile-schema.ts";
import { timedFields } from "../../host/profile/profile-schema.ts";
import { EVENT_CODES } from "./event-codes.ts";
import {
  CAUTION_SPAN_WORDS,
  COUNTER_WORDS,
  EVENT_WORDS,
  EXPECT_WORDS,
  PLANT_WORDS,
} from "./scenario-words.ts";

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

/** Checks of a verdict, as a canary names the one that must find it. */
export const CHECKS = [
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

export function expectField(timeUnit: TimeUnit) {
  const { time } = timedFields(timeUnit);
  const span = { from: time("5 s").default(0), until: time("8 s").optional() };
  const cautionSpan = record({ filter: z.string().optional(), ...span }, CAUTION_SPAN_WORDS);
  const event = z.enum([...EVENT_CODES.keys()] as [string, ...string[]]);
  return record(
    {
      "caution never": z.array(z.string()).optional(),
      "caution on": z.array(cautionSpan).optional(),
      "caution off": z.array(cautionSpan).optional(),
      events: z
        .array(record({ event, of: z.string().optional(), ...span }, EVENT_WORDS))
        .optional(),
      "events never": z.array(event).optional(),
      counters: z
        .array(
          record(
            {
              counter: z.enum(COUNTER_NAMES),
              of: z.string().optional(),
              "at least": whole(0, 2 ** 31).optional(),
              "at most": whole(0, 2 ** 31).optional(),
            },
            COUNTER_WORDS,
          ),
        )
        .optional(),
      "undecided share": share({ most: 1 }).default(0.02),
      "tolerance reason": z.string().min(1).optional(),
      canary: z.enum(CHECKS).optional(),
      plant: record({ alteration: z.string(), amount: real() }, PLANT_WORDS).optional(),
    },
    EXPECT_WORDS,
  );
}
