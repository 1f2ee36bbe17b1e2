// What a replay says: the page's content and the lines on the terminal, within 80 columns.
import { join } from "node:path";
import { CAUTION_SENTENCE } from "../../host/caution-sentence.ts";
import { numberText } from "../report/number-text.ts";
import type { ReplayFilterView, ReplayView } from "../report/replay-page.ts";
import { opinionsNote } from "../results/method-note.ts";
import { counted } from "../results/scene-words.ts";
import type { FilterTally } from "../run/replay-tally.ts";
import type { ReplayOutcome, ReplayRequest } from "../run/replay-run.ts";
import { eventTable, exceedanceTables, hasSpeeds, speedTables } from "./replay-tables.ts";
import { COLUMNS, wrapped } from "./wrapped-text.ts";

const CELL = 12;

const SPEED_DIGITS_MIN = 3;
const SPEED_DIGITS_MAX = 6;

/** A speed with no more digits than the sample rate leaves it. */
function speedText(speed: number, request: ReplayRequest): string {
  const { timeUnit, sampleRateHz, sampleRateUncertaintyHz } = request;
  if (timeUnit === "sample") return `${numberText(speed, SPEED_DIGITS_MAX)} rev/sample`;
  const share = (sampleRateUncertaintyHz ?? 0) / sampleRateHz;
  const digits = Math.floor(-Math.log10(share));
  const told = Math.max(SPEED_DIGITS_MIN, Math.min(SPEED_DIGITS_MAX, digits));
  return `${numberText(speed * 60, told)} r/min`;
}

/** What of the doubts is said of levels, and what is only worth a word. */
function doubtWords({ doubts }: ReplayOutcome, isOfLevels: boolean): string[] {
  return doubts.filter(({ filters }) => filters.length > 0 === isOfLevels).map((one) => one.words);
}

/** Filters whose levels something speaks against, by name. */
function doubtfulOf({ doubts }: ReplayOutcome): Set<string> {
  return new Set(doubts.flatMap(({ filters }) => filters));
}

function filterView(tally: FilterTally, request: ReplayRequest, index: number): ReplayFilterView {
  const perTime = request.timeUnit === "s" ? 60 : 1;
  const display = request.profile?.filters[index]?.display;
  const caution = display?.caution;
  const at = numberText(tally.greatestAt, 5);
  return {
    name: tally.name,
    unit: tally.unit,
    facts: [
      ["Mean", numberText(tally.mean)],
      ["Median", numberText(tally.median)],
      ["Median of the second half", numberText(tally.secondHalfMedian)],
      ["Standard deviation", numberText(tally.standardDeviation, 3)],
      ["Greatest", numberText(tally.greatest)],
      [request.timeUnit === "s" ? "Greatest at, s" : "Greatest at sample", at],
      ["Speed there", speedText(tally.speedAtGreatest, request)],
      ["Settled steps", `${tally.settledCount} of ${tally.computedCount} computed`],
    ],
    time: tally.trace.time,
    level: tally.trace.level,
    speed: tally.trace.speed.map((value) => value * perTime),
    phaseLagDeg: tally.trace.phaseLagDeg,
    shown: display === undefined ? undefined : tally.trace.shown,
    cautionLevel: caution === undefined ? undefined : caution.levelCounts * display!.step,
    caution: caution === undefined ? undefined : tally.caution,
  };
}

/** Full width of the filters of a profile that was made. */
function bandwidthFact({ profile, bandwidth, timeUnit }: ReplayRequest): [string, string][] {
  if (profile !== undefined) return [];
  const unit = timeUnit === "s" ? "Hz" : "cycles/sample";
  const words =
    bandwidth.kind === "fixed"
      ? `${numberText(bandwidth.fullWidthHz)} ${unit}`
      : `${numberText(bandwidth.fullWidthRatio * 100)} % of the speed`;
  return [["Bandwidth", words]];
}

/** How surely an edge's time is known. */
function edgeFact({ edgeTiming }: ReplayOutcome): [string, string][] {
  if (edgeTiming === undefined) return [];
  const { total, phaseDeg } = edgeTiming;
  const words = `${numberText(total, 2)} samples, ${numberText(phaseDeg, 2)}° of order 1`;
  return [["Standard deviation of an edge", words]];
}

/** The page's content. */
export function replayView(
  path: string,
  request: ReplayRequest & { timingWords: string },
  outcome: ReplayOutcome,
  repeat: string,
): ReplayView {
  const timeStart = request.stretch.fromSample / request.sampleRateHz;
  const timeName = request.timeUnit === "s" ? "time, s" : "samples";
  const unit = request.timeUnit === "s" ? "s" : "samples";
  const speed = (value: number): string => speedText(value, request);
  const doubtful = doubtfulOf(outcome);
  return {
    title: `Replay of ${path.split(/[\\/]/).at(-1)}`,
    doubts: doubtWords(outcome, true),
    notes: [...doubtWords(outcome, false), ...outcome.notes],
    facts: [
      ["Samples a channel", String(outcome.sampleCount)],
      ["Sample rate", request.timingWords],
      ["Middle speed", speed(request.speed.speedTypical * request.sampleRateHz)],
      ["Profile", request.profile?.name ?? "made for this recording"],
      ...bandwidthFact(request),
      ...edgeFact(outcome),
    ],
    timeName,
    speedName: request.timeUnit === "s" ? "r/min" : "rev/sample",
    timeStart,
    timeEnd: timeStart + outcome.sampleCount / request.sampleRateHz,
    isPhaseRelative: outcome.isPhaseRelative,
    ...(outcome.methods === undefined ? {} : { methods: outcome.methods }),
    timeUnit: request.timeUnit,
    filters: outcome.filters.map((tally, i) => ({
      ...filterView(tally, request, i),
      isDoubtful: doubtful.has(tally.name),
    })),
    tables: [
      ...speedTables(outcome),
      ...exceedanceTables(request, outcome, unit, speed),
      eventTable(outcome, unit, speed),
    ],
    repeat,
  };
}

function row(name: string, cells: string[], mark = " "): string {
  const width = COLUMNS - 4 * CELL - 2;
  const short = name.length > width ? `${name.slice(0, width - 1)}…` : name;
  return `${mark} ${short.padEnd(width)}${cells.map((cell) => cell.padStart(CELL)).join("")}`;
}

/** Four digits where they leave a space before them, else three. */
function levelCell(level: number): string {
  const text = numberText(level);
  return text.length < CELL ? text : numberText(level, 3);
}

/** What stands before the first number, where it is not to be relied on. */
function doubtLines({ doubts }: ReplayView): string[] {
  if (doubts.length === 0) return [];
  const sentences = doubts.flatMap((words) => wrapped(words, COLUMNS - 4));
  return ["! NOT TO BE RELIED ON: levels marked !", ...sentences.map((one) => `    ${one}`), ""];
}

/** Lines on the terminal. */
export function replayLines(view: ReplayView, outcome: ReplayOutcome, folder: string): string[] {
  const facts = view.facts.map(([name, value]) => `${name}: ${value}.`).join(" ");
  const lines = ["", view.title, "", ...doubtLines(view)];
  lines.push(...wrapped(facts, COLUMNS - 2).map((one) => `  ${one}`));
  for (const note of view.notes) lines.push(...wrapped(note, COLUMNS - 2).map((one) => `  ${one}`));
  lines.push("", row("level", ["median", "2nd half", "greatest", "settled/all"]));
  const doubtful = doubtfulOf(outcome);
  for (const tally of outcome.filters) {
    const cells = [
      levelCell(tally.median),
      levelCell(tally.secondHalfMedian),
      levelCell(tally.greatest),
      `${tally.settledCount}/${tally.computedCount}`,
    ];
    lines.push(row(`${tally.name}, ${tally.unit}`, cells, doubtful.has(tally.name) ? "!" : " "));
  }
  for (const one of outcome.methods?.filters ?? []) {
    const words = `Second opinions on ${one.name}: ${opinionsNote(one)}.`;
    lines.push(...wrapped(words, COLUMNS - 2).map((part) => `  ${part}`));
  }
  for (const note of outcome.methods?.notes ?? []) {
    lines.push(...wrapped(note, COLUMNS - 2).map((part) => `  ${part}`));
  }
  const { exceedances, events, speedBins } = outcome;
  const hasCaution = view.filters.some((filter) => filter.cautionLevel !== undefined);
  const ofCaution = hasCaution
    ? counted(exceedances.length, "exceedance")
    : "no caution level is configured";
  const came = `${counted(events.length, "event")}, ${ofCaution}`;
  const bySpeed = hasSpeeds(outcome)
    ? " The report has levels against speed in bins of " +
      `${numberText(speedBins.width, 6)} ${speedBins.unit}.`
    : "";
  lines.push(
    "",
    ...wrapped(`${came}.${bySpeed}`, COLUMNS - 2).map((one) => `  ${one}`),
    `  Report: ${join(folder, "report.html")}`,
    "",
    ...wrapped(CAUTION_SENTENCE, COLUMNS),
  );
  return lines;
}
