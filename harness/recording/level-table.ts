// A table of recorded levels: what a flight recorder or a crew's log keeps of the indication.
import { fileComplaint, InputError } from "../../host/input-error.ts";
import { columnFactor, nameAndUnit, readNumberTable } from "./number-table.ts";

export interface LevelTable {
  path: string;
  rowCount: number;
  /** Seconds between rows. */
  periodS: number;
  timeS: Float64Array;
  /** Display units. */
  level: Float64Array;
  /** r/min; absent where the table has none. */
  speedRpm?: Float64Array;
  /** In the table's own unit. */
  altitude?: Float64Array;
  altitudeUnit: string;
  /** Rows that one recorded level stands for: over 1 where samples are held. */
  heldRows: number;
  notes: string[];
}

const LEVEL_UNIT: Record<string, number> = { "": 1, units: 1, "display units": 1 };

/** Rates that recorders keep an indication at (common practice, no source). */
const RATE_HZ_MIN = 0.25;
const RATE_HZ_MAX = 8;
const STEP_TOLERANCE = 0.05;
const HELD_ROWS_MAX = 32;
/** Share of the changes that must fall on the grid of held rows, and how many there must be. */
const HELD_SHARE = 0.98;
const CHANGES_MIN = 8;

const TIME_UNIT_S: Record<string, number> = { "": 1, s: 1, ms: 1e-3, min: 60, h: 3600 };
const SPEED_UNIT_RPM: Record<string, number> = { "": 1, "r/min": 1, rpm: 1, "rev/s": 60, Hz: 60 };

/**
 * Reads a table of recorded levels.
 *
 * Shape     a header and even rows; columns `time`, `level`, and where there are any `speed`,
 *           `altitude`, each with its unit in brackets, as in `speed [r/min]`
 * Errors    InputError with line and column
 */
export function readLevelTable(path: string): LevelTable {
  const table = readNumberTable(path);
  const heads = table.names.map(nameAndUnit);
  const find = (name: string): number => heads.findIndex(([one]) => one === name);
  const [time, level, speed, altitude] = ["time", "level", "speed", "altitude"].map(find);
  for (const [name, column] of [
    ["time", time!],
    ["level", level!],
  ] as const) {
    if (column < 0) {
      const has = table.names.length === 0 ? "it has no header" : table.names.join(", ");
      throw fileComplaint(path, `a table of levels needs a column "${name}" (${has})`);
    }
  }
  const timeFactor = columnFactor(table, time!, TIME_UNIT_S);
  const timeS = table.columns[time!]!.map((value) => value * timeFactor);
  // What a crew reads is display units; another unit would be compared with the wrong level.
  columnFactor(table, level!, LEVEL_UNIT);
  const levels = table.columns[level!]!;
  const negative = levels.findIndex((value) => value < 0);
  if (negative >= 0) {
    throw new InputError({
      file: path,
      line: negative + table.firstLine,
      column: level! + 1,
      message: `a level may not be negative, found ${levels[negative]}`,
    });
  }
  const notes: string[] = [];
  const periodS = evenPeriod(path, timeS, table.firstLine, time!, notes);
  const heldRows = heldRowsOf(levels);
  if (heldRows > 1) {
    notes.push(
      `Each level stands for ${heldRows} rows: it is recorded every ` +
        `${(heldRows * periodS).toPrecision(3)} s and held in between.`,
    );
  }
  const speedColumn = speed! < 0 ? undefined : speed!;
  const speedFactor =
    speedColumn === undefined ? 1 : columnFactor(table, speedColumn, SPEED_UNIT_RPM);
  return {
    path,
    rowCount: timeS.length,
    periodS,
    timeS,
    level: levels,
    speedRpm:
      speedColumn === undefined
        ? undefined
        : table.columns[speedColumn]!.map((value) => value * speedFactor),
    altitude: altitude! < 0 ? undefined : table.columns[altitude!]!,
    altitudeUnit: altitude! < 0 ? "" : heads[altitude!]![1],
    heldRows,
    notes,
  };
}

/** Errors: a single row, or time that does not ascend in even steps. */
function evenPeriod(
  path: string,
  timeS: Float64Array,
  firstLine: number,
  column: number,
  notes: string[],
): number {
  if (timeS.length < 2) throw fileComplaint(path, "a table of levels needs two rows at least");
  // The middle step: a single gap moves the mean, and the row before it would be blamed.
  const steps = timeS.slice(1).map((time, i) => time - timeS[i]!);
  const middleS = steps.toSorted()[steps.length >> 1]!;
  for (let i = 1; i < timeS.length; i += 1) {
    const step = steps[i - 1]! / middleS;
    if (Math.abs(step - 1) <= STEP_TOLERANCE) continue;
    throw new InputError({
      file: path,
      line: i + firstLine,
      column: column + 1,
      message:
        `time steps by ${(timeS[i]! - timeS[i - 1]!).toPrecision(4)} s, ` +
        `even steps of ${middleS.toPrecision(4)} s are needed`,
    });
  }
  const periodS = (timeS.at(-1)! - timeS[0]!) / (timeS.length - 1);
  const rateHz = 1 / periodS;
  if (rateHz < RATE_HZ_MIN || rateHz > RATE_HZ_MAX) {
    notes.push(
      `Rows come at ${rateHz.toPrecision(3)} Hz; recorders keep an indication at ` +
        `${RATE_HZ_MIN} to ${RATE_HZ_MAX} Hz as a rule.`,
    );
  }
  return periodS;
}

/** The greatest number of rows on whose grid nearly all changes fall. */
export function heldRowsOf(levels: Float64Array): number {
  const changes: number[] = [];
  for (let i = 1; i < levels.length; i += 1) if (levels[i] !== levels[i - 1]) changes.push(i);
  if (changes.length < CHANGES_MIN) return 1;
  for (let rows = HELD_ROWS_MAX; rows > 1; rows -= 1) {
    const counts = new Map<number, number>();
    for (const at of changes) counts.set(at % rows, (counts.get(at % rows) ?? 0) + 1);
    const most = Math.max(...counts.values());
    if (most >= HELD_SHARE * changes.length) return rows;
  }
  return 1;
}
