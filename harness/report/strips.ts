// Strips over time: what was allowed of a caution, what was found, and validity. A state is told by
// its word and its hatching; colour only repeats it.
import type { Scale } from "./axis.ts";
import type { Span } from "./curve.ts";
import { type FigureFrame, type KeyEntry, line, rect, text } from "./figure-frame.ts";

export const STRIP_HEIGHT = 18;

/** How a state is drawn: a plain line for the quiet one, a box with hatching for the others. */
export interface StateLook {
  words: string;
  box?: { className: string; fill: string };
}

export const ALLOWED_LOOKS: readonly StateLook[] = [
  { words: "off" },
  { words: "on", box: { className: "box amber", fill: "url(#solid-amber)" } },
  { words: "either", box: { className: "box", fill: "url(#hatch-either)" } },
];

/** What a scenario states: within such a window on, or off, at some time. */
export const STATED_LOOKS: readonly StateLook[] = [
  { words: "off within", box: { className: "box", fill: "none" } },
  { words: "on within", box: { className: "box amber", fill: "url(#hatch-stated)" } },
];

export const CAUTION_LOOKS: readonly StateLook[] = [
  { words: "off" },
  { words: "timing on", box: { className: "box", fill: "url(#hatch-timing-on)" } },
  { words: "on", box: { className: "box amber", fill: "url(#solid-amber)" } },
  { words: "timing off", box: { className: "box amber", fill: "url(#hatch-timing-off)" } },
  { words: "held", box: { className: "box amber", fill: "url(#hatch-held)" } },
  { words: "inhibited", box: { className: "box", fill: "url(#hatch-inhibited)" } },
];

export const VALIDITY_LOOKS: readonly StateLook[] = [
  { words: "valid" },
  { words: "no computed data", box: { className: "box", fill: "url(#hatch-no-data)" } },
  { words: "failure", box: { className: "box", fill: "url(#hatch-failure)" } },
  { words: "functional test", box: { className: "box", fill: "url(#hatch-test)" } },
];

const LETTER_PX = 6.2;

function spanBox(
  { left, right }: FigureFrame,
  span: Span,
  look: StateLook,
  x: Scale,
  top: number,
): string {
  const from = Math.max(left, x.at(span.fromS));
  const width = Math.max(0.8, Math.min(right, x.at(span.untilS)) - from);
  const middle = top + STRIP_HEIGHT / 2;
  const parts: string[] = [];
  if (look.box === undefined) parts.push(line(from, middle, from + width, middle, "quiet"));
  else parts.push(rect(from, top, width, STRIP_HEIGHT, look.box.className, look.box.fill));
  const wordsWidth = look.words.length * LETTER_PX + 8;
  if (width > wordsWidth + 6) {
    const centre = from + width / 2;
    // A plate under the word keeps it readable on hatching and cuts the quiet line.
    parts.push(rect(centre - wordsWidth / 2, top + 2, wordsWidth, STRIP_HEIGHT - 4, "plate"));
    parts.push(text(centre, top + 13, look.words, "state", "middle"));
  }
  return parts.join("");
}

/** One strip with its name at the left. */
export function strip(
  frame: FigureFrame,
  name: string,
  spans: readonly Span[],
  looks: readonly StateLook[],
  x: Scale,
  top: number,
): string {
  const boxes = spans.map((span) =>
    spanBox(frame, span, looks[span.value] ?? { words: `state ${span.value}` }, x, top),
  );
  return text(frame.left - 8, top + 13, name, "tick", "end") + boxes.join("");
}

/** A strip before it is drawn. */
export interface NamedStrip {
  name: string;
  spans: readonly Span[];
  looks: readonly StateLook[];
}

/** The key to the boxes that stand in the strips, each once. */
export function stripKey(all: readonly NamedStrip[]): KeyEntry[] {
  const key = new Map<string, KeyEntry>();
  for (const { spans, looks } of all) {
    for (const { value } of spans) {
      const look = looks[value];
      if (look?.box === undefined) continue;
      const { className: sample, fill } = look.box;
      key.set(look.words, { words: look.words, sample, isLine: false, fill });
    }
  }
  return [...key.values()];
}

/** The stretches in words, for those who do not see the strip. */
export function spansInWords(
  spans: readonly Span[],
  looks: readonly StateLook[],
  unit = "s",
): string {
  const told = spans.slice(0, 12).map(({ fromS, untilS, value }) => {
    const words = looks[value]?.words ?? `state ${value}`;
    return `${words} ${fromS.toFixed(1)} to ${untilS.toFixed(1)} ${unit}`;
  });
  if (spans.length > told.length) told.push(`and ${spans.length - told.length} more stretches`);
  return told.join(", ");
}

function pattern(id: string, size: number, body: string, turn = 0): string {
  const turned = turn === 0 ? "" : ` patternTransform="rotate(${turn})"`;
  return (
    `<pattern id="${id}" width="${size}" height="${size}" patternUnits="userSpaceOnUse"${turned}>` +
    `${body}</pattern>`
  );
}

/** Patterns that every figure of a page refers to; placed once at its head. */
export function patternDefinitions(): string {
  const amber = `<rect width="12" height="12" fill="#f2b233"/>`;
  const bar = (width: number, colour: string): string =>
    `<rect width="${width}" height="12" fill="${colour}"/>`;
  const dot = (r: number): string => `<circle cx="3" cy="3" r="${r}" fill="#39444d"/>`;
  return (
    `<svg width="0" height="0" aria-hidden="true" class="patterns"><defs>` +
    pattern("solid-amber", 12, amber) +
    pattern("hatch-either", 7, bar(1, "#8a949c"), 45) +
    pattern("hatch-stated", 9, bar(1.4, "#f2b233"), -45) +
    pattern("hatch-timing-on", 6, dot(1.1)) +
    pattern("hatch-timing-off", 8, amber + bar(2.4, "#fff"), 45) +
    pattern("hatch-held", 6, amber + bar(1.6, "#fff")) +
    pattern(
      "hatch-inhibited",
      8,
      bar(1, "#39444d") + `<rect width="12" height="1" fill="#39444d"/>`,
    ) +
    pattern("hatch-no-data", 6, bar(1, "#a9b2b8"), -45) +
    pattern("hatch-failure", 6, bar(2.6, "#39444d"), 45) +
    pattern("hatch-test", 7, dot(1.6)) +
    `</defs></svg>`
  );
}
