// One tracking filter over time: number, level against truth, error, speed, caution, validity.
import type { FilterResult } from "../judge/types.ts";
import { roundedUp, type Scale } from "./axis.ts";
import { type Span, bandPath, linePath, spansOf, stepPath } from "./curve.ts";
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
  timeScale,
  valueAxis,
} from "./figure-frame.ts";
import { htmlText } from "./html-text.ts";
import { stepDecimals } from "../results/step-decimals.ts";
import {
  ALLOWED_LOOKS,
  CAUTION_LOOKS,
  STATED_LOOKS,
  type NamedStrip,
  STRIP_HEIGHT,
  type StateLook,
  VALIDITY_LOOKS,
  spansInWords,
  strip,
  stripKey,
} from "./strips.ts";
import type { TimeWords } from "./time-words.ts";

const GAP = 20;
const EITHER = 2;
/** Errors are drawn up to this many tolerances; what is larger stands at the edge. */
const ERROR_RATIO_MAX = 2;

interface Frame {
  filter: FilterResult;
  x: Scale;
  durationS: number;
  either: Span[];
  times: TimeWords;
  sheet: FigureFrame;
}

function greatest(values: readonly number[]): number {
  let most = 0;
  for (const value of values) if (value > most) most = value;
  return most;
}

/** Stretches where the truth leaves the caution open, across a panel. */
function eitherRegions(frame: Frame, panel: Panel): string {
  return frame.either
    .map(({ fromS, untilS }) => {
      const from = panel.x.at(fromS);
      const width = Math.max(1, panel.x.at(untilS) - from);
      return rect(from, panel.top, width, panel.height, "either", "url(#hatch-either)");
    })
    .join("");
}

/** Room that the words at the caution level take. */
const WORDS_WIDTH = 125;

/** Where words that end at x, between two heights, are free of the curve; at the right if nowhere. */
function clearOfCurve(frame: Frame, panel: Panel, top: number, bottom: number): number {
  const { timeS, shown } = frame.filter.trace;
  const right = panel.frame.right - 6;
  for (let x = right; x - WORDS_WIDTH > panel.frame.left; x -= 20) {
    const isCrossed = timeS.some((time, i) => {
      const at = panel.x.at(time);
      if (shown[i]! < 0 || at < x - WORDS_WIDTH || at > x + 6) return false;
      const y = panel.y.at(shown[i]!);
      const before = panel.y.at(shown[Math.max(0, i - 1)]!);
      return Math.max(y, before) > top && Math.min(y, before) < bottom;
    });
    if (!isCrossed) return x;
  }
  return right;
}

function numberPanel(frame: Frame, top: number): { svg: string; bottom: number } {
  const { filter } = frame;
  const { trace, cautionLevel, cautionEnd } = filter;
  const high = roundedUp(Math.max(greatest(trace.shown), (cautionLevel ?? 0) * 1.25));
  const key = [{ words: "number", sample: "found", isLine: true }];
  const head = heading(frame.sheet, top, "Number shown, display units", key);
  const panel = makePanel(frame.sheet, head.bottom, 140, frame.x, 0, high);
  const places = stepDecimals(filter.displayStep);
  const parts = [head.svg];
  if (cautionLevel !== undefined) {
    const y = panel.y.at(cautionLevel);
    const { left, right } = frame.sheet;
    parts.push(rect(left, panel.top, right - left, y - panel.top, "amber-region"));
    parts.push(valueAxis(panel, 5), across(panel, y, "caution-line"));
    const words = `caution from ${cautionLevel.toFixed(places)} up`;
    const lowest = panel.y.at(cautionEnd ?? cautionLevel) + 18;
    const wordsX = clearOfCurve(frame, panel, y - 20, lowest);
    parts.push(text(wordsX, y - 6, words, "caution-word", "end"));
    if (cautionEnd !== undefined && cautionEnd < cautionLevel) {
      const end = panel.y.at(cautionEnd);
      parts.push(across(panel, end, "hysteresis-line"));
      const under = `ends below ${cautionEnd.toFixed(places)}`;
      parts.push(text(wordsX, end + 14, under, "caution-word below", "end"));
    }
  } else parts.push(valueAxis(panel, 5));
  parts.push(eitherRegions(frame, panel));
  const curve = stepPath(
    trace.timeS.length,
    (i) => trace.shown[i]! >= 0,
    (i) => ({ x: panel.x.at(trace.timeS[i]!), y: panel.y.at(trace.shown[i]!) }),
  );
  parts.push(path(curve, "found"), across(panel, panel.top + panel.height, "axis"));
  return { svg: parts.join(""), bottom: panel.top + panel.height };
}

function levelPanel(frame: Frame, top: number): { svg: string; bottom: number } {
  const { trace, unit } = frame.filter;
  const isJudged = (i: number): boolean => trace.tolerance[i]! >= 0;
  const upper = trace.truth.map((value, i) => (isJudged(i) ? value + trace.tolerance[i]! : 0));
  const high = roundedUp(Math.max(greatest(trace.level), greatest(upper)));
  const head = heading(frame.sheet, top, `Level against truth, ${unit}`, [
    { words: "found", sample: "found under", isLine: true },
    { words: "truth", sample: "truth", isLine: true },
    { words: "tolerance", sample: "band", isLine: false },
  ]);
  const panel = makePanel(frame.sheet, head.bottom, 150, frame.x, 0, high);
  const count = trace.timeS.length;
  const point = (i: number, value: number) => ({
    x: panel.x.at(trace.timeS[i]!),
    y: panel.y.at(Math.max(0, value)),
  });
  const parts = [
    head.svg,
    valueAxis(panel, 5),
    eitherRegions(frame, panel),
    path(
      bandPath(
        count,
        isJudged,
        (i) => point(i, trace.truth[i]! + trace.tolerance[i]!),
        (i) => point(i, trace.truth[i]! - trace.tolerance[i]!),
      ),
      "band",
    ),
    path(
      linePath(
        count,
        (i) => trace.validity[i] === 0 || isJudged(i),
        (i) => point(i, trace.level[i]!),
      ),
      "found under",
    ),
    path(
      linePath(count, isJudged, (i) => point(i, trace.truth[i]!)),
      "truth",
    ),
    across(panel, panel.top + panel.height, "axis"),
  ];
  return { svg: parts.join(""), bottom: panel.top + panel.height };
}

function errorPanel(frame: Frame, top: number): { svg: string; bottom: number } {
  const { trace } = frame.filter;
  const words = "Error of the level as a multiple of its tolerance; right from −1 to 1";
  const head = heading(frame.sheet, top, words, []);
  const limit = ERROR_RATIO_MAX;
  const panel = makePanel(frame.sheet, head.bottom, 60, frame.x, -limit, limit);
  const ratio = (i: number): number => {
    const share = (trace.level[i]! - trace.truth[i]!) / trace.tolerance[i]!;
    const value = Number.isFinite(share) ? share : 0;
    return Math.max(-ERROR_RATIO_MAX, Math.min(ERROR_RATIO_MAX, value));
  };
  const bandTop = panel.y.at(1);
  const { left, right } = frame.sheet;
  const curve = linePath(
    trace.timeS.length,
    (i) => trace.tolerance[i]! >= 0,
    (i) => ({ x: panel.x.at(trace.timeS[i]!), y: panel.y.at(ratio(i)) }),
  );
  const parts = [
    head.svg,
    rect(left, bandTop, right - left, panel.y.at(-1) - bandTop, "band"),
    valueAxis(panel, 4),
    path(curve, "found"),
  ];
  return { svg: parts.join(""), bottom: panel.top + panel.height };
}

function speedPanel(frame: Frame, top: number): { svg: string; bottom: number } {
  const { trace } = frame.filter;
  const { times } = frame;
  const { speedUnit } = times;
  const speeds = trace.speedRevPerS.map((revPerS) => times.speed(revPerS));
  const head = heading(frame.sheet, top, `Speed, ${speedUnit}`, []);
  const high = roundedUp(greatest(speeds));
  const panel = makePanel(frame.sheet, head.bottom, 70, frame.x, 0, high);
  const curve = linePath(
    speeds.length,
    (i) => speeds[i]! > 0,
    (i) => ({ x: panel.x.at(trace.timeS[i]!), y: panel.y.at(speeds[i]!) }),
  );
  const bottom = panel.top + panel.height;
  const parts = [
    head.svg,
    valueAxis(panel, 3),
    path(curve, "speed"),
    across(panel, bottom, "axis"),
  ];
  return { svg: parts.join(""), bottom };
}

/** A strip for each way that the scenario itself states; windows may overlap. */
function statedStrips({ filter, durationS }: Frame): NamedStrip[] {
  return [true, false].flatMap((isOn) => {
    const spans = (filter.statedCaution ?? [])
      .filter((one) => one.isOn === isOn)
      .map(({ fromS, untilS }) => ({
        fromS,
        untilS: Math.min(untilS, durationS),
        value: isOn ? 1 : 0,
      }));
    return spans.length === 0 ? [] : [{ name: "stated", spans, looks: STATED_LOOKS }];
  });
}

/** Strips of the caution (where there is one) and of validity, with the words that tell them. */
function strips(frame: Frame, top: number): { svg: string; bottom: number; words: string[] } {
  const { trace, cautionLevel } = frame.filter;
  const parts: string[] = [];
  const words: string[] = [];
  let y = top;
  const group = (title: string, all: NamedStrip[]): void => {
    const head = heading(frame.sheet, y, title, stripKey(all));
    parts.push(head.svg);
    y = head.bottom;
    for (const { name, spans, looks } of all) {
      parts.push(strip(frame.sheet, name, spans, looks, frame.x, y));
      words.push(`${title}, ${name}: ${spansInWords(spans, looks, frame.times.unit)}`);
      y += STRIP_HEIGHT + 8;
    }
  };
  const named = (name: string, values: number[], looks: readonly StateLook[]): NamedStrip => ({
    name,
    spans: spansOf(trace.timeS, values, frame.durationS),
    looks,
  });
  if (cautionLevel !== undefined) {
    group("Caution", [
      ...statedStrips(frame),
      named("expected", trace.cautionAllowed, ALLOWED_LOOKS),
      named("found", trace.cautionState, CAUTION_LOOKS),
    ]);
    y += GAP - 12;
  }
  group("Validity of the number", [named("found", trace.validity, VALIDITY_LOOKS)]);
  return { svg: parts.join(""), bottom: y, words };
}

/** The figure as SVG elements for either sheet; `id` makes its title's id unique on the page. */
export function filterFigure(
  filter: FilterResult,
  durationS: number,
  id: string,
  times: TimeWords,
): string {
  return onBothSheets((sheet) =>
    figureOn(sheet, filter, durationS, sheet.isNarrow ? `${id}-n` : id, times),
  );
}

function figureOn(
  sheet: FigureFrame,
  filter: FilterResult,
  durationS: number,
  id: string,
  times: TimeWords,
): string {
  const { trace } = filter;
  const open = spansOf(trace.timeS, trace.cautionAllowed, durationS);
  const either = filter.cautionLevel === undefined ? [] : open.filter((s) => s.value === EITHER);
  const x = timeScale(durationS, sheet);
  const frame: Frame = { filter, x, durationS, either, times, sheet };
  const number = numberPanel(frame, 0);
  const level = levelPanel(frame, number.bottom + GAP);
  const error = errorPanel(frame, level.bottom + GAP);
  const speed = speedPanel(frame, error.bottom + GAP);
  const below = strips(frame, speed.bottom + GAP);
  const height = below.bottom + AXIS_ROOM;
  const label = `Tracking filter ${filter.name} over ${durationS.toFixed(1)} ${times.unit}`;
  return (
    figureStart(sheet, Math.ceil(height), `aria-labelledby="${id}-t ${id}-d"`) +
    `<title id="${id}-t">${htmlText(label)}</title>` +
    `<desc id="${id}-d">${htmlText(below.words.join(". "))}.</desc>` +
    number.svg +
    level.svg +
    error.svg +
    speed.svg +
    below.svg +
    acrossAxis(sheet, x, below.bottom, `time, ${times.unit}`) +
    `</svg>`
  );
}
