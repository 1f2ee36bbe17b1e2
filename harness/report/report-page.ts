// The page around the cases: head, summary, foot.
import { createHash } from "node:crypto";
import { CAUTION_SENTENCE } from "../../host/caution-sentence.ts";
import type { Summary, SummaryRow } from "../results/types.ts";
import { verdictWord } from "./case-tables.ts";
import { htmlText, quantityText } from "./html-text.ts";
import { numberText, ratioText } from "./number-text.ts";
import { PAGE_SCRIPT } from "./page-script.ts";
import { PAGE_STYLE } from "./page-style.ts";
import { requirementSection } from "./requirement-table.ts";
import { patternDefinitions } from "./strips.ts";
import { timeWords } from "./time-words.ts";

const SCRIPT_HASH = createHash("sha256").update(PAGE_SCRIPT).digest("base64");

/** Nothing is loaded from anywhere, and no script runs but the one whose hash stands here. */
export const CONTENT_SECURITY_POLICY =
  `default-src 'none'; style-src 'unsafe-inline'; img-src data:; ` +
  `script-src 'sha256-${SCRIPT_HASH}'; base-uri 'none'; form-action 'none'`;

/** Wrong cases that are linked to at the head of the page. */
const WRONG_MAX = 20;

function count(name: string, value: number): string {
  return `<div><dt>${name}</dt><dd>${value}</dd></div>`;
}

function counts(summary: Summary): string {
  const { guardBandCount = 0, notJudgedCount = 0 } = summary;
  return (
    `<dl class="counts">` +
    count(summary.caseCount === 1 ? "case" : "cases", summary.caseCount) +
    count("right", summary.rightCount) +
    count("wrong", summary.wrongCount - guardBandCount - notJudgedCount) +
    (summary.guardBandCount === undefined
      ? ""
      : count("within the guard band", guardBandCount) + count("not judged", notJudgedCount)) +
    (summary.canaryCount > 0 ? count("canaries among them", summary.canaryCount) : "") +
    (summary.failures.length > 0 ? count("without a verdict", summary.failures.length) : "") +
    `</dl>\n`
  );
}

function facts(summary: Summary): string {
  const { target } = summary;
  const all: [string, string][] = [
    ["Target", `${target.kind} ${target.identity}`],
    ["Seed", String(summary.seed)],
    ["Simulated", `${numberText(summary.simulatedS, 6)} s`],
    ["amberline", summary.packageVersion],
    ["Layout, numerics", `${target.layoutVersion}, ${target.numericsVersion}`],
    ["Results", summary.resultsVersion],
  ];
  const parts = all.map(
    ([name, value]) => `<div><dt>${name}</dt><dd>${htmlText(value)}</dd></div>`,
  );
  return `<dl class="facts">${parts.join("")}</dl>\n`;
}

function summaryRow(row: SummaryRow, place: number): string {
  const kind = row.isCanary ? " canary" : "";
  const word = row.isRight ? "right" : "wrong";
  const seen = row.notes.map((note) => `<div>${quantityText(note)}</div>`).join("");
  const see = row.see === undefined ? "" : `<div class="see">${htmlText(row.see)}</div>`;
  const why = row.isRight ? "" : `<small>${htmlText(row.why)}</small>`;
  return (
    `<tr data-verdict="${word}${kind}" data-case="case-${row.id}">` +
    `<td class="n" data-head="No." data-value="${place}">${place}</td>` +
    `<td data-head="Case"><a href="#case-${row.id}">${htmlText(row.name)}</a>` +
    `<small>${htmlText(row.question)}</small></td>` +
    `<td data-head="Verdict">${verdictWord(row.isRight, row.decision)}` +
    `${row.isCanary ? `<small>canary</small>` : ""}${why}</td>` +
    `<td data-head="Seen">${see}${seen}</td>` +
    `<td class="n" data-head="Worst ratio" data-value="${row.worstRatio ?? Infinity}">` +
    `${ratioText(row.worstRatio)}<small>${htmlText(row.worstCheck)}</small></td>` +
    `<td class="n" data-head="Length" data-value="${row.durationS}">` +
    `${numberText(row.durationS, 5)} ${timeWords(row.timeUnit).unit}</td></tr>`
  );
}

const CONTROLS = `<div class="controls" role="search" aria-label="Filter the cases">
<label>Text in a row<input id="filter-words" type="search" autocomplete="off"></label>
<label>Verdict<select id="filter-verdict"><option value="">all</option>
<option value="wrong">wrong</option><option value="right">right</option>
<option value="canary">canaries</option></select></label>
<output id="filter-count" aria-live="polite"></output></div>
`;

/** Which part of a large campaign the page shows. */
function sampleNote(summary: Summary, shown: number): string {
  if (shown === summary.cases.length) return "";
  const right = shown - summary.wrongCount;
  return (
    `<p class="note">Of ${summary.caseCount} cases this page shows every one that is wrong, and ` +
    `${right} of the ${summary.rightCount} that are right, evenly spread. All are counted above; ` +
    `all are in summary.json, each whole in cases/.</p>\n`
  );
}

function summaryTable(summary: Summary, isDrawn: IsDrawn): string {
  if (summary.cases.length === 0) return `<p class="note">No case was judged.</p>\n`;
  const shown = summary.cases.map((row, i) => ({ row, place: i + 1 }));
  const drawn = shown.filter(({ row }) => isDrawn(row));
  const isTold = summary.cases.some((one) => one.see !== undefined);
  const seen = isTold ? "What to see, number and caution" : "Number and caution";
  return (
    sampleNote(summary, drawn.length) +
    CONTROLS +
    `<div class="sheet"><table id="summary" class="summary"><caption>Cases</caption>` +
    `<thead><tr><th scope="col" class="n">No.</th><th scope="col">Case</th>` +
    `<th scope="col">Verdict</th><th scope="col">${seen}</th>` +
    `<th scope="col" class="n">Worst ratio</th><th scope="col" class="n">Length</th></tr></thead>` +
    `<tbody>${drawn.map(({ row, place }) => summaryRow(row, place)).join("\n")}</tbody>` +
    `</table></div>\n<p class="note">Worst ratio: the largest error of any check over its ` +
    `tolerance; right up to 1. “No tolerance”: an item that is right or wrong as a whole.</p>\n`
  );
}

function failureList(summary: Summary): string {
  if (summary.failures.length === 0) return "";
  const items = summary.failures.map(
    ({ name, message }) => `<li><strong>${htmlText(name)}</strong>: ${htmlText(message)}</li>`,
  );
  return `<h2>Without a verdict</h2>\n<ul>${items.join("\n")}</ul>\n`;
}

/** Links to the wrong cases, so that nobody has to look for them in a long table. */
function wrongList(summary: Summary): string {
  const wrong = summary.cases.filter((one) => !one.isRight);
  if (wrong.length === 0) return "";
  const items = wrong
    .slice(0, WRONG_MAX)
    .map((row) => `<li><a href="#case-${row.id}">${htmlText(row.name)}</a></li>`);
  const left = wrong.length - items.length;
  if (left > 0) items.push(`<li>and ${left} more</li>`);
  return `<nav aria-label="Wrong verdicts"><ul class="wrong-list">${items.join("")}</ul></nav>\n`;
}

function verdictSentence(summary: Summary): string {
  const { wrongCount, failures, plannedCount } = summary;
  const ended = summary.caseCount + failures.length;
  const parts: string[] = [];
  if (ended < plannedCount) parts.push(`Interrupted: ${ended} of ${plannedCount} cases ended`);
  else if (wrongCount === 0 && failures.length === 0) {
    return summary.guardBandCount === undefined
      ? "Every number and every caution was right."
      : "Every reading that could be judged lies inside the box's own specification.";
  }
  const { guardBandCount = 0, notJudgedCount = 0, caseCount } = summary;
  const reallyWrong = wrongCount - guardBandCount - notJudgedCount;
  if (guardBandCount > 0) parts.push(`${guardBandCount} of ${caseCount} within the guard band`);
  if (notJudgedCount > 0) parts.push(`${notJudgedCount} of ${caseCount} not judged`);
  if (reallyWrong > 0) parts.push(`${reallyWrong} of ${caseCount} verdicts wrong`);
  if (failures.length > 0) parts.push(`${failures.length} without a verdict`);
  return `${parts.join(", ")}.`;
}

/** Whether a case has a section on the page, and so a row of the table. */
type IsDrawn = (row: { id: string }) => boolean;

/** Everything before the first case. */
export function pageHead(title: string, summary: Summary, isDrawn: IsDrawn = () => true): string {
  return (
    `<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n` +
    `<meta http-equiv="Content-Security-Policy" content="${CONTENT_SECURITY_POLICY}">\n` +
    `<meta name="viewport" content="width=device-width, initial-scale=1">\n` +
    `<title>${htmlText(title)} – amberline</title>\n<style>${PAGE_STYLE}</style>\n</head>\n` +
    `<body id="top">\n${patternDefinitions()}` +
    `<header><hr class="rule"><h1>${htmlText(title)}</h1>\n` +
    `<p class="lead">${verdictSentence(summary)}</p>\n${wrongList(summary)}` +
    `${counts(summary)}${facts(summary)}</header>\n` +
    `<main>\n${requirementSection(summary.requirements)}` +
    `${summaryTable(summary, isDrawn)}${failureList(summary)}`
  );
}

/** Everything after the last case; the caution sentence stands at the end of every report. */
export function pageTail(): string {
  return (
    `</main>\n<footer><p class="caution-sentence">${htmlText(CAUTION_SENTENCE)}</p></footer>\n` +
    `<script>${PAGE_SCRIPT}</script>\n</body>\n</html>\n`
  );
}
