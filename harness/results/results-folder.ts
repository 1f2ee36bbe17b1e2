// A folder of results: cases/<id>.json, run.json, summary.json, junit.xml, report.html.
import { existsSync, readFileSync, readdirSync, rmSync } from "node:fs";
import { join } from "node:path";
import { parseCase, parseResults, writeWhole } from "./case-file.ts";
import { junitXml } from "./junit-xml.ts";
import { prepareOutput } from "./output-folder.ts";
import type { CaseResult, RunInfo, Summary } from "./types.ts";

const CASE_FILE = /^([0-9a-f]{16})\.json$/;

/**
 * Makes the folder ready to be written to; what an earlier run left there stays until this one
 * ends.
 *
 * Errors    ResultsError where it is a file or cannot be written
 */
export function prepareFolder(folder: string): void {
  prepareOutput(folder, ["cases"]);
}

/** Folder of the tables within the results, where they are asked for. */
export const tablesFolder = (folder: string): string => join(folder, "tables");

/** Tables of an earlier run say nothing of this one. */
function removeTables(folder: string): void {
  rmSync(tablesFolder(folder), { recursive: true, force: true });
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

/** Where the records of a case stand, as they came from the target, where a run keeps them. */
export function recordsPath(folder: string, id: string): string {
  return join(folder, "cases", `${id}.records`);
}

/** Removes a case's files. */
export function removeCase(folder: string, id: string): void {
  rmSync(join(folder, "cases", `${id}.json`), { force: true });
  rmSync(recordsPath(folder, id), { force: true });
}

/** Removes case files of earlier runs that this run did not write again. */
export function removeOtherCases(folder: string, keep: ReadonlySet<string>): void {
  for (const id of caseIds(folder)) {
    if (!keep.has(id)) removeCase(folder, id);
  }
}

/** Errors: ResultsError where the file is no case as a run writes it. */
export function readCase(folder: string, id: string): CaseResult {
  const path = join(folder, "cases", `${id}.json`);
  return parseCase(readFileSync(path, "utf8"), path);
}

export function readSummary(folder: string): Summary {
  const path = join(folder, "summary.json");
  return parseResults(readFileSync(path, "utf8"), path) as Summary;
}

/** Writes run.json, summary.json and junit.xml. */
export function writeSummary(folder: string, run: RunInfo, summary: Summary): void {
  removeTables(folder);
  writeWhole(join(folder, "run.json"), `${JSON.stringify(run, null, 2)}\n`);
  writeWhole(join(folder, "summary.json"), `${JSON.stringify(summary, null, 2)}\n`);
  writeWhole(join(folder, "junit.xml"), junitXml(summary, run.cases));
}
