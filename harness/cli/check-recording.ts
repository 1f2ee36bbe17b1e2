// What `check` says of a recording: read to its end, played to nothing.
import { fileComplaint } from "../../host/input-error.ts";
import { readLevelTable } from "../recording/level-table.ts";
import { openRecording } from "../recording/open-recording.ts";
import type { Recording } from "../recording/recording.ts";
import { numberText } from "../report/number-text.ts";
import { rightText } from "./check-text.ts";
import { hanging } from "./wrapped-text.ts";

/** Columns that a table of recorded levels is known by: these two, and no others than these four. */
const LEVEL_COLUMNS_NEEDED = ["time", "level"];
const LEVEL_COLUMNS = new Set([...LEVEL_COLUMNS_NEEDED, "speed", "altitude"]);

export interface CheckedChannel {
  name: string;
  /** Samples that are no finite number. */
  notFiniteCount: number;
  /** Of the samples that are finite; absent where none is. */
  least?: number;
  greatest?: number;
}

export interface CheckedRecording {
  channels: CheckedChannel[];
  /** Absent where the file does not say. */
  sampleRateHz?: number;
  sampleCount: number;
  durationS?: number;
  notes: string[];
}

export interface CheckedLevels {
  rowCount: number;
  periodS: number;
  durationS: number;
  heldRows: number;
  greatestLevel: number;
  hasSpeed: boolean;
  hasAltitude: boolean;
  notes: string[];
}

/** Whether a file is checked as a recording, by its ending. */
export function isRecordingName(path: string): boolean {
  return /\.(wav|csv|txt|tsv)$/i.test(path);
}

/** Whether the columns are those of a table of recorded levels. */
function isLevelTable(recording: Recording): boolean {
  const names = [
    ...recording.channelNames,
    ...(recording.sampleRateHz === undefined ? [] : ["time"]),
  ];
  const plain = names.map((name) =>
    name
      .replace(/\s*[[(].*$/, "")
      .trim()
      .toLowerCase(),
  );
  return (
    LEVEL_COLUMNS_NEEDED.every((name) => plain.includes(name)) &&
    plain.every((name) => LEVEL_COLUMNS.has(name))
  );
}

export interface RecordingCheck {
  recording?: CheckedRecording;
  levels?: CheckedLevels;
  text: string;
}

/**
 * Reads a recording, or a table of recorded levels, from start to end.
 *
 * Errors    InputError with line and column, or byte; it says what stands before that place
 */
export async function checkRecording(path: string): Promise<RecordingCheck> {
  const recording = await openRecording(path);
  if (isLevelTable(recording)) return checkLevels(path);
  const channels: CheckedChannel[] = recording.channelNames.map((name) => ({
    name,
    notFiniteCount: 0,
  }));
  let sampleCount = 0;
  for await (const run of recording.runs()) {
    sampleCount += run[0]!.length;
    for (const [i, samples] of run.entries()) takeExtremes(channels[i]!, samples);
  }
  for (const [i, channel] of channels.entries()) {
    channel.notFiniteCount = recording.notFiniteCount[i]!;
  }
  if (recording.fault !== undefined) throw recording.fault;
  if (sampleCount === 0) throw fileComplaint(path, "holds no samples");
  const { sampleRateHz } = recording;
  const checked: CheckedRecording = {
    channels,
    ...(sampleRateHz !== undefined && { sampleRateHz, durationS: sampleCount / sampleRateHz }),
    sampleCount,
    notes: recording.notes,
  };
  return { recording: checked, text: recordingText(path, checked) };
}

function takeExtremes(channel: CheckedChannel, samples: Float32Array): void {
  let least = channel.least ?? Infinity;
  let greatest = channel.greatest ?? -Infinity;
  for (const value of samples) {
    if (value < least && value > -Infinity) least = value;
    if (value > greatest && value < Infinity) greatest = value;
  }
  if (least === Infinity) return;
  channel.least = least;
  channel.greatest = greatest;
}

const NAME_COLUMNS = 18;
/** A channel's name is any text that a file's first line holds. */
const NAME_MAX = 60;

const row = (name: string, value: string): string =>
  hanging(`  ${name}`.padEnd(NAME_COLUMNS), value, NAME_COLUMNS);

function shortName(name: string): string {
  return name.length <= NAME_MAX ? name : `${name.slice(0, NAME_MAX - 1)}…`;
}

function recordingText(path: string, checked: CheckedRecording): string {
  const { channels, sampleRateHz, sampleCount, durationS, notes } = checked;
  const rate =
    sampleRateHz === undefined
      ? "not known; --rate of replay states it, else samples are counted"
      : `${numberText(sampleRateHz, 7)} Hz`;
  const length = durationS === undefined ? "" : `, ${numberText(durationS, 6)} s`;
  const lines = [
    rightText(path, "the recording can be read"),
    row("sample rate", rate),
    row("samples", `${sampleCount} a channel${length}`),
    row("channels", String(channels.length)),
  ];
  for (const { name, notFiniteCount, least, greatest } of channels) {
    const range = least === undefined ? "" : `${numberText(least)} to ${numberText(greatest)}`;
    const lost = notFiniteCount === 0 ? "" : `${notFiniteCount} not finite`;
    const text = [range, lost].filter((one) => one !== "").join(", ");
    lines.push(hanging(`    "${shortName(name)}"  `, text, 6));
  }
  return [...lines, ...notes.map((note) => hanging("  ", note, 2))].join("\n");
}

function checkLevels(path: string): RecordingCheck {
  const table = readLevelTable(path);
  const levels: CheckedLevels = {
    rowCount: table.rowCount,
    periodS: table.periodS,
    durationS: table.rowCount * table.periodS,
    heldRows: table.heldRows,
    greatestLevel: table.level.reduce((a, b) => Math.max(a, b)),
    hasSpeed: table.speedRpm !== undefined,
    hasAltitude: table.altitude !== undefined,
    notes: table.notes,
  };
  const has = (is: boolean): string => (is ? "is there" : "none");
  const text = [
    rightText(path, "the table of levels can be read (replay --levels)"),
    row("rows", `${levels.rowCount}, every ${numberText(levels.periodS)} s`),
    row("length", `${numberText(levels.durationS, 6)} s`),
    row("greatest level", numberText(levels.greatestLevel)),
    row("speed", has(levels.hasSpeed)),
    row("altitude", has(levels.hasAltitude)),
    ...levels.notes.map((note) => hanging("  ", note, 2)),
  ].join("\n");
  return { levels, text };
}
