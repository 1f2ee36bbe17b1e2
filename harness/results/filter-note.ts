// One line on what a crew would have seen: the number's range and the caution's times.
import type { EventResult, FilterResult } from "../judge/types.ts";
import { stepDecimals } from "./step-decimals.ts";

const CAUTION_EVENTS = new Set(["caution-on", "caution-off", "caution-ended-invalid"]);
/** Periods of a caution told one by one. */
const PERIODS_MAX = 3;

/** "14.2 to 31.0 s" for each time the caution was on, as its events tell it. */
function cautionPeriods(filter: number, events: EventResult[], unit: string): string[] {
  const periods: string[] = [];
  let onsetS: number | undefined;
  for (const one of events) {
    if (one.source !== filter || !CAUTION_EVENTS.has(one.name)) continue;
    if (one.name === "caution-on") onsetS = one.timeS;
    else if (onsetS !== undefined) {
      const end = one.name === "caution-off" ? "" : " (ended by lost validity)";
      periods.push(`${onsetS.toFixed(1)} to ${one.timeS.toFixed(1)} ${unit}${end}`);
      onsetS = undefined;
    }
  }
  if (onsetS !== undefined) periods.push(`${onsetS.toFixed(1)} ${unit} to the end`);
  return periods;
}

/** The filter's number and caution in one line. */
export function filterNote(filter: FilterResult, events: EventResult[], unit = "s"): string {
  const places = stepDecimals(filter.displayStep);
  let number = "never valid";
  if (filter.shownRange !== undefined) {
    const { least, most } = filter.shownRange;
    const [from, to] = [least.toFixed(places), most.toFixed(places)];
    number = from === to ? `${from} throughout` : `${from} to ${to}`;
  }
  if (filter.cautionLevel === undefined) return `${filter.name}: number ${number}`;
  const periods = cautionPeriods(filter.filter, events, unit);
  const more = periods.length > PERIODS_MAX ? ` and ${periods.length - PERIODS_MAX} more` : "";
  const caution =
    periods.length === 0 ? "no caution" : `caution ${periods.slice(0, PERIODS_MAX).join(", ")}`;
  return `${filter.name}: number ${number}; ${caution}${more}`;
}
