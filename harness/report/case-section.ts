// One case of the report: what was asked, the verdict, pictures, tables, the command that repeats it.
import type { FilterResult } from "../judge/types.ts";
import type { CaseResult } from "../results/types.ts";
import {
  checksTable,
  eventsTable,
  exceedancesTable,
  table,
  termsTable,
  verdictWord,
} from "./case-tables.ts";
import { boxTables } from "./box-tables.ts";
import { filterFigure } from "./filter-figure.ts";
import { methodSection } from "./method-section.ts";
import { htmlText, quantityText } from "./html-text.ts";
import { numberText } from "./number-text.ts";
import { timeWords } from "./time-words.ts";

function fact(name: string, value: string): string {
  return `<div><dt>${name}</dt><dd>${value}</dd></div>`;
}

function facts(result: CaseResult): string {
  const requirements = result.requirements.map(htmlText).join(", ");
  const isTimed = result.timeUnit === "s";
  return (
    `<dl class="facts">` +
    fact("Profile", htmlText(result.profileName)) +
    fact("Duration", `${numberText(result.durationS, 6)} ${timeWords(result.timeUnit).unit}`) +
    fact("Sample rate", isTimed ? `${numberText(result.sampleRateHz, 7)} Hz` : "not stated") +
    fact("Seed of the case", String(result.seed)) +
    (requirements === "" ? "" : fact("Requirements", requirements)) +
    fact("Case", `<code>${htmlText(result.id)}</code>`) +
    `</dl>\n`
  );
}

function filterBlock(result: CaseResult, filter: FilterResult): string {
  const id = `f-${result.id}-${filter.filter}`;
  const either =
    filter.cautionLevel !== undefined && filter.eitherShare > 0
      ? ` The caution is undecided (either) at ${numberText(filter.eitherShare * 100, 2)} % of steps.`
      : "";
  const share = numberText(filter.toleranceShare * 100, 2);
  const times = timeWords(result.timeUnit);
  return (
    `<figure><figcaption><h3>${htmlText(filter.name)}</h3>` +
    `<p>Widest tolerance ${share} % of the greatest level.${either}</p></figcaption>\n` +
    `<div class="pane">${filterFigure(filter, result.durationS, id, times)}</div>` +
    `</figure>\n${termsTable(filter, times)}`
  );
}

/** What was played, line by line; a shaft or channel is named on its first line. */
function playedTable({ played }: CaseResult): string {
  const rows = played.map(({ of, what, value }, i) => [
    of === played[i - 1]?.of ? "" : htmlText(of),
    htmlText(what),
    quantityText(value),
  ]);
  const columns = [{ head: "Of" }, { head: "What" }, { head: "As played" }];
  return table("What was played", columns, rows, "", " played");
}

/** How each number and its caution are set. */
function settingsTable({ settings }: CaseResult): string {
  const columns = [
    { head: "Number" },
    { head: "Tracks" },
    { head: "Display scale" },
    { head: "Caution" },
  ];
  const rows = settings.map((one) =>
    [one.number, one.tracks, one.display, one.caution].map(quantityText),
  );
  return table("How number and caution are set", columns, rows, "", " settings");
}

/** The case as a section of the report: drawn from its file, and the command that repeats it. */
export function drawCaseSection(result: CaseResult, repeat: string): string {
  const { verdict } = result;
  const canary = verdict.isCanary
    ? `<p class="note">A canary: something in it is planted to be wrong. It is right when the ` +
      `check that it names finds it.</p>\n`
    : "";
  const see =
    result.see === undefined
      ? ""
      : `<p class="see"><strong>What to see:</strong> ${htmlText(result.see)}</p>\n`;
  const times = timeWords(result.timeUnit);
  const word = verdict.isRight ? "right" : "wrong";
  const kind = verdict.isCanary ? " canary" : "";
  return (
    `<section class="case" id="case-${result.id}" data-verdict="${word}${kind}" ` +
    `aria-labelledby="h-${result.id}">\n<header>${verdictWord(verdict.isRight, verdict.box?.decision)}` +
    `<h2 id="h-${result.id}">${htmlText(result.name)}</h2>\n` +
    `<p class="question">${htmlText(result.question)}</p>\n${see}${canary}${facts(result)}</header>\n` +
    verdict.filters.map((filter) => filterBlock(result, filter)).join("") +
    (verdict.box === undefined ? "" : boxTables(verdict.box)) +
    methodSection(result.methods, { from: 0, until: result.durationS }, result.id, times) +
    playedTable(result) +
    settingsTable(result) +
    checksTable(verdict, times) +
    eventsTable(verdict, times) +
    exceedancesTable(verdict, times) +
    `<p class="repeat">Run this case alone again: <code>${htmlText(repeat)}</code></p>\n` +
    `<p class="back"><a href="#top">Back to the summary</a></p>\n` +
    `</section>\n`
  );
}
