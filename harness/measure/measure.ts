// All that is measured of one filter of one target.
import type { Bench } from "./bench.ts";
import {
  measuredLag,
  measuredLinearity,
  measuredSettling,
  measuredSpeedRange,
  measuredStep,
} from "./course.ts";
import type { Measurement } from "./measurement.ts";
import { measuredRejection, measuredResponse, measuredUnit } from "./selectivity.ts";

/**
 * Measures everything, one scene after another.
 *
 * Errors    TargetFailure; AbortError
 */
export async function measureAll(
  bench: Bench,
  onPart: (name: string) => void = () => {},
): Promise<Measurement[]> {
  const { unit, measurement } = await measuredUnit(bench);
  const all: Measurement[] = [measurement];
  const parts: [string, () => Promise<Measurement | Measurement[]>][] = [
    ["response", () => measuredResponse(bench, unit)],
    ["rejection", () => measuredRejection(bench, unit)],
    ["step", () => measuredStep(bench)],
    ["lag", () => measuredLag(bench)],
    ["linearity", () => measuredLinearity(bench)],
    ["speed range", () => measuredSpeedRange(bench)],
    ["settling", () => measuredSettling(bench)],
  ];
  for (const [name, measure] of parts) {
    onPart(name);
    all.push(...[await measure()].flat());
  }
  return all;
}
