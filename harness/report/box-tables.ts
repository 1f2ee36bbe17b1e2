// How a box was decided about: the reading nearest to its limit with what it is uncertain by, when its
// caution had to come and go, its clock, and what was not judged.
import type { BoxCaution, BoxClock, BoxDecision, BoxReading, BoxVerdict } from "../judge/types.ts";
import { type Column, table } from "./case-tables.ts";
import { htmlText } from "./html-text.ts";
import { numberText, timeText } from "./number-text.ts";

const WORDS: Record<BoxDecision, string> = {
  inside: "✓ inside",
  "within the guard band": "◑ within the guard band",
  outside: "✗ OUTSIDE",
  "not judged": "○ not judged",
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

/** "5.5", or "4.1 … 5.5" where the latency leaves more open. */
function shouldText({ low, high }: BoxReading): string {
  const [from, to] = [numberText(low), numberText(high)];
  return from === to ? from : `${from} … ${to}`;
}

function row(one: BoxReading): string[] {
  return [
    htmlText(one.name),
    timeText(one.timeS),
    numberText(one.shown),
    shouldText(one),
    one.error === null ? "no number" : numberText(one.error, 3),
    numberText(one.accuracy, 3),
    numberText(one.expandedUncertainty, 3),
    numberText(one.guardBand, 3),
    WORDS[one.decision],
  ];
}

function termRows({ name, terms }: BoxReading): string[][] {
  return terms.map((term) => [htmlText(name), htmlText(term.name), numberText(term.standard, 3)]);
}

const CAUTION_COLUMNS: Column[] = [
  { head: "Caution of" },
  { head: "Goes" },
  { head: "Allowed, s", isNumber: true },
  { head: "Surely allowed, s", isNumber: true },
  { head: "Surely outside, s", isNumber: true },
  { head: "Came, s", isNumber: true },
  { head: "Decided" },
];

function cautionRow(one: BoxCaution): string[] {
  const span = (fromS: number, untilS: number): string =>
    `${timeText(fromS)} … ${timeText(untilS)}`;
  const hasSure = one.surelyFromS <= one.surelyUntilS;
  return [
    htmlText(one.name),
    one.isOn ? "on" : "off",
    span(one.fromS, one.untilS),
    hasSure ? span(one.surelyFromS, one.surelyUntilS) : "never",
    `before ${timeText(one.earliestS)}, after ${timeText(one.latestS)}`,
    one.foundS === null ? "never" : timeText(one.foundS),
    WORDS[one.decision],
  ];
}

const clockText = ({ name, from, driftPpm, driftUncertaintyPpm, timeUncertaintyS }: BoxClock) =>
  `Clock of ${name} against the generator's, from both bursts of ${from}: ` +
  `${numberText(driftPpm, 3)} ± ${numberText(driftUncertaintyPpm, 3)} ppm; times ± ` +
  `${numberText(timeUncertaintyS, 2)} s (k = 2).`;

/** Tables of a box's verdict. */
export function boxTables(box: BoxVerdict): string {
  const { worst, notes, clocks, cautions, inside, guardBand, outside, notJudged } = box;
  const counts =
    `${inside} readings inside, ${guardBand} within the guard band, ${outside} outside, ` +
    `${notJudged} not judged. ${box.rule}, after JCGM 106:2012.`;
  const said = [counts, ...clocks.map(clockText), ...notes].map(
    (text) => `<p class="note">${htmlText(text)}</p>`,
  );
  const cautionTable =
    cautions.length === 0
      ? ""
      : table(
          "When the caution must come and go: by accuracy, latency, update rate and delay; surely, " +
            "whatever truth and time are within U",
          CAUTION_COLUMNS,
          cautions.map(cautionRow),
        );
  return (
    table(
      `${htmlText(box.device)} against its own specification: the reading nearest to its limit, ` +
        "display units",
      COLUMNS,
      worst.map(row),
    ) +
    cautionTable +
    said.join("\n") +
    table(
      "What that reading is uncertain by, standard uncertainties in display units",
      [{ head: "Number" }, { head: "Part" }, { head: "Size", isNumber: true }],
      worst.flatMap(termRows),
    )
  );
}
