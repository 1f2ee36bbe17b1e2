// Events as scenarios name them: the words of shared/units.ts, joined by a hyphen.
import * as UNITS from "../../shared/units.ts";

export type EventOf = "shaft" | "filter" | "channel" | "device";

const OF: Readonly<Record<string, EventOf>> = {
  REFERENCE: "shaft",
  INDEX: "shaft",
  TRANSDUCER: "channel",
  TEST: "device",
  RECORDS: "device",
};

/** Name → code and what its source counts. */
export const EVENT_CODES: ReadonlyMap<string, { code: number; of: EventOf }> = new Map(
  Object.entries(UNITS)
    .filter(([name]) => name.startsWith("EVENT_"))
    .sort(([, one], [, two]) => one - two)
    .map(([name, code]) => {
      const words = name.slice("EVENT_".length).split("_");
      const of = OF[words[0]!] ?? "filter";
      return [words.join("-").toLowerCase(), { code: code, of }];
    }),
);
