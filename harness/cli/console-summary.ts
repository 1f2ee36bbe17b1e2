// What a run says on the terminal: within 80 columns, read in ten seconds.
import { join } from "node:path";
import pico from "picocolors";
import { NUMERICS_VERSION } from "../../shared/layout.ts";
import { bitComparisonRefusal } from "../results/bit-comparison.ts";
import type { CaseFailure, Summary, SummaryRow } from "../results/types.ts";
import { ambiguousWords, matrixWords, missingWords } from "../report/requirement-table.ts";
import type { RequirementMatrix } from "../requirement/matrix.ts";
import type { RunOutcome } from "../run/runner.ts";
import { COLUMNS, printable, wrapped } from "./wrapped-text.ts";

/** On a terminal only: a build server's setting would colour what goes into a pipe or a file. */
const colors = pico.createColors(process.stdout.isTTY ? pico.isColorSupported : false);

/** Rows shown before the rest is only counted. */
const ROWS_MAX = 20;
/** Up to so many cases right ones have lines of their own, too. */
const FEW_CASES = 10;
/** Numbers of a case told where only few words are asked for. */
const NOTES_MAX = 2;

export interface TellOptions {
  isJson: boolean;
  isDebug: boolean;
  /** Which cases get lines of their own: all, or the wrong ones and, where they are few, all. */
  details: "all" | "wrong";
}

function indented(text: string, by: number): string[] {
  return wrapped(printable(text), COLUMNS - by).map((line) => " ".repeat(by) + line);
}

function clipped(raw: string, width: number): string {
  const text = printable(raw).replace(/\s+/g, " ");
  return text.length <= width ? text : `${text.slice(0, width - 1)}…`;
}

/** Simulated time as a person says it. */
export function durationText(seconds: number): string {
  if (seconds < 120) return `${Number(seconds.toPrecision(3))} s`;
  if (seconds < 7200) return `${Number((seconds / 60).toPrecision(3))} min`;
  return `${Number((seconds / 3600).toPrecision(3))} h`;
}

/** A command to paste: whole on a line of its own, however long, as a terminal copies it. */
function repeatLines(repeat: string | undefined, by: number): string[] {
  if (repeat === undefined) return [];
  const indent = " ".repeat(by);
  return [`${indent}Run it again:`, indent + printable(repeat)];
}

/** What is told of a right case where few words are asked for. */
function marginLines({ notes, margin, methods }: SummaryRow): string[] {
  const told = notes.slice(0, NOTES_MAX);
  const left = notes.length - told.length;
  if (left > 0) told.push(`and ${left} more ${left === 1 ? "number" : "numbers"} in the report`);
  const last = " ".repeat(9) + clipped(margin, COLUMNS - 9);
  const opinions =
    methods === undefined ? [] : [" ".repeat(9) + clipped(methods.note, COLUMNS - 9)];
  return [...told.flatMap((note) => indented(note, 9)), last, ...opinions];
}

/** A box that cannot be shown to be inside is not told as wrong. */
const WRONG_WORDS = {
  "within the guard band": "GUARD BAND",
  "not judged": "NOT JUDGED",
  outside: "OUTSIDE",
  inside: "WRONG",
} as const;

const wrongWord = ({ decision }: SummaryRow): string => WRONG_WORDS[decision ?? "inside"];

function caseLines(
  row: SummaryRow,
  details: TellOptions["details"],
  repeat: string | undefined,
): string[] {
  const word = row.isRight ? "right" : colors.inverse(wrongWord(row));
  const canary = row.isCanary ? " (canary)" : "";
  const lines = [`  ${word}  ${clipped(row.name + canary, COLUMNS - 9)}`];
  if (!row.isRight) {
    lines.push(...indented(row.why, 9), ...marginLines(row), ...repeatLines(repeat, 9));
  }
  if (row.isRight && details === "all") {
    if (row.see !== undefined) lines.push(...indented(row.see, 9).map(colors.dim));
    for (const note of row.notes) lines.push(...indented(note, 9));
  } else if (row.isRight) lines.push(...marginLines(row));
  return lines;
}

function limited(lines: string[][], rest: string): string[] {
  const shown = lines.slice(0, ROWS_MAX).flat();
  const left = lines.length - ROWS_MAX;
  return left > 0 ? [...shown, `  and ${left} more ${rest}`] : shown;
}

/** Failures in a row for one reason: a target that is lost leaves hundreds behind it. */
function sameInARow(failures: readonly CaseFailure[]): CaseFailure[][] {
  const groups: CaseFailure[][] = [];
  for (const failure of failures) {
    const group = groups.at(-1);
    if (group?.[0]!.message === failure.message) group.push(failure);
    else groups.push([failure]);
  }
  return groups;
}

/** Cases without a verdict, those in a row for one reason told once. */
function failureLines(
  failures: readonly CaseFailure[],
  repeatOf: ReadonlyMap<string, string>,
): string[] {
  const groups = sameInARow(failures);
  const lines = groups.slice(0, ROWS_MAX).flatMap(([first, ...others]) => {
    const after = others.length === 1 ? "1 case" : `${others.length} cases`;
    return [
      `  ${colors.inverse("NO VERDICT")}  ${clipped(first!.name, COLUMNS - 14)}`,
      ...(others.length > 0 ? [`         and ${after} after it:`] : []),
      ...indented(first!.message, 9),
      ...(others.length > 0 ? [] : repeatLines(repeatOf.get(first!.name), 9)),
    ];
  });
  const left = groups.slice(ROWS_MAX).flat().length;
  return left > 0 ? [...lines, `  and ${left} more without a verdict`] : lines;
}

function targetLine({ target, seed }: Summary): string {
  const { kind, identity, numericsVersion } = target;
  if (kind === "core") return `Core ${identity}, seed ${seed}.`;
  const from = kind === "log" ? ", from a traffic log" : "";
  // A box that shows numbers has no records, and no version of them.
  if (kind === "module" && numericsVersion === 0) return `Box ${identity}, seed ${seed}.`;
  return `Device ${identity} at the end of a line${from}, numerics ${numericsVersion}, seed ${seed}.`;
}

function requirementLines(matrix: RequirementMatrix): string[] {
  const strangers = matrix.unknown
    .slice(0, ROWS_MAX)
    .map((one) => `${one.case} names ${one.id}, which is no requirement of the list.`);
  const missing = matrix.missing.slice(0, ROWS_MAX).map(missingWords);
  const ambiguous = matrix.ambiguous.slice(0, ROWS_MAX).map(ambiguousWords);
  return [matrixWords(matrix), ...strangers, ...missing, ...ambiguous].flatMap((text) =>
    wrapped(printable(text), COLUMNS),
  );
}

/** The second opinions of all cases, and the cases in which one differs. */
function methodLines({ cases }: Summary): string[] {
  const all = cases.flatMap(({ name, methods }) =>
    methods === undefined ? [] : [{ name, methods }],
  );
  if (all.length === 0) return [];
  const sum = (key: "agreeing" | "differing" | "notApplying"): number =>
    all.reduce((total, { methods }) => total + methods[key], 0);
  const differing = all.filter(({ methods }) => methods.differing > 0);
  const named = differing.slice(0, FEW_CASES).map(({ name }) => name);
  const more =
    differing.length > named.length ? ` and ${differing.length - named.length} more` : "";
  const words =
    `Second opinions: ${sum("agreeing")} agree, ${sum("differing")} ` +
    `${differing.length > 0 ? "DIFFER" : "differ"}, ${sum("notApplying")} do not apply` +
    `${differing.length > 0 ? ` (${named.join(", ")}${more})` : ""}. They are no part of a verdict.`;
  return wrapped(printable(words), COLUMNS);
}

/** The lines of the summary. */
export function summaryLines(
  { summary, isInterrupted, resumedCount, cases, shard }: RunOutcome,
  folder: string,
  details: TellOptions["details"],
): string[] {
  const isAll = details === "all" || summary.cases.length <= FEW_CASES;
  const listed = isAll ? summary.cases : summary.cases.filter((one) => !one.isRight);
  const repeatOf = new Map(cases.map(({ name, repeat }) => [name, repeat]));
  const lines = limited(
    listed.map((row) => caseLines(row, details, repeatOf.get(row.name))),
    "in the report",
  );
  lines.push(...failureLines(summary.failures, repeatOf));
  if (lines.length > 0) lines.unshift("");
  const { guardBandCount = 0, notJudgedCount = 0 } = summary;
  const guarded = guardBandCount === 0 ? "" : `, ${guardBandCount} WITHIN THE GUARD BAND`;
  const unjudged = notJudgedCount === 0 ? "" : `, ${notJudgedCount} NOT JUDGED`;
  const wrongCount = summary.wrongCount - guardBandCount - notJudgedCount;
  const wrong = wrongCount === 0 ? "none wrong" : `${wrongCount} WRONG`;
  const total = summary.caseCount === 1 ? "1 case" : `${summary.caseCount} cases`;
  const open =
    summary.failures.length === 0 ? "" : `, ${summary.failures.length} WITHOUT A VERDICT`;
  lines.push(
    "",
    `${total}: ${summary.rightCount} right, ${wrong}${guarded}${unjudged}${open}. ` +
      `${durationText(summary.simulatedS)} simulated.`,
    ...wrapped(printable(targetLine(summary)), COLUMNS),
  );
  const hasBits = summary.target.numericsVersion !== 0;
  const refusal = !hasBits
    ? undefined
    : bitComparisonRefusal(summary.target, { numericsVersion: NUMERICS_VERSION });
  if (refusal !== undefined) lines.push(...wrapped(refusal, COLUMNS));
  lines.push(...methodLines(summary));
  if (resumedCount > 0) {
    const were = resumedCount === 1 ? "1 case was" : `${resumedCount} cases were`;
    lines.push(`${were} in the folder already and not run again.`);
  }
  if (shard !== undefined) {
    const { number, of, calledCount } = shard;
    lines.push(`Shard ${number} of ${of}, of ${calledCount} cases in all; merge joins them.`);
  }
  if (isInterrupted) lines.push("Interrupted: only what was finished is in the results.");
  if (summary.requirements !== undefined) lines.push(...requirementLines(summary.requirements));
  lines.push(`Report: ${join(folder, "report.html")}`, "");
  return lines;
}

/** Writes the summary, or with `isJson` the same as one line of JSON. */
export function tellOutcome(outcome: RunOutcome, folder: string, options: TellOptions): void {
  if (options.isDebug) for (const stack of outcome.stacks) process.stderr.write(`${stack}\n`);
  if (options.isJson) {
    const { summary, isInterrupted, resumedCount } = outcome;
    const told = { folder, isInterrupted, resumedCount, ...summary };
    process.stdout.write(`${JSON.stringify(told)}\n`);
    return;
  }
  process.stdout.write(summaryLines(outcome, folder, options.details).join("\n"));
}
