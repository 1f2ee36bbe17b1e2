// Counters at the end against the ranges that the truth, or the scenario, states.
import type { Counters } from "../../host/record-types.ts";
import type { CounterTruth } from "../truth/types.ts";
import type { CheckResult } from "./types.ts";
import { CheckTally } from "./check-tally.ts";

/** Reads one counter by name and index; undefined where there is none of that name. */
export function counterValue(counters: Counters, name: string, index: number): number | undefined {
  const field: unknown = Object.entries(counters).find(([key]) => key === name)?.[1];
  const value: unknown = Array.isArray(field) ? field[index] : field;
  return typeof value === "number" ? value : undefined;
}

/** "edgesMissed[0]"; a counter that is single is named alone. */
export function counterName(counters: Counters, name: string, index: number): string {
  const isList = Object.entries(counters).some(
    ([key, value]) => key === name && Array.isArray(value),
  );
  return isList ? `${name}[${index}]` : name;
}

export function judgeCounters(counters: Counters, truth: CounterTruth[]): CheckResult {
  const tally = new CheckTally("counters", -1, "counts");
  let smallest = Infinity;
  for (const { name, index, min, max, why } of truth) {
    smallest = Math.min(smallest, max - min + 1);
    const found = counterValue(counters, name, index) ?? Number.NaN;
    tally.fact(found >= min && found <= max, 0, () => {
      const range = min === max ? String(min) : `${min} to ${max}`;
      const label = counterName(counters, name, index);
      return `counter ${label} reads ${found} at the end, expected ${range} (${why})`;
    });
  }
  tally.smallestCaught = Number.isFinite(smallest) ? smallest : 0;
  const count = tally.judgedCount;
  const right = `all ${count} counters are within their ranges`;
  return tally.result("counter", count === 0 ? "the truth states no counter" : right);
}
