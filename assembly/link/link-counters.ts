// What the link counts, apart from the signal path's counters: it outlives their reset.
import { LINK_COUNTERS } from "../memory.ts";

/** Adds one to a counter, LINK_COUNTER_…; wraps at 2³². */
export function linkCount(offset: i32): void {
  store<u32>(LINK_COUNTERS + offset, load<u32>(LINK_COUNTERS + offset) + 1);
}
