// A folder of results: cases/<id>.json, run.json, summary.json, junit.xml, report.html.
import {
  accessSync,
  constants,
  existsSync,
  mkdirSync,
  readFileSync,
  readdirSync,
  rmSync,
  statSync,
} from "node:fs";
import { join } from "node:path";
import { ResultsError, parseResults, writeWhole } from "./case-file.ts";
import { junitXml } from "./junit-xml.ts";
import type { CaseResult, RunInfo, Summary } from "./types.ts";

const CASE_FILE = /^([0-9a-f]{16})\.json$/;

/**
 * Makes the folder ready to be written to.
 *
 * Errors    ResultsError where it is a file, cannot be written, or holds something else
 */
export function prepareFolder(folder: string): void {
  try {
    if (statSync(folder, { throwIfNoEntry: false })?.isFile() === true) {
      throw new ResultsError(`${folder}: is a file; the results need a folder`);
    }
    mkdirSync(join(folder, "cases"), { recursive: true });
    accessSync(folder, constants.W_OK);
    accessSync(join(folder, "cases"), constants.W_OK);
    // An access right may stand where the file system refuses all the same: write once.
    writeWhole(join(folder, "run.json"), `{}\n`);
  } catch (error) {
    if (error instanceof ResultsError) throw error;
    const code = (error as NodeJS.ErrnoException).code ?? "unknown error";
    throw new ResultsError(`${folder}: the output folder cannot be written (${code})`);
  }
}

/** Ids of the whole case files, sorted. */
export function caseIds(folder: string): string[] {
  const names = readdirSync(join(folder, "cases"));
  return names
    .map((name) => CASE_FILE.exec(name)?.[1])
    .filter((id) => id !== undefined)
    .sort();
}

/** Whether the folder holds this case, whole. */
export function hasCase(folder: string, id: string): boolean {
  return existsSync(join(folder, "cases", `${id}.json`));
}

/** Removes case files of earlier runs that this run did not write again. */
export function removeOtherCases(folder: string, keep: ReadonlySet<string>): void {
  for (const id of caseIds(folder)) {
    if (!keep.has(id)) rmSync(join(folder, "cases", `${id}.json`));
  }
}

export function readCase(folder: string, id: string): CaseResult {
  const path = join(folder, "cases", `${id}.json`);
  return parseResults(readFileSync(path, "utf8"), path) as CaseResult;
}

export function readSummary(folder: string): Summary {
  const path = join(folder, "summary.json");
  return parseResults(readFileSync(path, "utf8"), path) as Summary;
}

/** Writes run.json, summary.json and junit.xml. */
export function writeSummary(folder: string, run: RunInfo, summary: Summary): void {
  writeWhole(join(folder, "run.json"), `${JSON.stringify(run, null, 2)}\n`);
  writeWhole(join(folder, "summary.json"), `${JSON.stringify(summary, null, 2)}\n`);
  writeWhole(join(folder, "junit.xml"), junitXml(summary));
}
