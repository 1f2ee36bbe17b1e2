// The frame that a figure's panels share: one time axis, each panel with a heading above it.
import { type Scale, makeScale, ticks } from "./axis.ts";
import { htmlText } from "./html-text.ts";

export const FIGURE_WIDTH = 1000;
export const PLOT_LEFT = 92;
export const PLOT_RIGHT = 984;

/** Where a panel lies and how its values become pixels. */
export interface Panel {
  top: number;
  height: number;
  x: Scale;
  y: Scale;
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
export function timeScale(durationS: number): Scale {
  return makeScale(0, durationS, PLOT_LEFT, PLOT_RIGHT);
}

/** A panel at `top`, its values from `low` at the foot to `high` at the head. */
export function makePanel(top: number, height: number, x: Scale, low: number, high: number): Panel {
  return { top, height, x, y: makeScale(low, high, top + height, top) };
}

/** Grid lines and the numbers left of them. */
export function valueAxis(panel: Panel, countMax: number): string {
  const parts: string[] = [];
  for (const { value, text: words } of ticks(panel.y, countMax)) {
    const y = panel.y.at(value);
    parts.push(line(PLOT_LEFT, y, PLOT_RIGHT, y, "grid"));
    parts.push(text(PLOT_LEFT - 8, y + 4, words, "tick", "end"));
  }
  return parts.join("");
}

/** The numbers of the time axis, below everything. */
export function timeAxis(x: Scale, y: number, unit: string): string {
  const parts = [line(PLOT_LEFT, y, PLOT_RIGHT, y, "axis")];
  const all = ticks(x, 10);
  for (const { value, text: words } of all) {
    parts.push(line(x.at(value), y, x.at(value), y + 4, "axis"));
    parts.push(text(x.at(value), y + 17, words, "tick", "middle"));
  }
  parts.push(text(PLOT_LEFT - 22, y + 17, `time, ${unit}`, "tick", "end"));
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

const LETTER_PX = 6.3;

/** A panel's heading at the left and the key to its lines at the right. */
export function heading(y: number, words: string, key: KeyEntry[]): string {
  const parts = [text(PLOT_LEFT, y, words, "head")];
  let right = PLOT_RIGHT;
  for (const one of key.toReversed()) {
    const width = one.words.length * LETTER_PX;
    parts.push(text(right - width, y, one.words, "key"));
    const left = right - width - 32;
    if (one.mark !== undefined) {
      const mark = path(one.mark, one.sample);
      parts.push(`<g transform="translate(${px(left)} ${px(y)})">${mark}</g>`);
    } else {
      parts.push(
        one.isLine
          ? path(`M${px(left)} ${px(y - 4)}h26`, one.sample)
          : rect(left, y - 10, 26, 12, one.sample, one.fill),
      );
    }
    right = left - 18;
  }
  return parts.join("");
}
