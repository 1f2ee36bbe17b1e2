// Case files: written whole, then renamed, so that a file that is there is a whole one.
import { renameSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { systemReason } from "../../host/system-error.ts";
import { RESULTS_VERSION, type CaseResult } from "./types.ts";

export class ResultsError extends Error {}

/** Digits kept of a trace's numbers: a picture needs no more, and f32 holds no more. */
const TRACE_DIGITS = 7;

function rounded(value: unknown): unknown {
  return typeof value === "number" && !Number.isInteger(value)
    ? Number(value.toPrecision(TRACE_DIGITS))
    : value;
}

/** The case as text; a trace's numbers are rounded to 7 digits, what is not finite becomes null. */
export function caseText(result: CaseResult): string {
  const filters = result.verdict.filters.map((filter) => {
    const trace = Object.entries(filter.trace).map(([name, values]) => [
      name,
      (values as unknown[]).map(rounded),
    ]);
    return { ...filter, trace: Object.fromEntries(trace) as unknown };
  });
  return `${JSON.stringify({ ...result, verdict: { ...result.verdict, filters } })}\n`;
}

/**
 * Writes text under another name first, then renames it into place.
 *
 * Errors    ResultsError where the file system refuses, e.g. a full disk; nothing is left behind
 */
export function writeWhole(path: string, text: string): void {
  const partPath = `${path}.part`;
  try {
    writeFileSync(partPath, text);
    renameSync(partPath, path);
  } catch (error) {
    rmSync(partPath, { force: true });
    const reason = systemReason((error as NodeJS.ErrnoException).code);
    throw new ResultsError(`${path}: cannot be written (${reason})`, { cause: error });
  }
}

/** Writes `cases/<id>.json` and gives the case as a reader of that file gets it. */
export function writeCase(folder: string, result: CaseResult): CaseResult {
  const text = caseText(result);
  writeWhole(join(folder, "cases", `${result.id}.json`), text);
  return JSON.parse(text) as CaseResult;
}

/**
 * Reads text as a results file of this program's own major version.
 *
 * Errors    ResultsError where it is no JSON, has no version, or has another major one
 */
export function parseResults(text: string, path: string): { resultsVersion: string } {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    throw new ResultsError(`${path}: not a whole JSON file`);
  }
  const version = (value as { resultsVersion?: unknown } | null)?.resultsVersion;
  if (typeof version !== "string" || !/^\d+\.\d+$/.test(version)) {
    throw new ResultsError(`${path}: no results version, so not a results file`);
  }
  const major = RESULTS_VERSION.split(".")[0]!;
  if (version.split(".")[0] !== major) {
    throw new ResultsError(
      `${path}: results version ${version}; this program reads version ${major} only`,
    );
  }
  return value as { resultsVersion: string };
}
