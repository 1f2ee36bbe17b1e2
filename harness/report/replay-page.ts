// The report of a replay: levels, speed and phase over time, events. Nothing is judged.
import { CAUTION_SENTENCE } from "../../host/caution-sentence.ts";
import { type Scale, makeScale, roundedUp } from "./axis.ts";
import { type Column, table } from "./case-tables.ts";
import { linePath, type Span } from "./curve.ts";
import {
  AXIS_ROOM,
  type FigureFrame,
  type Panel,
  across,
  acrossAxis,
  figureStart,
  heading,
  makePanel,
  onBothSheets,
  path,
  rect,
  text,
  valueAxis,
} from "./figure-frame.ts";
import { htmlText } from "./html-text.ts";
import type { MethodResults } from "../method/opinion-types.ts";
import { methodSection } from "./method-section.ts";
import { timeWords } from "./time-words.ts";
import { phaseAxisStart, phaseLine } from "./phase-path.ts";
import { PAGE_STYLE } from "./page-style.ts";
import { CAUTION_LOOKS, patternDefinitions, spansInWords, strip, STRIP_HEIGHT } from "./strips.ts";

/** Nothing is loaded from anywhere, and nothing runs. */
const POLICY =
  "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; " +
  "form-action 'none'";

export interface ReplayFilterView {
  name: string;
  unit: string;
  /** Something speaks against its levels: they are not to be relied on. */
  isDoubtful?: boolean;
  /** Rows of the table beside the picture. */
  facts: [name: string, value: string][];
  time: readonly number[];
  level: readonly number[];
  speed: readonly number[];
  phaseLagDeg: readonly number[];
  /** The number shown, where a profile makes one; else the level is what is shown. */
  shown?: readonly number[];
  /** Of what is shown, where a caution is configured. */
  cautionLevel?: number;
  caution?: readonly Span[];
}

/** A table of plain text. */
export interface ReplayTable {
  caption: string;
  columns: Column[];
  rows: string[][];
  /** Plain sentences below it. */
  note?: string;
}

export interface ReplayView {
  title: string;
  /** Plain sentences: what speaks against levels. */
  doubts: string[];
  /** Plain sentences: where the speed came from, what was mended, what to be wary of. */
  notes: string[];
  facts: [name: string, value: string][];
  timeName: string;
  speedName: string;
  timeStart: number;
  timeEnd: number;
  isPhaseRelative: boolean;
  filters: ReplayFilterView[];
  /** Second opinions, where they were asked for, and the unit of their times. */
  methods?: MethodResults;
  timeUnit?: "s" | "sample";
  /** Tables below the pictures. */
  tables: ReplayTable[];
  repeat: string;
}

interface Curve {
  words: string;
  /** Where the values have times of their own. */
  time?: readonly number[];
  /** Distance of the grid's lines; absent: round numbers. */
  gridStep?: number;
  values: readonly number[];
  low: number;
  high: number;
  height: number;
  className: string;
  cautionLevel?: number;
}

function greatest(values: readonly number[]): number {
  return values.reduce((most, value) => (value > most ? value : most), 0);
}

function drawCurve(
  frame: FigureFrame,
  curve: Curve,
  x: Scale,
  allTime: readonly number[],
  top: number,
): { svg: string; bottom: number } {
  const time = curve.time ?? allTime;
  const head = heading(frame, top, curve.words, []);
  const panel = makePanel(frame, head.bottom, curve.height, x, curve.low, curve.high);
  const bottom = panel.top + panel.height;
  const parts = [head.svg];
  if (curve.cautionLevel !== undefined) {
    const { left, right } = frame;
    const y = panel.y.at(curve.cautionLevel);
    parts.push(rect(left, panel.top, right - left, y - panel.top, "amber-region"));
    parts.push(across(panel, y, "caution-line"));
    parts.push(text(right - 6, y - 6, "caution level and above", "caution-word", "end"));
  }
  parts.push(curve.gridStep === undefined ? valueAxis(panel, 4) : evenAxis(panel, curve.gridStep));
  const d = linePath(
    time.length,
    (i) => Number.isFinite(curve.values[i]!),
    (i) => ({ x: panel.x.at(time[i]!), y: panel.y.at(curve.values[i]!) }),
  );
  parts.push(path(d, curve.className), across(panel, bottom, "axis"));
  return { svg: parts.join(""), bottom };
}

/** Grid lines at multiples of a step, each with its number. */
function evenAxis(panel: Panel, step: number): string {
  const parts: string[] = [];
  for (let value = panel.y.low; value <= panel.y.high; value += step) {
    const y = panel.y.at(value);
    parts.push(across(panel, y, "grid"));
    const words = String(value).replace("-", "−");
    parts.push(text(panel.frame.left - 8, y + 4, words, "tick", "end"));
  }
  return parts.join("");
}

/** The curves of a filter, from above. */
function curvesOf(frame: FigureFrame, view: ReplayView, filter: ReplayFilterView): Curve[] {
  const { shown, cautionLevel } = filter;
  const high = (values: readonly number[], toHold = 0): number =>
    roundedUp(Math.max(greatest(values), toHold * 1.1));
  const levelLine = shown === undefined ? cautionLevel : undefined;
  const curves: Curve[] = [
    {
      words: `Level, ${filter.unit}`,
      values: filter.level,
      low: 0,
      high: high(filter.level, levelLine),
      height: 170,
      className: "found",
      cautionLevel: levelLine,
    },
  ];
  if (shown !== undefined) {
    const look = { low: 0, high: high(shown, cautionLevel), height: 140, className: "found" };
    curves.unshift({ words: "Number shown, display units", values: shown, ...look, cautionLevel });
  }
  if (filter.speed.length > 0) {
    curves.push({
      words: `Speed, ${view.speedName}`,
      values: filter.speed,
      low: 0,
      high: roundedUp(greatest(filter.speed)),
      height: 70,
      className: "speed",
    });
  }
  if (!view.isPhaseRelative) {
    curves.push(phaseCurve(frame, view, filter));
  }
  return curves;
}

function figure(
  frame: FigureFrame,
  view: ReplayView,
  filter: ReplayFilterView,
  index: number,
): string {
  const x = makeScale(view.timeStart, view.timeEnd, frame.left, frame.right);
  // The picture stands clear of the facts above it.
  let top = 12;
  const parts: string[] = [];
  for (const curve of curvesOf(frame, view, filter)) {
    const { svg, bottom } = drawCurve(frame, curve, x, filter.time, top);
    parts.push(svg);
    top = bottom + 20;
  }
  if (filter.caution !== undefined) {
    parts.push(strip(frame, "caution", filter.caution, CAUTION_LOOKS, x, top));
    parts.push(`<desc>Caution: ${htmlText(spansInWords(filter.caution, CAUTION_LOOKS))}</desc>`);
    top += STRIP_HEIGHT + 20;
  }
  const id = `r-${index}${frame.isNarrow ? "-n" : ""}`;
  const what = filter.shown === undefined ? "level" : "number, level";
  const label = `${filter.name}: ${what} and speed over ${view.timeName}`;
  return (
    figureStart(frame, top - 20 + AXIS_ROOM, `aria-labelledby="${id}"`) +
    `<title id="${id}">${htmlText(label)}</title>${parts.join("")}` +
    `${acrossAxis(frame, x, top - 20, view.timeName)}</svg>`
  );
}

/** One turn of phase, from where the line least often runs over its end; it is broken there. */
function phaseCurve(frame: FigureFrame, view: ReplayView, filter: ReplayFilterView): Curve {
  const low = phaseAxisStart(filter.phaseLagDeg);
  const high = low + 360;
  const dash = (view.timeEnd - view.timeStart) / (frame.right - frame.left);
  const drawn = phaseLine(filter.time, filter.phaseLagDeg, low, dash);
  const from = String(low).replace("-", "−");
  return {
    words:
      "Phase lag, degrees; positive: the peak comes after the index. One turn is drawn, from " +
      `${from} to ${high}: the line breaks where it goes round`,
    time: drawn.time,
    values: drawn.angleDeg,
    low,
    high,
    height: 90,
    gridStep: 90,
    className: "found",
  };
}

function factList(facts: [string, string][]): string {
  const parts = facts.map(
    ([name, value]) => `<div><dt>${htmlText(name)}</dt><dd>${htmlText(value)}</dd></div>`,
  );
  return `<dl class="facts">${parts.join("")}</dl>\n`;
}

function doubtMark({ isDoubtful }: ReplayFilterView): string {
  return isDoubtful === true ? `<p class="verdict wrong">not to be relied on</p>` : "";
}

function tableOf({ caption, columns, rows, note }: ReplayTable): string {
  if (rows.length === 0) return `<p class="note">${htmlText(caption)}: none.</p>\n`;
  return table(
    htmlText(caption),
    columns.map((column) => ({ ...column, head: htmlText(column.head) })),
    rows.map((cells) => cells.map(htmlText)),
    note === undefined ? "" : htmlText(note),
  );
}

/** What stands before the first number, where it is not to be relied on. */
function doubtBox(doubts: readonly string[]): string {
  if (doubts.length === 0) return "";
  const items = doubts.map((words) => `<li>${htmlText(words)}</li>`);
  return (
    `<section class="doubt"><h2>Levels not to be relied on</h2>\n` +
    `<ul>${items.join("\n")}</ul></section>\n`
  );
}

function opinionsOf({ methods, timeStart, timeEnd, timeUnit }: ReplayView): string {
  const span = { from: timeStart, until: timeEnd };
  return methodSection(methods, span, "replay", timeWords(timeUnit ?? "s"));
}

/** The page as one HTML text; opens from a file and loads nothing. */
export function replayPage(view: ReplayView): string {
  const notes = view.notes.map((note) => `<li>${htmlText(note)}</li>`).join("\n");
  const filters = view.filters.map(
    (filter, i) =>
      `<figure><figcaption><h3>${htmlText(filter.name)}</h3>${doubtMark(filter)}</figcaption>` +
      `${factList(filter.facts)}${onBothSheets((frame) => figure(frame, view, filter, i))}</figure>\n`,
  );
  return (
    `<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n` +
    `<meta http-equiv="Content-Security-Policy" content="${POLICY}">\n` +
    `<meta name="viewport" content="width=device-width, initial-scale=1">\n` +
    `<title>${htmlText(view.title)} – amberline</title>\n<style>${PAGE_STYLE}</style>\n</head>\n` +
    `<body>\n${patternDefinitions()}<header><hr class="rule"><h1>${htmlText(view.title)}</h1>\n` +
    `<p class="lead">A recording has no known answer: what the signal path makes of it is shown, ` +
    `and nothing is judged.</p>\n${doubtBox(view.doubts)}${factList(view.facts)}</header>\n<main>\n` +
    `<ul class="note">${notes}</ul>\n${filters.join("")}${opinionsOf(view)}` +
    view.tables.map(tableOf).join("") +
    `<p class="repeat">Run this again: <code>${htmlText(view.repeat)}</code></p>\n</main>\n` +
    `<footer><p class="caution-sentence">${htmlText(CAUTION_SENTENCE)}</p></footer>\n` +
    `</body>\n</html>\n`
  );
}
