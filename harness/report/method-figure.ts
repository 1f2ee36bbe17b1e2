// One filter's level by the firmware and by each method, over time, and how far they part.
import type { FilterOpinions, Opinion } from "../method/opinion-types.ts";
import { makeScale, roundedUp, type Scale } from "./axis.ts";
import { linePath } from "./curve.ts";
import {
  acrossAxis,
  AXIS_ROOM,
  figureStart,
  type FigureFrame,
  heading,
  type KeyEntry,
  line,
  makePanel,
  onBothSheets,
  path,
  text,
  valueAxis,
} from "./figure-frame.ts";
import { htmlText } from "./html-text.ts";
import { phaseAxisStart, phaseLine } from "./phase-path.ts";
import type { TimeWords } from "./time-words.ts";

const GAP = 22;
/** Differences are drawn up to this many bounds. */
const RATIO_MAX = 1.5;
/** Classes of the methods' lines, in their order: told apart by dashes as well. */
const LINES = ["m0", "m1", "m2", "m3"] as const;

interface Drawn {
  words: string;
  className: string;
  time: readonly number[];
  values: readonly number[];
}

function lines(all: readonly Drawn[], x: Scale, at: (value: number) => number): string {
  return all
    .map(({ className, time, values }) =>
      path(
        linePath(
          time.length,
          (i) => Number.isFinite(values[i]!),
          (i) => ({ x: x.at(time[i]!), y: at(values[i]!) }),
        ),
        className,
      ),
    )
    .join("");
}

/** A value that was kept as −1 is none. */
const there = (values: readonly number[]): number[] =>
  values.map((value) => (value < 0 ? Number.NaN : value));

/** Steps further apart than this many of the shortest have others between them that had no level. */
const GAP_STEPS = 1.5;

/** The points with one of no value wherever steps are missing, so that no line runs across. */
function withGaps(
  time: readonly number[],
  values: readonly number[],
): { time: number[]; values: number[] } {
  let shortest = Infinity;
  for (let i = 1; i < time.length; i += 1) shortest = Math.min(shortest, time[i]! - time[i - 1]!);
  const parted: { time: number[]; values: number[] } = { time: [], values: [] };
  for (const [i, at] of time.entries()) {
    if (i > 0 && at - time[i - 1]! > GAP_STEPS * shortest) {
      parted.time.push(at);
      parted.values.push(Number.NaN);
    }
    parted.time.push(at);
    parted.values.push(values[i]!);
  }
  return parted;
}

function keyOf(all: readonly Drawn[]): KeyEntry[] {
  return all.map(({ words, className }) => ({ words, sample: className, isLine: true }));
}

function ratios({ curve }: Opinion): number[] {
  return curve.bound.map((bound, i) =>
    bound > 0 ? Math.min(RATIO_MAX, curve.difference[i]! / bound) : Number.NaN,
  );
}

function greatest(all: readonly Drawn[]): number {
  return all.reduce((most, { values }) => values.reduce((a, b) => (b > a ? b : a), most), 0);
}

/** One turn of phase, from where the firmware's line least often runs over its end. */
function phaseLines(
  filter: FilterOpinions,
  { left, right }: FigureFrame,
  x: Scale,
  low: number,
): Drawn[] {
  const dash = (x.high - x.low) / (right - left);
  const one = (words: string, className: string, time: number[], degrees: number[]): Drawn => {
    const parted = withGaps(time, there(degrees));
    const drawn = phaseLine(parted.time, parted.values, low, dash);
    return { words, className, time: drawn.time, values: drawn.angleDeg };
  };
  const { firmware, opinions } = filter;
  return [
    ...opinions.map(({ method, curve }, i) =>
      one(method, LINES[i]!, curve.timeS, curve.phaseLagDeg),
    ),
    one("firmware", "found", firmware.timeS, firmware.phaseLagDeg),
  ];
}

/** The figure of one filter, for either sheet. */
export function methodFigure(
  filter: FilterOpinions,
  span: { from: number; until: number },
  id: string,
  times: TimeWords,
): string {
  return onBothSheets((frame) =>
    figureOn(frame, filter, span, frame.isNarrow ? `${id}-n` : id, times),
  );
}

function figureOn(
  frame: FigureFrame,
  filter: FilterOpinions,
  span: { from: number; until: number },
  id: string,
  times: TimeWords,
): string {
  const { left, right } = frame;
  const { firmware, opinions, unit } = filter;
  const x = makeScale(span.from, span.until, left, right);
  const levels: Drawn[] = [
    ...opinions.map(({ method, curve }, i) => ({
      words: method,
      className: LINES[i]!,
      ...withGaps(curve.timeS, there(curve.level)),
    })),
    { words: "firmware", className: "found", ...withGaps(firmware.timeS, firmware.level) },
  ];
  const parts: string[] = [];
  let top = 12;
  const panelOf = (height: number, low: number, high: number, words: string, key: KeyEntry[]) => {
    const head = heading(frame, top, words, key);
    parts.push(head.svg);
    top = head.bottom + height + GAP;
    return makePanel(frame, head.bottom, height, x, low, high);
  };
  const level = panelOf(170, 0, roundedUp(greatest(levels)), `Level, ${unit}`, keyOf(levels));
  parts.push(
    valueAxis(level, 4),
    lines(levels, x, (value) => level.y.at(value)),
  );
  if (!filter.isPhaseRelative) {
    const low = phaseAxisStart(firmware.phaseLagDeg);
    const drawn = phaseLines(filter, frame, x, low);
    const phase = panelOf(90, low, low + 360, "Phase lag, degrees", []);
    for (let degrees = low; degrees <= low + 360; degrees += 90) {
      const y = phase.y.at(degrees);
      const told = String(degrees).replace("-", "−");
      parts.push(line(left, y, right, y, "grid"));
      parts.push(text(left - 8, y + 4, told, "tick", "end"));
    }
    parts.push(lines(drawn, x, (value) => phase.y.at(value)));
  }
  const words = "Difference over its bound, each method after the firmware's lag";
  const apart = panelOf(90, 0, RATIO_MAX, words, []);
  const limit = apart.y.at(1);
  parts.push(valueAxis(apart, 3), line(left, limit, right, limit, "limit-line"));
  parts.push(text(right - 4, limit - 5, "bound", "tick", "end"));
  const compared = opinions.map((one, i) => ({
    words: one.method,
    className: LINES[i]!,
    ...withGaps(one.curve.timeS, ratios(one)),
  }));
  parts.push(lines(compared, x, (value) => apart.y.at(value)));
  const foot = top - GAP + 6;
  parts.push(acrossAxis(frame, x, foot, `time, ${times.unit}`));
  const said = opinions.map(({ method, verdict }) => `${method} ${verdict}`).join(", ");
  return (
    figureStart(frame, Math.ceil(foot + AXIS_ROOM), `aria-labelledby="${id} ${id}-d"`) +
    `<title id="${id}">${htmlText(`${filter.name}: level by firmware and by each method`)}</title>` +
    `<desc id="${id}-d">${htmlText(said)}</desc>${parts.join("")}</svg>`
  );
}
