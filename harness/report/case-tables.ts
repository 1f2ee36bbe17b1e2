// The tables of one case: checks, terms of the tolerance, events, exceedances.
import type { CheckResult, ExceedanceResult, FilterResult, Verdict } from "../judge/types.ts";
import type { SummaryRow } from "../results/types.ts";
import { stepDecimals } from "../results/step-decimals.ts";
import type { ToleranceTerm } from "../truth/types.ts";
import { htmlText } from "./html-text.ts";
import { numberText, ratioText, timeText } from "./number-text.ts";
import type { TimeWords } from "./time-words.ts";
import { TERM_MEANINGS, TERMS_RULE } from "./term-meanings.ts";

/** Rows of a long list that are printed; the case's JSON file has all. */
const ROWS_MAX = 60;

export interface Column {
  head: string;
  /** Numbers stand at the right. */
  isNumber?: boolean;
}

/** A table; cells are HTML already. */
export function table(
  caption: string,
  columns: Column[],
  rows: string[][],
  note = "",
  look = "",
): string {
  const align = (i: number, cell = ""): string => {
    const classes = [columns[i]?.isNumber === true ? "n" : "", cell === "–" ? "none" : ""];
    const words = classes.filter((one) => one !== "").join(" ");
    return words === "" ? "" : ` class="${words}"`;
  };
  const head = columns.map(({ head: words }, i) => `<th scope="col"${align(i)}>${words}</th>`);
  const body = rows.map((cells) => {
    // On a narrow screen each cell stands for itself and needs its column's name.
    const parts = cells.map(
      (cell, i) => `<td${align(i, cell)} data-head="${columns[i]?.head ?? ""}">${cell}</td>`,
    );
    return `<tr>${parts.join("")}</tr>`;
  });
  const under = note === "" ? "" : `<p class="note">${note}</p>`;
  return (
    `<div class="sheet${look}"><table><caption>${caption}</caption>` +
    `<thead><tr>${head.join("")}</tr></thead><tbody>${body.join("\n")}</tbody></table>${under}</div>\n`
  );
}

/** Terms under this share of the tolerance are not worth a line. */
const TERM_SHARE_LEAST = 1e-6;

const NARROW = " narrow";

/** Right and wrong as words with a mark; never by colour alone. */
export function verdictWord(isRight: boolean, decision?: SummaryRow["decision"]): string {
  if (decision === "within the guard band") {
    return `<span class="verdict guard">◑ within the guard band</span>`;
  }
  if (decision === "not judged") return `<span class="verdict guard">○ not judged</span>`;
  if (decision !== undefined) {
    return isRight
      ? `<span class="verdict right">✓ inside</span>`
      : `<span class="verdict wrong">✗ OUTSIDE</span>`;
  }
  return isRight
    ? `<span class="verdict right">✓ right</span>`
    : `<span class="verdict wrong">✗ WRONG</span>`;
}

function sourceName(check: CheckResult, filters: FilterResult[]): string {
  if (check.source < 0) return "device";
  const filter = filters.find((one) => one.filter === check.source);
  return filter?.name ?? `no. ${check.source + 1}`;
}

/** A number that no line break parts; its unit may stand below it. */
function whole(number: string): string {
  return `<span class="whole">${number}</span>`;
}

function checkRow(check: CheckResult, filters: FilterResult[]): string[] {
  const unit = check.unit === "" ? "" : ` ${htmlText(check.unit)}`;
  const isMeasured = check.worstTolerance > 0;
  // "1 steps" → "1 step"; a unit of one letter is no plural.
  const isOne = check.smallestCaught === 1 && /^[a-z]{2,}s$/.test(check.unit);
  const smallest = `${whole(numberText(check.smallestCaught, 3))}${isOne ? unit.slice(0, -1) : unit}`;
  return [
    htmlText(check.check),
    htmlText(sourceName(check, filters)),
    verdictWord(check.isRight, check.decision),
    String(check.judgedCount),
    isMeasured ? `${whole(numberText(check.worstError))}${unit}` : "–",
    isMeasured ? `${whole(numberText(check.worstTolerance, 3))}${unit}` : "–",
    isMeasured ? ratioText(check.worstRatio) : "–",
    isMeasured || !check.isRight ? timeText(check.worstTimeS) : "–",
    check.smallestCaught > 0 ? smallest : "–",
    htmlText(check.why),
  ];
}

/** Every check of the verdict. */
export function checksTable({ checks, filters }: Verdict, { unit }: TimeWords): string {
  return table(
    "Checks",
    [
      { head: "Check" },
      { head: "Of" },
      { head: "Verdict" },
      { head: "Judged", isNumber: true },
      { head: "Worst error", isNumber: true },
      { head: "Tolerance", isNumber: true },
      { head: "Ratio", isNumber: true },
      { head: `At, ${unit}`, isNumber: true },
      { head: "Would catch", isNumber: true },
      { head: "In words" },
    ],
    checks.map((one) => checkRow(one, filters)),
    "Ratio: worst error over tolerance, right up to 1. Would catch: the smallest error that could " +
      "not have passed this check.",
    " checks",
  );
}

function termRow({ name, value }: ToleranceTerm, most: number): string[] {
  const share = Math.max(0.5, (value / most) * 100).toFixed(1);
  const meaning = (TERM_MEANINGS as Readonly<Record<string, string | undefined>>)[name] ?? "";
  return [
    htmlText(name),
    whole(numberText(value, 3)),
    `<span class="bar" style="width:${share}%"></span>`,
    htmlText(meaning),
  ];
}

/** What the tolerance is made of where the level came nearest to its limit, largest first. */
export function termsTable({ nearest, unit }: FilterResult, times: TimeWords): string {
  if (nearest === undefined) return "";
  const terms = nearest.terms.filter(({ value }) => value > nearest.tolerance * TERM_SHARE_LEAST);
  if (terms.length === 0) return "";
  const most = terms.reduce((a, b) => Math.max(a, b.value), 0);
  const rows = terms.toSorted((a, b) => b.value - a.value).map((one) => termRow(one, most));
  const sum = numberText(nearest.tolerance, 3);
  rows.push(["<strong>tolerance</strong>", `<strong>${whole(sum)}</strong>`, "", "Their sum."]);
  const error = nearest.error === null ? "no number" : `${numberText(nearest.error)} off`;
  const ratio = nearest.error === null ? null : Math.abs(nearest.error) / nearest.tolerance;
  return table(
    `What the tolerance is made of at step ${nearest.step}, ` +
      `${timeText(nearest.timeS)} ${times.unit} (${htmlText(unit)})`,
    [
      { head: "Term" },
      { head: "Size", isNumber: true },
      { head: "Beside the largest" },
      { head: "What it is" },
    ],
    rows,
    `There the level came nearest to its limit: ${error}, ${ratioText(ratio)} of the tolerance. ` +
      `${TERMS_RULE} Terms under a millionth of it are left out.`,
    " terms",
  );
}

function limited<T>(all: readonly T[]): { shown: readonly T[]; note: string } {
  if (all.length <= ROWS_MAX) return { shown: all, note: "" };
  const shown = all.slice(0, ROWS_MAX);
  return { shown, note: `and ${all.length - ROWS_MAX} more; the case's JSON file has all.` };
}

/** Events as they came, each expected or not. */
export function eventsTable({ events }: Verdict, times: TimeWords): string {
  if (events.length === 0) return `<p class="note">No events.</p>\n`;
  const { shown, note } = limited(events);
  return table(
    "Events",
    [
      { head: `At, ${times.unit}`, isNumber: true },
      { head: "Event" },
      { head: "Of" },
      { head: `Speed, ${times.speedUnit}`, isNumber: true },
      { head: "Level", isNumber: true },
      { head: "Detail" },
      { head: "Expected" },
    ],
    shown.map((one) => [
      timeText(one.timeS),
      htmlText(one.name),
      htmlText(one.of),
      one.speedRevPerS > 0 ? numberText(times.speed(one.speedRevPerS)) : "–",
      one.level > 0 ? numberText(one.level) : "–",
      htmlText(one.detailText),
      one.isExpected ? "yes" : `<strong>not expected</strong>`,
    ]),
    note,
    NARROW,
  );
}

function exceedanceRow(one: ExceedanceResult, filters: FilterResult[], times: TimeWords): string[] {
  const filter = filters.find(({ filter: index }) => index === one.filter);
  const places = stepDecimals(filter?.displayStep ?? 0);
  return [
    htmlText(filter?.name ?? `no. ${one.filter + 1}`),
    timeText(one.onsetS),
    timeText(one.endS),
    timeText(one.timeAboveS),
    one.peakShown.toFixed(places),
    timeText(one.peakS),
    numberText(times.speed(one.speedAtPeakRevPerS)),
  ];
}

/** Exceedances: each time the number stood at or above the caution level. */
export function exceedancesTable({ exceedances, filters }: Verdict, times: TimeWords): string {
  if (exceedances.length === 0) return `<p class="note">No exceedances.</p>\n`;
  const { shown, note } = limited(exceedances);
  return table(
    "Exceedances",
    [
      { head: "Number" },
      { head: `Onset, ${times.unit}`, isNumber: true },
      { head: `End, ${times.unit}`, isNumber: true },
      { head: `Time above, ${times.unit}`, isNumber: true },
      { head: "Peak number", isNumber: true },
      { head: `Peak at, ${times.unit}`, isNumber: true },
      { head: `Speed at peak, ${times.speedUnit}`, isNumber: true },
    ],
    shown.map((one) => exceedanceRow(one, filters, times)),
    note,
  );
}
