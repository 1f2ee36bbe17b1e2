// One case of the report: what was asked, the verdict, pictures, tables, the command that repeats it.
import type { FilterResult } from "../judge/types.ts";
import type { CaseResult } from "../results/types.ts";
import {
  checksTable,
  eventsTable,
  exceedancesTable,
  termsTable,
  verdictWord,
} from "./case-tables.ts";
import { filterFigure } from "./filter-figure.ts";
import { htmlText } from "./html-text.ts";
import { numberText } from "./number-text.ts";

function fact(name: string, value: string): string {
  return `<div><dt>${name}</dt><dd>${value}</dd></div>`;
}

function facts(result: CaseResult): string {
  const requirements = result.requirements.map(htmlText).join(", ");
  return (
    `<dl class="facts">` +
    fact("Profile", htmlText(result.profileName)) +
    fact("Duration", `${numberText(result.durationS, 6)} s`) +
    fact("Sample rate", `${numberText(result.sampleRateHz, 7)} Hz`) +
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
  return (
    `<figure><figcaption><h3>${htmlText(filter.name)}</h3>` +
    `<p>Widest tolerance ${share} % of the greatest level.${either}</p></figcaption>\n` +
    filterFigure(filter, result.durationS, id) +
    `</figure>\n${termsTable(filter)}`
  );
}

/** The case as a section of the report. Pure: drawn from the case's file alone. */
export function drawCaseSection(result: CaseResult): string {
  const { verdict } = result;
  const canary = verdict.isCanary
    ? `<p class="note">A canary: something in it is planted to be wrong. It is right when the ` +
      `check that it names finds it.</p>\n`
    : "";
  const see =
    result.see === undefined
      ? ""
      : `<p class="see"><strong>What to see:</strong> ${htmlText(result.see)}</p>\n`;
  const word = verdict.isRight ? "right" : "wrong";
  const kind = verdict.isCanary ? " canary" : "";
  return (
    `<section class="case" id="case-${result.id}" data-verdict="${word}${kind}" ` +
    `aria-labelledby="h-${result.id}">\n<header>${verdictWord(verdict.isRight)}` +
    `<h2 id="h-${result.id}">${htmlText(result.name)}</h2>\n` +
    `<p class="question">${htmlText(result.question)}</p>\n${see}${canary}${facts(result)}</header>\n` +
    verdict.filters.map((filter) => filterBlock(result, filter)).join("") +
    checksTable(verdict) +
    eventsTable(verdict) +
    exceedancesTable(verdict) +
    `<p class="repeat">Run this case alone again: <code>${htmlText(result.repeat)}</code></p>\n` +
    `</section>\n`
  );
}
