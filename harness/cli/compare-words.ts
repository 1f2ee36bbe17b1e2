// What `compare` says on the terminal: within 80 columns, read in ten seconds.
import type { CaseComparison } from "../compare/compare.ts";
import type { Effects, FirstDifference } from "../compare/record-pairs.ts";
import { counted, figure } from "../results/scene-words.ts";
import { COLUMNS, hanging, printable, wrapped } from "./wrapped-text.ts";

const INDENT = 10;
/** Fields of the first record that are told; the rest are counted. */
const FIELDS_MAX = 4;
/** Cases with lines of their own; the rest are counted. */
const CASES_MAX = 20;

const indented = (text: string): string[] =>
  wrapped(printable(text), COLUMNS - INDENT).map((line) => " ".repeat(INDENT) + line);

/** Nine significant digits tell any two numbers of single precision apart. */
const shown = (value: number | string): string =>
  typeof value === "number" ? figure(value, 9) : value;

function firstWords({ record, kind, of, timeS, fields, note }: FirstDifference): string {
  const where = `first at record ${record}, ${kind} ${of}, ${figure(timeS)} s`;
  if (note !== undefined) return `${where}: ${note}`;
  const told = fields.slice(0, FIELDS_MAX).map(({ field, a, b, ulps }) => {
    const apart = ulps === undefined ? "" : ` (${ulps} ulp)`;
    return `${field} ${shown(a)} and ${shown(b)}${apart}`;
  });
  const left = fields.length - told.length;
  if (left > 0) told.push(`and ${counted(left, "more field")}`);
  return `${where}: ${told.join(", ")}`;
}

function effectWords(effects: Effects): string[] {
  const { levelsCompared, levelsDiffering, ulps, share, counts } = effects;
  const lines: string[] = [];
  if (levelsDiffering === 0) lines.push(`levels: all ${levelsCompared} equal`);
  else {
    const most =
      ulps === undefined || share === undefined
        ? ""
        : `, at most ${ulps.value} ulp and ${figure(share.value * 100, 2)} % ` +
          `(${share.filter}, ${figure(share.timeS)} s)`;
    lines.push(`levels: ${levelsDiffering} of ${levelsCompared} differ${most}`);
  }
  const steps = (count: number): string => `at ${counted(count, "step")}`;
  lines.push(
    effects.shownDiffering === 0
      ? "number shown: equal at every step"
      : `number shown: differs ${steps(effects.shownDiffering)}, at most by ` +
          counted(counts?.value ?? 0, "display step"),
  );
  if (effects.validityDiffering > 0) {
    lines.push(`validity: differs ${steps(effects.validityDiffering)}`);
  }
  lines.push(
    effects.cautionDiffering === 0 && effects.cautionMovedPeriods === 0
      ? "caution: the same at every step"
      : `caution: differs ${steps(effects.cautionDiffering)}, an edge moved by at most ` +
          counted(effects.cautionMovedPeriods, "display period"),
  );
  for (const [side, only] of [
    ["A", effects.onlyA],
    ["B", effects.onlyB],
  ] as const) {
    if (only.length > 0) lines.push(`in ${side} alone: ${only.join("; ")}`);
  }
  return lines;
}

function caseLines(one: CaseComparison): string[] {
  const word = one.compared === "none" ? "NOT HELD AGAINST" : "DIFFERS";
  const lines = [hanging(`  ${word}  `, printable(one.name), INDENT)];
  if (one.why !== undefined) lines.push(...indented(one.why));
  if (one.first !== undefined) lines.push(...indented(firstWords(one.first)));
  if (one.effects !== undefined) {
    for (const text of effectWords(one.effects)) lines.push(...indented(text));
  }
  const { counter, value } = one;
  if (counter !== undefined) {
    lines.push(...indented(`counter ${counter.path}: ${counter.a} and ${counter.b}`));
  }
  if (value !== undefined) {
    const more = (one.valueCount ?? 1) - 1;
    const rest = more > 0 ? `, and ${counted(more, "more value")}` : "";
    lines.push(...indented(`${value.path}: ${value.a} and ${value.b}${rest}`));
  }
  return lines;
}

/** All that is told of the cases, the summary last. */
export function comparisonText(all: readonly CaseComparison[]): string {
  const differing = all.filter((one) => !one.isEqual);
  const lines = differing.slice(0, CASES_MAX).flatMap(caseLines);
  const left = differing.length - CASES_MAX;
  if (left > 0) lines.push(`  and ${left} more that differ`);
  if (differing.length > 0) lines.push("");
  const ofBytes = all.filter((one) => one.isEqual && one.compared === "bytes").length;
  const ofValues = all.filter((one) => one.isEqual && one.compared === "values").length;
  const none = all.filter((one) => one.compared === "none").length;
  const parts: string[] = [];
  if (ofBytes > 0) parts.push(`${ofBytes} identical to the bit`);
  if (ofValues > 0)
    parts.push(`${ofValues} equal in all that was kept (no records: not to the bit)`);
  if (differing.length - none > 0) parts.push(`${differing.length - none} DIFFER`);
  if (none > 0) parts.push(`${none} NOT HELD AGAINST each other`);
  lines.push(hanging(`${counted(all.length, "case")}: `, `${parts.join(", ")}.`, 2));
  return `${lines.join("\n")}\n`;
}
