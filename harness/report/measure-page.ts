// The page of a measurement, to be handed over: curves, and each value beside its closed form.
import { CAUTION_SENTENCE } from "../../host/caution-sentence.ts";
import type { Curve, MeasuredRow, Measurement } from "../measure/measurement.ts";
import { makeScale } from "./axis.ts";
import { table } from "./case-tables.ts";
import { linePath } from "./curve.ts";
import {
  AXIS_ROOM,
  type FigureFrame,
  acrossAxis,
  figureStart,
  heading,
  makePanel,
  onBothSheets,
  path,
  valueAxis,
} from "./figure-frame.ts";
import { htmlText } from "./html-text.ts";
import { numberText } from "./number-text.ts";
import { PAGE_STYLE } from "./page-style.ts";

/** Nothing is loaded from anywhere, and nothing runs. */
const POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";
const PLOT_HEIGHT = 280;

const STYLE = `
.measured-point { fill: none; stroke: var(--ink); stroke-width: 1.4; }
.closed-form { fill: none; stroke: var(--found); stroke-width: 1.6; }
.how { color: var(--soft); max-width: 62em; }
.measurement { border-top: 1px solid var(--hair); margin-top: 44px; padding-top: 18px;
  break-inside: avoid; }
`;

export interface MeasureView {
  title: string;
  facts: [name: string, value: string][];
  measurements: readonly Measurement[];
  repeat: string;
}

/** A measured point: a cross, told from the closed form's line without colour. */
function cross(x: number, y: number): string {
  const at = (value: number): string => String(Math.round(value * 10) / 10);
  return `M${at(x - 3.5)} ${at(y - 3.5)}l7 7M${at(x - 3.5)} ${at(y + 3.5)}l7 -7`;
}

function figure(frame: FigureFrame, curve: Curve): string {
  const all = [...curve.measured, ...curve.closed].filter(({ y }) => Number.isFinite(y));
  const xs = all.map(({ x }) => x);
  const ys = all.map(({ y }) => y);
  const [low, high] = [Math.min(...ys), Math.max(...ys)];
  const margin = 0.05 * (high - low || 1);
  const key = [
    { words: "closed form (line)", sample: "closed-form", isLine: true },
    {
      words: `measured (${curve.measured.length} crosses)`,
      sample: "measured-point",
      isLine: true,
      mark: cross(13, -4),
    },
  ];
  const x = makeScale(Math.min(...xs), Math.max(...xs), frame.left, frame.right);
  const head = heading(frame, 0, curve.y, key);
  const panel = makePanel(frame, head.bottom + 4, PLOT_HEIGHT, x, low - margin, high + margin);
  const bottom = panel.top + panel.height;
  const d = linePath(
    curve.closed.length,
    (i) => Number.isFinite(curve.closed[i]!.y),
    (i) => ({ x: x.at(curve.closed[i]!.x), y: panel.y.at(curve.closed[i]!.y) }),
  );
  const crosses = curve.measured
    .filter(({ y }) => Number.isFinite(y))
    .map((one) => cross(x.at(one.x), panel.y.at(one.y)));
  const label = `${curve.title}: ${curve.measured.length} measured points on the closed form's line`;
  return (
    figureStart(frame, bottom + AXIS_ROOM, `aria-label="${htmlText(label)}"`) +
    head.svg +
    valueAxis(panel, 6) +
    acrossAxis(frame, x, bottom, curve.x) +
    path(d, "closed-form") +
    path(crosses.join(""), "measured-point") +
    `</svg>`
  );
}

const RULES: Record<MeasuredRow["rule"], string> = {
  within: "within",
  "at most": "at most",
  "at least": "at least",
  told: "told",
};

/** The verdict of a row in words. */
export function rowVerdict({ rule, isRight }: MeasuredRow): string {
  if (rule === "told") return "told";
  return isRight ? "✓ within" : "✗ OUTSIDE";
}

/** Digits of a value that its tolerance leaves: two more than it is uncertain in. */
export function measuredText(value: number, tolerance?: number): string {
  if (!Number.isFinite(value)) return "none";
  if (tolerance === undefined || !(tolerance > 0)) return numberText(value, 4);
  const digits = Math.ceil(Math.log10(Math.abs(value) / tolerance)) + 2;
  return numberText(value, Math.min(9, Math.max(2, Number.isFinite(digits) ? digits : 2)));
}

function cells(row: MeasuredRow): string[] {
  const { measured, closed, tolerance } = row;
  if (row.unit === "valid") {
    const yes = (value: number | undefined): string => (value === 1 ? "yes" : "no");
    return [htmlText(row.what), "–", yes(measured), yes(closed), "–", "–", rowVerdict(row)];
  }
  const difference = closed === undefined ? undefined : measured - closed;
  const form = row.rule === "at most" || row.rule === "at least" ? `${RULES[row.rule]} ` : "";
  return [
    htmlText(row.what),
    htmlText(row.unit),
    measuredText(measured, tolerance),
    closed === undefined ? "–" : form + measuredText(closed, tolerance),
    row.rule === "within" ? numberText(difference, 2) : "–",
    row.rule === "within" ? numberText(tolerance, 2) : "–",
    rowVerdict(row),
  ];
}

function section(measurement: Measurement): string {
  const columns = [
    { head: "What" },
    { head: "Unit" },
    { head: "Measured", isNumber: true },
    { head: "Closed form", isNumber: true },
    { head: "Difference", isNumber: true },
    { head: "Tolerance", isNumber: true },
    { head: "Verdict" },
  ];
  const { curve } = measurement;
  const drawn =
    curve === undefined
      ? ""
      : `<figure>${onBothSheets((frame) => figure(frame, curve))}</figure>\n`;
  return (
    `<section class="measurement"><h2>${htmlText(measurement.name)}</h2>` +
    `<p class="how">${htmlText(measurement.how)}</p>${drawn}` +
    `${table("", columns, measurement.rows.map(cells))}</section>\n`
  );
}

function lead(measurements: readonly Measurement[]): string {
  const rows = measurements.flatMap((one) => one.rows).filter((one) => one.rule !== "told");
  const wrong = rows.filter((one) => !one.isRight).length;
  return wrong === 0
    ? `All ${rows.length} values lie within their tolerance of the closed form.`
    : `${wrong} of ${rows.length} values lie OUTSIDE their tolerance of the closed form.`;
}

/** The whole page. */
export function measurePage({ title, facts, measurements, repeat }: MeasureView): string {
  const told = facts.map(
    ([name, value]) => `<div><dt>${htmlText(name)}</dt><dd>${htmlText(value)}</dd></div>`,
  );
  return (
    `<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n` +
    `<meta http-equiv="Content-Security-Policy" content="${POLICY}">\n` +
    `<meta name="viewport" content="width=device-width, initial-scale=1">\n` +
    `<title>${htmlText(title)} – amberline</title>\n<style>${PAGE_STYLE}${STYLE}</style>\n</head>\n` +
    `<body id="top"><header><hr class="rule"><h1>${htmlText(title)}</h1>\n` +
    `<p class="lead">${lead(measurements)}</p><dl class="facts">${told.join("")}</dl></header>\n` +
    `<main>${measurements.map(section).join("")}` +
    `<p class="repeat">Measured by <code>${htmlText(repeat)}</code></p></main>\n` +
    `<footer><p class="caution-sentence">${htmlText(CAUTION_SENTENCE)}</p></footer>\n` +
    `</body>\n</html>\n`
  );
}
