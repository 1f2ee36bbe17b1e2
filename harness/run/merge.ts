// Joins the shards of a run into one folder: what one run of all cases would have left.
import { copyFileSync, existsSync, renameSync } from "node:fs";
import { join } from "node:path";
import { writeReport } from "../report/report-file.ts";
import { ResultsError } from "../results/case-file.ts";
import {
  hasCase,
  prepareFolder,
  readCase,
  recordsPath,
  removeCase,
  removeOtherCases,
  writeSummary,
} from "../results/results-folder.ts";
import { readRunInfo, readSummaryNote } from "../results/run-note.ts";
import { counted } from "../results/scene-words.ts";
import { summaryOf } from "../results/summary.ts";
import type { CaseResult, RunCase, RunInfo, Summary, SummaryRow } from "../results/types.ts";
import { isSampled } from "./campaign.ts";
import { judged } from "./case-task.ts";
import type { RunOutcome } from "./runner.ts";
import { SectionSpool } from "./section-spool.ts";

/** One folder that is joined, as its notes tell it. */
interface Part {
  folder: string;
  run: RunInfo;
  summary: Summary;
}

export interface MergeWish {
  /** Shards may be missing or cut off. */
  isPart: boolean;
  /** Targets may differ. */
  isMixed: boolean;
}

/** What is told of the join itself. */
export interface Merged extends RunOutcome {
  /** Numbers of shards that are not there. */
  missing: number[];
}

const numbersText = (numbers: readonly number[]): string => numbers.join(", ");

/** Errors: ResultsError where the folders are not parts of one call. */
function refuseStrangers(parts: readonly Part[], { isMixed }: MergeWish): void {
  const [first, ...others] = parts;
  for (const { folder, run, summary } of others) {
    const differs = (what: string, was: unknown, is: unknown, hint = ""): void => {
      if (was === is) return;
      throw new ResultsError(
        `${folder}: ${what} ${String(is)}, and of ${first!.folder} ${String(was)}: they are not ` +
          `parts of one call${hint}`,
      );
    };
    const was = first!.summary;
    differs("shards", first!.run.shard?.of ?? 1, run.shard?.of ?? 1);
    differs("cases of the call", first!.run.calledCount, run.calledCount);
    differs("seed", was.seed, summary.seed);
    if (isMixed) continue;
    const hint = " (--mixed joins them all the same)";
    for (const key of ["kind", "identity", "layoutVersion", "numericsVersion"] as const) {
      differs(`target's ${key}`, was.target[key], summary.target[key], hint);
    }
    differs("version of amberline", was.packageVersion, summary.packageVersion, hint);
  }
}

/** Errors: ResultsError where a shard is there twice, is missing or was cut off. */
function missingShards(parts: readonly Part[], { isPart }: MergeWish): number[] {
  const of = parts[0]!.run.shard?.of ?? 1;
  const folderOf = new Map<number, string>();
  for (const { folder, run, summary } of parts) {
    const number = run.shard?.number ?? 1;
    const other = folderOf.get(number);
    if (other !== undefined) {
      throw new ResultsError(`${folder}: is shard ${number} of ${of}, and so is ${other}`);
    }
    folderOf.set(number, folder);
    const ended = summary.caseCount + summary.failures.length;
    if (!isPart && ended < run.cases.length) {
      throw new ResultsError(
        `${folder}: was cut off after ${ended} of ${counted(run.cases.length, "case")}; run with ` +
          "--resume goes on with it, --part joins what there is",
      );
    }
  }
  const all = Array.from({ length: of }, (_, i) => i + 1);
  const missing = all.filter((number) => !folderOf.has(number));
  if (missing.length > 0 && !isPart) {
    const which = missing.length === 1 ? "shard" : "shards";
    throw new ResultsError(
      `${which} ${numbersText(missing)} of ${of} ${missing.length === 1 ? "is" : "are"} not there; ` +
        "--part joins what there is",
    );
  }
  return missing;
}

/** Errors: ResultsError where the file is not there, is no case, or is not the one of the note. */
function wholeCase(folder: string, id: string, name: string): CaseResult {
  if (!hasCase(folder, id)) {
    throw new ResultsError(`${folder}: case "${name}" has no file cases/${id}.json`);
  }
  const found = readCase(folder, id);
  if (found.id === id && found.name === name) return found;
  throw new ResultsError(`${folder}: cases/${id}.json is not of "${name}", as run.json has it`);
}

/** Puts a case's files into the folder, whole or not at all. */
function takeCase(from: string, to: string, id: string): void {
  for (const [source, place] of [
    [join(from, "cases", `${id}.json`), join(to, "cases", `${id}.json`)],
    [recordsPath(from, id), recordsPath(to, id)],
  ] as const) {
    if (!existsSync(source)) continue;
    copyFileSync(source, `${place}.part`);
    renameSync(`${place}.part`, place);
  }
}

/** A case and the folder that holds it. */
type Found = RunCase & { folder: string };

/**
 * All cases of the parts, in the order of the call.
 *
 * Errors    ResultsError where two take one place, or a whole call leaves one empty: a scenario was
 *           changed between shards
 */
function casesOf(parts: readonly Part[], { isPart }: MergeWish): Found[] {
  const all = parts.flatMap(({ folder, run }) => run.cases.map((one) => ({ ...one, folder })));
  all.sort((a, b) => a.place - b.place);
  for (const [i, one] of all.entries()) {
    const before = all[i - 1];
    if (before?.place !== one.place) continue;
    throw new ResultsError(
      `${one.folder}: case "${one.name}" is also in ${before.folder}: not parts of one call`,
    );
  }
  const { calledCount } = parts[0]!.run;
  if (!isPart && all.length !== calledCount) {
    throw new ResultsError(
      `the shards hold ${all.length} of ${counted(calledCount, "case")}: a scenario was changed ` +
        "between them; --part joins what there is",
    );
  }
  return all;
}

/** The run of all parts together; the time is that of all machines. */
function joinedRun(parts: readonly Part[], cases: Found[], command: string[]): RunInfo {
  const { resultsVersion, machine, title, calledCount } = parts[0]!.run;
  return {
    resultsVersion,
    startedAt: parts.map((one) => one.run.startedAt).toSorted()[0]!,
    elapsedS: parts.reduce((sum, one) => sum + one.run.elapsedS, 0),
    machine,
    command,
    isInterrupted: parts.some((one) => one.run.isInterrupted),
    title,
    calledCount,
    cases: cases.map(({ name, file, repeat, place, id, elapsedS }) => ({
      name,
      file,
      repeat,
      place,
      ...(id === undefined ? {} : { id }),
      ...(elapsedS === undefined ? {} : { elapsedS }),
    })),
  };
}

/**
 * Joins folders into `folder`, a case at a time, each read and drawn as a run does.
 *
 * Errors    ResultsError: a folder is no whole part of the same call, or cannot be written
 */
export function mergeRuns(
  folders: readonly string[],
  folder: string,
  command: string[],
  wish: MergeWish,
): Merged {
  const parts = folders.map((one): Part => {
    return { folder: one, run: readRunInfo(one), summary: readSummaryNote(one) };
  });
  refuseStrangers(parts, wish);
  const missing = missingShards(parts, wish);
  const cases = casesOf(parts, wish);
  const { run: firstRun, summary: firstSummary } = parts[0]!;
  prepareFolder(folder);
  const spool = new SectionSpool(join(folder, "report.part"));
  try {
    const rows: SummaryRow[] = [];
    try {
      for (const { id, name, folder: from, repeat, place } of cases) {
        if (id === undefined) continue;
        const drawing = { repeat, isSampled: isSampled(place, firstRun.calledCount) };
        const { row, section } = judged(wholeCase(from, id, name), drawing);
        takeCase(from, folder, id);
        rows.push(row);
        spool.add(id, section);
      }
    } catch (error) {
      // Half a join is none, and would be taken for a run's.
      for (const { id } of rows) removeCase(folder, id);
      throw error;
    }
    const placeOf = new Map(cases.map(({ name, place }) => [name, place]));
    const failures = parts
      .flatMap(({ summary }) => summary.failures)
      .toSorted((a, b) => (placeOf.get(a.name) ?? 0) - (placeOf.get(b.name) ?? 0));
    const isMixed = parts.some(
      (one) => one.summary.target.identity !== firstSummary.target.identity,
    );
    const summary = summaryOf(rows, failures, {
      packageVersion: firstSummary.packageVersion,
      seed: firstSummary.seed,
      target: isMixed ? { ...firstSummary.target, identity: "mixed" } : firstSummary.target,
      plannedCount: firstRun.calledCount,
      ...(firstRun.requirements === undefined ? {} : { requirements: firstRun.requirements }),
    });
    removeOtherCases(folder, new Set(rows.map(({ id }) => id)));
    const run = joinedRun(parts, cases, command);
    writeSummary(folder, run, summary);
    writeReport(folder, firstRun.title, summary, spool);
    const { isInterrupted } = run;
    return { summary, isInterrupted, resumedCount: 0, cases: run.cases, stacks: [], missing };
  } finally {
    spool.remove();
  }
}
