// How a box was decided about: the reading nearest to its limit with what it is uncertain by, its clock,
// and what was not judged.
import type { BoxReading, BoxVerdict } from "../judge/types.ts";
import { type Column, table } from "./case-tables.ts";
import { htmlText } from "./html-text.ts";
import { numberText, timeText } from "./number-text.ts";

const WORDS: Record<BoxReading["decision"], string> = {
  inside: "✓ inside",
  "within the guard band": "◑ within the guard band",
  outside: "✗ OUTSIDE",
};

const COLUMNS: Column[] = [
  { head: "Number" },
  { head: "At, s", isNumber: true },
  { head: "Shows", isNumber: true },
  { head: "Should", isNumber: true },
  { head: "Error", isNumber: true },
  { head: "Accuracy ±", isNumber: true },
  { head: "U, k = 2", isNumber: true },
  { head: "Guard band", isNumber: true },
  { head: "Decided" },
];

function row(one: BoxReading): string[] {
  return [
    htmlText(one.name),
    timeText(one.timeS),
    numberText(one.shown),
    numberText(one.expected),
    numberText(one.error, 3),
    numberText(one.accuracy, 3),
    numberText(one.expandedUncertainty, 3),
    numberText(one.guardBand, 3),
    WORDS[one.decision],
  ];
}

function termRows({ name, terms }: BoxReading): string[][] {
  return terms.map((term) => [htmlText(name), htmlText(term.name), numberText(term.standard, 3)]);
}

/** Tables of a box's verdict. */
export function boxTables(box: BoxVerdict): string {
  const { worst, notes, driftPpm, driftUncertaintyPpm, inside, guardBand, outside, notJudged } =
    box;
  const counts =
    `${inside} readings inside, ${guardBand} within the guard band, ${outside} outside, ` +
    `${notJudged} not judged. ${box.rule}, after JCGM 106:2012.`;
  const clock =
    `Clock of the box against the generator's, from both bursts: ${numberText(driftPpm, 3)} ± ` +
    `${numberText(driftUncertaintyPpm, 3)} ppm (k = 2).`;
  const said = [counts, clock, ...notes].map((text) => `<p class="note">${htmlText(text)}</p>`);
  return (
    table(
      `${htmlText(box.device)} against its own specification: the reading nearest to its limit, ` +
        "display units",
      COLUMNS,
      worst.map(row),
    ) +
    said.join("\n") +
    table(
      "What that reading is uncertain by, standard uncertainties in display units",
      [{ head: "Number" }, { head: "Part" }, { head: "Size", isNumber: true }],
      worst.flatMap(termRows),
    )
  );
}
