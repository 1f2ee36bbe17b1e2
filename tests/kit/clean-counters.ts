// The counters of a flight in which nothing went wrong, made up by hand.
import { NO_COUNTERS } from "../../harness/target/no-counters.ts";
import type { Counters } from "../../host/record-types.ts";

/** All zero but for what `counted` names. */
export function cleanCounters(counted: Partial<Counters>): Counters {
  return { ...structuredClone(NO_COUNTERS), ...counted };
}
