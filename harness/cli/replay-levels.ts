// `amberline replay TABLE --levels`: recorded levels through the caution stage.
import { join } from "node:path";
import { CAUTION_SENTENCE } from "../../host/caution-sentence.ts";
import { readProfileFile } from "../../host/profile/profile-reader.ts";
import { type LevelTable, readLevelTable } from "../recording/level-table.ts";
import { numberText } from "../report/number-text.ts";
import { replayPage, type ReplayView } from "../report/replay-page.ts";
import {
  type Change,
  type LevelReview,
  type ReviewedCaution,
  reviewLevels,
} from "../run/level-review.ts";
import { CallError } from "./command-errors.ts";
import { COLUMNS, wrapped } from "./wrapped-text.ts";
import type { MonitorProfile } from "../../host/profile/types.ts";

const DRAWN_POINTS_MAX = 4000;
/** Told wherever a caution cleared while the speed was another. */
const OTHER_SPEED =
  "A level that falls at another speed is no evidence that nothing is broken: look at the same speed.";

/** The filter asked for, or the first with a caution. */
export function cautionFilter(profile: MonitorProfile, name: string | undefined): number {
  const index = profile.filters.findIndex((filter) =>
    name === undefined ? filter.display.caution !== undefined : filter.name === name,
  );
  if (index < 0) {
    const names = profile.filters.map((filter) => filter.name).join(", ");
    throw new CallError(
      name === undefined
        ? "this profile has no caution"
        : `--filter "${name}" is none of the profile's (${names})`,
    );
  }
  if (profile.filters[index]!.display.caution === undefined) {
    throw new CallError(`filter "${profile.filters[index]!.name}" has no caution`);
  }
  return index;
}

function changeWords(caution: ReviewedCaution): string {
  if (caution.endS === undefined) return "the table ends before it";
  if (caution.changes.length === 0) return "nothing that the table holds";
  return caution.changes.map(oneChange).join("; ");
}

/** From, to, and what lay outside both in between. */
function oneChange({ what, unit, from, to, least, greatest }: Change): string {
  const words = [`${what} ${numberText(from, 5)} to ${numberText(to, 5)} ${unit}`.trimEnd()];
  if (least < Math.min(from, to)) words.push(`down to ${numberText(least, 5)}`);
  if (greatest > Math.max(from, to)) words.push(`up to ${numberText(greatest, 5)}`);
  return words.join(", ");
}

function hasOtherSpeed(review: LevelReview): boolean {
  return review.cautions.some((one) => one.changes.some((change) => change.what === "speed"));
}

function notesOf(table: LevelTable, review: LevelReview): string[] {
  return [
    `The recorded levels enter at the caution stage: on at ${numberText(review.levelSetting)} after ` +
      `${numberText(review.onDelayS)} s, off below ${numberText(review.endSetting)} after ` +
      `${numberText(review.offDelayS)} s. What came before them is not known.`,
    ...review.notes,
    ...(table.speedRpm === undefined ? ["The table has no speed."] : []),
    ...(hasOtherSpeed(review) ? [OTHER_SPEED] : []),
  ];
}

function thinned(values: Float64Array): number[] {
  const every = Math.max(1, Math.ceil(values.length / DRAWN_POINTS_MAX));
  const kept: number[] = [];
  for (let i = 0; i < values.length; i += every) {
    kept.push(values.subarray(i, i + every).reduce((a, b) => Math.max(a, b)));
  }
  return kept;
}

function viewOf(table: LevelTable, review: LevelReview, repeat: string): ReplayView {
  const rows = review.cautions.map((one) => [
    numberText(one.onsetS, 7),
    one.endS === undefined ? "–" : numberText(one.endS, 7),
    numberText(one.peakLevel),
    numberText(one.peakS, 7),
    numberText(one.peakSpeedRpm, 5),
    one.peakAltitude === undefined
      ? "–"
      : `${numberText(one.peakAltitude, 6)} ${table.altitudeUnit}`.trimEnd(),
    numberText(one.timeAboveS, 5),
    changeWords(one),
  ]);
  return {
    title: `Recorded levels of ${table.path.split(/[\\/]/).at(-1)}`,
    doubts: [],
    notes: notesOf(table, review),
    facts: [
      ["Rows", String(table.rowCount)],
      ["Every", `${numberText(table.periodS)} s`],
      ["Cautions", String(review.cautions.length)],
    ],
    timeName: "time, s",
    speedName: "r/min",
    timeStart: table.timeS[0]!,
    timeEnd: table.timeS.at(-1)!,
    isPhaseRelative: true,
    filters: [
      {
        name: "Recorded level",
        unit: "display units",
        facts: [],
        time: thinned(table.timeS),
        level: thinned(table.level),
        speed: table.speedRpm === undefined ? [] : thinned(table.speedRpm),
        phaseLagDeg: [],
        cautionLevel: review.levelSetting,
      },
    ],
    tables: [
      {
        caption: "Cautions",
        columns: [
          { head: "Onset, s", isNumber: true },
          { head: "End, s", isNumber: true },
          { head: "Peak", isNumber: true },
          { head: "at, s", isNumber: true },
          { head: "Speed at peak, r/min", isNumber: true },
          { head: "Altitude at peak", isNumber: true },
          { head: "At or above the level, s", isNumber: true },
          { head: "Changed in the minute before it cleared" },
        ],
        rows,
      },
    ],
    repeat,
  };
}

function consoleLines(view: ReplayView, review: LevelReview, folder: string): string[] {
  const lines = ["", view.title, ""];
  for (const note of view.notes) lines.push(...wrapped(note, COLUMNS - 2).map((one) => `  ${one}`));
  for (const [i, one] of review.cautions.entries()) {
    const end = one.endS === undefined ? "end of the table" : `${numberText(one.endS, 7)} s`;
    const speed =
      one.peakSpeedRpm === undefined ? "" : ` at ${numberText(one.peakSpeedRpm, 5)} r/min`;
    const altitude =
      one.peakAltitude === undefined ? "" : `, altitude ${numberText(one.peakAltitude, 6)}`;
    lines.push(
      "",
      `  caution ${i + 1}: ${numberText(one.onsetS, 7)} s to ${end}`,
      ...wrapped(
        `peak ${numberText(one.peakLevel)}${speed}${altitude}; changed in the minute before it ` +
          `cleared: ${changeWords(one)}`,
        COLUMNS - 4,
      ).map((line) => `    ${line}`),
    );
  }
  if (review.cautions.length === 0) lines.push("", "  No caution.");
  return [
    ...lines,
    "",
    `  Report: ${join(folder, "report.html")}`,
    "",
    ...wrapped(CAUTION_SENTENCE, COLUMNS),
  ];
}

/** What the table comes to: files for the folder, lines for the terminal, the review as data. */
export function replayLevels(
  path: string,
  options: { profile?: string; filter?: string },
  folder: string,
  repeat: string,
): { review: LevelReview; page: string; lines: string[] } {
  if (options.profile === undefined) {
    throw new CallError("--levels needs --profile: it has the caution's level and delays");
  }
  const profile = readProfileFile(options.profile);
  const filter = cautionFilter(profile, options.filter);
  const table = readLevelTable(path);
  const review = reviewLevels(table, profile, filter);
  const view = viewOf(table, review, repeat);
  return { review, page: replayPage(view), lines: consoleLines(view, review, folder) };
}
