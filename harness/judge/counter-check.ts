// Counters at the end against the ranges that the truth, or the scenario, states.
import type { Counters } from "../../host/record-types.ts";
import type { Expectation } from "../scene/scene.ts";
import type { CounterTruth } from "../truth/types.ts";
import type { CheckResult } from "./types.ts";
import { CheckTally } from "./check-tally.ts";
import type { SourceNames } from "./source-names.ts";

/** Reads one counter by name and index; undefined where there is none of that name. */
export function counterValue(counters: Counters, name: string, index: number): number | undefined {
  const field: unknown = Object.entries(counters).find(([key]) => key === name)?.[1];
  const value: unknown = Array.isArray(field) ? field[index] : field;
  return typeof value === "number" ? value : undefined;
}

/** "2 too many", where a count lies outside its range. */
export function countOffText(found: number, min: number, max: number): string {
  if (found > max) return `: ${found - max} too many`;
  return found < min ? `: ${min - found} too few` : "";
}

/** What no scene asks for, where the truth says nothing of it and the scenario does not expect it. */
export function silentCounters(
  truth: readonly CounterTruth[],
  expectation: Expectation,
  shaftCount: number,
): CounterTruth[] {
  const why = "the samples of every interval are there";
  return Array.from({ length: shaftCount }, (_, index): CounterTruth => {
    return { name: "samplesLate", index, min: 0, max: 0, why };
  }).filter(({ name, index }) => {
    const isIt = (one: { name: string; index: number }): boolean =>
      one.name === name && one.index === index;
    return !truth.some(isIt) && expectation.counters?.some(isIt) !== true;
  });
}

export function judgeCounters(
  counters: Counters,
  truth: CounterTruth[],
  names: SourceNames,
): CheckResult {
  const tally = new CheckTally("counters", -1, "counts");
  let smallest = Infinity;
  for (const { name, index, min, max, why } of truth) {
    smallest = Math.min(smallest, max - min + 1);
    const found = counterValue(counters, name, index) ?? Number.NaN;
    tally.fact(found >= min && found <= max, 0, () => {
      const range = min === max ? String(min) : `${min} to ${max}`;
      const label = names.ofCounter(name, index);
      const off = countOffText(found, min, max);
      return `${label}: count is ${found} at the end, expected ${range} (${why})${off}`;
    });
  }
  tally.smallestCaught = Number.isFinite(smallest) ? smallest : 0;
  const count = tally.judgedCount;
  const right = `all ${count} counters are within their ranges`;
  return tally.result("counter", count === 0 ? "the truth states no counter" : right);
}
