// Case files: written whole, then renamed, so that a file that is there is a whole one.
import { renameSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { z } from "zod";
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
  if (!isFlatter(value, NESTING_MAX)) {
    throw new ResultsError(`${path}: nested more than ${NESTING_MAX} deep, so not a results file`);
  }
  return value as { resultsVersion: string };
}

/** Many times what a case has; a reader goes down it by calls, of which there are so many. */
const NESTING_MAX = 100;

function isFlatter(value: unknown, levels: number): boolean {
  if (typeof value !== "object" || value === null) return true;
  return levels > 0 && Object.values(value).every((one) => isFlatter(one, levels - 1));
}

/** Of a case what a reader computes with or prints by itself; all else may be more or other. */
const CASE_FORM = z.looseObject({
  id: z.string(),
  name: z.string(),
  question: z.string(),
  requirements: z.array(z.string()),
  seed: z.number(),
  durationS: z.number(),
  sampleRateHz: z.number(),
  profileName: z.string(),
  target: z.looseObject({ kind: z.string(), identity: z.string() }),
  played: z.array(z.looseObject({})),
  settings: z.array(z.looseObject({})),
  verdict: z.looseObject({ filters: z.array(z.looseObject({})) }),
  counters: z.looseObject({}),
});

/**
 * Reads text as a case file.
 *
 * Errors    ResultsError as of parseResults, or with the field that is no case's
 */
export function parseCase(text: string, path: string): CaseResult {
  const value = parseResults(text, path);
  const formed = CASE_FORM.safeParse(value);
  if (!formed.success) {
    const where = formed.error.issues[0]!.path.join(".");
    throw new ResultsError(`${path}: no case as a run writes it, by its field "${where}"`);
  }
  return value as CaseResult;
}
