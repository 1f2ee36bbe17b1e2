// Why a reference was lost, where the scene leaves one reason only.
import { EVENT_REFERENCE_LOST, LOST_TIMEOUT } from "../../shared/units.ts";
import type { EventTruth } from "./types.ts";

/**
 * The event with the reason that it must carry. A drop-out that outlasts the time-out has one;
 * edges that come may fit nowhere before a speed or an acceleration over its limit is read.
 */
export function withLostReason(event: EventTruth): EventTruth {
  const isKnown = event.code === EVENT_REFERENCE_LOST && event.why === "time-out";
  return isKnown && event.isOptional !== true ? { ...event, detail: LOST_TIMEOUT } : event;
}
