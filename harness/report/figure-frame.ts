// The frame that a figure's panels share: one time axis, each panel with a heading above it.
import { type Scale, makeScale, ticks } from "./axis.ts";
import { htmlText } from "./html-text.ts";

/** A sheet that figures are drawn for, in pixels. */
export interface FigureFrame {
  width: number;
  /** Where the plot lies. */
  left: number;
  right: number;
  /** Numbers on the time axis at most. */
  ticks: number;
  /** Words and key stand below each other, from the sheet's edge. */
  isNarrow: boolean;
}

export const WIDE: FigureFrame = { width: 1000, left: 92, right: 984, ticks: 10, isNarrow: false };
/** For a telephone's screen: drawn again, since what is made smaller cannot be read. */
export const NARROW: FigureFrame = { width: 360, left: 64, right: 354, ticks: 4, isNarrow: true };

/** What opens a figure's element; the page's style shows the sheet that fits the screen. */
export function figureStart(frame: FigureFrame, height: number, attributes: string): string {
  const name = frame.isNarrow ? "figure narrow-figure" : "figure wide-figure";
  return `<svg class="${name}" role="img" ${attributes} viewBox="0 0 ${frame.width} ${height}">`;
}

/** A figure for either sheet. */
export function onBothSheets(draw: (frame: FigureFrame) => string): string {
  return draw(WIDE) + draw(NARROW);
}

/** Where a panel lies and how its values become pixels. */
export interface Panel {
  top: number;
  height: number;
  x: Scale;
  y: Scale;
  frame: FigureFrame;
}

const px = (value: number): string => String(Math.round(value * 10) / 10);

export function rect(
  x: number,
  y: number,
  width: number,
  height: number,
  className: string,
  fill = "",
): string {
  const paint = fill === "" ? "" : ` fill="${fill}"`;
  return (
    `<rect class="${className}" x="${px(x)}" y="${px(y)}" width="${px(Math.max(0, width))}" ` +
    `height="${px(height)}"${paint}/>`
  );
}

export function line(x1: number, y1: number, x2: number, y2: number, className: string): string {
  return `<line class="${className}" x1="${px(x1)}" y1="${px(y1)}" x2="${px(x2)}" y2="${px(y2)}"/>`;
}

export function text(
  x: number,
  y: number,
  words: string,
  className: string,
  anchor: "start" | "middle" | "end" = "start",
): string {
  const end = anchor === "start" ? "" : ` text-anchor="${anchor}"`;
  return `<text class="${className}" x="${px(x)}" y="${px(y)}"${end}>${htmlText(words)}</text>`;
}

export function path(d: string, className: string, fill = ""): string {
  if (d === "") return "";
  return `<path class="${className}" d="${d}"${fill === "" ? "" : ` fill="${fill}"`}/>`;
}

/** The time axis of a figure. */
export function timeScale(durationS: number, frame: FigureFrame): Scale {
  return makeScale(0, durationS, frame.left, frame.right);
}

/** A panel at `top`, its values from `low` at the foot to `high` at the head. */
export function makePanel(
  frame: FigureFrame,
  top: number,
  height: number,
  x: Scale,
  low: number,
  high: number,
): Panel {
  return { top, height, x, y: makeScale(low, high, top + height, top), frame };
}

/** A line across a panel at some height. */
export function across({ frame }: Panel, y: number, className: string): string {
  return line(frame.left, y, frame.right, y, className);
}

/** Grid lines and the numbers left of them. */
export function valueAxis(panel: Panel, countMax: number): string {
  const parts: string[] = [];
  for (const { value, text: words } of ticks(panel.y, countMax)) {
    const y = panel.y.at(value);
    parts.push(across(panel, y, "grid"));
    parts.push(text(panel.frame.left - 8, y + 4, words, "tick", "end"));
  }
  return parts.join("");
}

/** Room below an axis for its numbers and its name. */
export const AXIS_ROOM = 42;

/** The numbers of an axis of what lies across, below everything, and its name below them. */
export function acrossAxis(frame: FigureFrame, x: Scale, y: number, name: string): string {
  const parts = [line(frame.left, y, frame.right, y, "axis")];
  for (const { value, text: words } of ticks(x, frame.ticks)) {
    // A number at the sheet's very edge would be cut.
    const isLast = x.at(value) + (words.length * LETTER_PX) / 2 > frame.width;
    parts.push(line(x.at(value), y, x.at(value), y + 4, "axis"));
    const at = isLast ? frame.width - 1 : x.at(value);
    parts.push(text(at, y + 17, words, "tick", isLast ? "end" : "middle"));
  }
  parts.push(text(frame.right, y + 35, name, "tick", "end"));
  return parts.join("");
}

/** What a line or hatch in a heading's key looks like, and its word. */
export interface KeyEntry {
  words: string;
  /** Class of the sample; a path class is drawn as a line, others as a box. */
  sample: string;
  isLine: boolean;
  /** Path of a mark in place of the line, from the sample's left end on the words' line. */
  mark?: string;
  fill?: string;
}

/** Width of a letter at most, of words and of headings. */
const LETTER_PX = 6.3;
const HEAD_LETTER_PX = 7;
/** A key has few words: wide letters do not average out in it. */
const KEY_LETTER_PX = 7.2;
const LINE_PX = 17;
const SAMPLE_PX = 32;
const KEY_GAP_PX = 18;

interface Heading {
  svg: string;
  /** Where the panel below may begin. */
  bottom: number;
}

/** A panel's heading with the key to its lines: beside it, or, on a narrow sheet, below it. */
export function heading(frame: FigureFrame, top: number, words: string, key: KeyEntry[]): Heading {
  return frame.isNarrow
    ? headingBelow(frame, top, words, key)
    : headingBeside(frame, top, words, key);
}

/** Words in lines of a width. */
function linesOf(words: string, width: number): string[] {
  const lines: string[] = [];
  for (const word of words.split(" ")) {
    const longer = lines.length === 0 ? word : `${lines.at(-1)!} ${word}`;
    if (lines.length === 0 || longer.length * HEAD_LETTER_PX > width) lines.push(word);
    else lines[lines.length - 1] = longer;
  }
  return lines;
}

function headingBelow(frame: FigureFrame, top: number, words: string, key: KeyEntry[]): Heading {
  let y = top - 3;
  const parts = linesOf(words, frame.width).map((one) => text(0, (y += LINE_PX), one, "head"));
  let left = Infinity;
  for (const one of key) {
    const width = one.words.length * KEY_LETTER_PX;
    if (left + SAMPLE_PX + width > frame.width) [left, y] = [0, y + LINE_PX];
    parts.push(keySample(one, left, y), text(left + SAMPLE_PX, y, one.words, "key"));
    left += SAMPLE_PX + width + KEY_GAP_PX;
  }
  return { svg: parts.join(""), bottom: y + 10 };
}

function keySample(one: KeyEntry, left: number, y: number): string {
  if (one.mark !== undefined) {
    const mark = path(one.mark, one.sample);
    return `<g transform="translate(${px(left)} ${px(y)})">${mark}</g>`;
  }
  return one.isLine
    ? path(`M${px(left)} ${px(y - 4)}h26`, one.sample)
    : rect(left, y - 10, 26, 12, one.sample, one.fill);
}

function headingBeside(frame: FigureFrame, top: number, words: string, key: KeyEntry[]): Heading {
  const y = top + 14;
  const parts = [text(frame.left, y, words, "head")];
  let right = frame.right;
  for (const one of key.toReversed()) {
    const width = one.words.length * KEY_LETTER_PX;
    parts.push(text(right - width, y, one.words, "key"));
    const left = right - width - SAMPLE_PX;
    parts.push(keySample(one, left, y));
    right = left - KEY_GAP_PX;
  }
  return { svg: parts.join(""), bottom: top + 24 };
}
