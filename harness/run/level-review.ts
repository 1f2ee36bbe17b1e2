// A table of recorded levels through the firmware's caution stage, and what is told of each
// caution.
import { builtInCore } from "../../host/built-in-core.ts";
import {
  configurationBytes,
  displaySamples,
  ticksPerSample,
} from "../../host/profile/configuration.ts";
import type { MonitorProfile } from "../../host/profile/types.ts";
import { decodeRecords } from "../../host/records.ts";
import {
  EVENT_CAUTION_ENDED_INVALID,
  EVENT_CAUTION_OFF,
  EVENT_CAUTION_ON,
} from "../../shared/units.ts";
import type { LevelTable } from "../recording/level-table.ts";

/** How long before the end of a caution changes are looked at, s. */
const LOOK_BACK_S = 60;
/** Less than this is no change worth telling, as a share. */
const CHANGE_SHARE = 0.01;

export interface Change {
  what: "level" | "speed" | "altitude";
  unit: string;
  from: number;
  to: number;
  /** Between them, both ends among it: a cut and a return end where they began. */
  least: number;
  greatest: number;
}

export interface ReviewedCaution {
  onsetS: number;
  /** Absent where the table ends before the caution does. */
  endS?: number;
  /** Greatest while the level stood high, the on-delay among it. */
  peakS: number;
  peakLevel: number;
  peakSpeedRpm?: number;
  peakAltitude?: number;
  /** Rows at or above the caution level, the on-delay's among them. */
  timeAboveS: number;
  /** What moved in the minute before the end. */
  changes: Change[];
}

export interface LevelReview {
  cautions: ReviewedCaution[];
  notes: string[];
  levelSetting: number;
  endSetting: number;
  onDelayS: number;
  offDelayS: number;
}

/** The profile with one display step a row; delays in rows, rounded up. */
function perRow(profile: MonitorProfile, filter: number, table: LevelTable, notes: string[]) {
  const rows = (steps: number, name: string): number => {
    const seconds = steps * profile.displayPeriodS;
    const exact = seconds / table.periodS;
    const whole = Math.ceil(exact - 1e-6);
    if (Math.abs(whole - exact) > 1e-6) {
      notes.push(
        `The ${name} of ${seconds} s is no whole number of rows: ` +
          `${(whole * table.periodS).toPrecision(4)} s are used.`,
      );
    }
    return whole;
  };
  const one = profile.filters[filter]!;
  const caution = one.display.caution!;
  const display = {
    ...one.display,
    source: { kind: "own" as const },
    caution: {
      ...caution,
      onDelaySteps: rows(caution.onDelaySteps, "on-delay"),
      offDelaySteps: rows(caution.offDelaySteps, "off-delay"),
    },
  };
  return { ...profile, filters: [{ ...one, display }] };
}

/**
 * Takes recorded levels through the caution stage of the built-in core: level, hysteresis and
 * delays of the profile's filter.
 *
 * Errors    RangeError where the filter has no caution
 */
export function reviewLevels(
  table: LevelTable,
  profile: MonitorProfile,
  filter: number,
): LevelReview {
  const caution = profile.filters[filter]?.display.caution;
  if (caution === undefined) throw new RangeError("this filter has no caution");
  const notes = [...table.notes];
  const { step } = profile.filters[filter]!.display;
  const rowProfile = perRow(profile, filter, table, notes);
  const core = builtInCore();
  core.configure(configurationBytes(rowProfile));
  const stepTicks = displaySamples(profile) * ticksPerSample(profile);
  const shown = table.level.map((level) => Math.floor(level / step + 0.5));
  const cautions: ReviewedCaution[] = [];
  const rows = rowProfile.filters[0]!.display.caution;
  const tell = (onset: number, end?: number): ReviewedCaution =>
    reviewed(table, shown, caution.levelCounts, Math.max(0, onset - rows.onDelaySteps), onset, end);
  let openRow = -1;
  for (let row = 0; row < table.rowCount; row += 1) {
    core.takeShown(0, shown[row]!, (row + 1) * stepTicks);
    for (const record of decodeRecords(core.takeRecords())) {
      if (record.kind !== "event") continue;
      if (record.code === EVENT_CAUTION_ON) openRow = row;
      if (record.code === EVENT_CAUTION_OFF || record.code === EVENT_CAUTION_ENDED_INVALID) {
        cautions.push(tell(openRow, row));
        openRow = -1;
      }
    }
  }
  if (openRow >= 0) cautions.push(tell(openRow));
  return {
    cautions,
    notes,
    levelSetting: caution.levelCounts * step,
    endSetting: (caution.levelCounts - caution.hysteresisCounts) * step,
    onDelayS: rows.onDelaySteps * table.periodS,
    offDelayS: rows.offDelaySteps * table.periodS,
  };
}

/** `highRow`: the first row of the on-delay, since which the number has stood at the level. */
function reviewed(
  table: LevelTable,
  shown: Float64Array,
  levelCounts: number,
  highRow: number,
  onsetRow: number,
  endRow: number | undefined,
): ReviewedCaution {
  const last = endRow ?? table.rowCount - 1;
  let peak = highRow;
  let above = 0;
  for (let row = highRow; row <= last; row += 1) {
    if (table.level[row]! > table.level[peak]!) peak = row;
    if (shown[row]! >= levelCounts) above += 1;
  }
  const back = Math.max(0, last - Math.round(LOOK_BACK_S / table.periodS));
  return {
    onsetS: table.timeS[onsetRow]!,
    endS: endRow === undefined ? undefined : table.timeS[endRow],
    peakS: table.timeS[peak]!,
    peakLevel: table.level[peak]!,
    peakSpeedRpm: table.speedRpm?.[peak],
    peakAltitude: table.altitude?.[peak],
    timeAboveS: above * table.periodS,
    changes: endRow === undefined ? [] : changesOf(table, back, endRow),
  };
}

function changesOf(table: LevelTable, from: number, to: number): Change[] {
  const columns: [Change["what"], string, Float64Array | undefined][] = [
    ["level", "display units", table.level],
    ["speed", "r/min", table.speedRpm],
    ["altitude", table.altitudeUnit, table.altitude],
  ];
  const changes: Change[] = [];
  for (const [what, unit, values] of columns) {
    if (values === undefined) continue;
    const minute = values.subarray(from, to + 1);
    const least = minute.reduce((a, b) => Math.min(a, b));
    const greatest = minute.reduce((a, b) => Math.max(a, b));
    const size = Math.max(Math.abs(least), Math.abs(greatest));
    if (greatest - least > CHANGE_SHARE * size) {
      changes.push({ what, unit, from: values[from]!, to: values[to]!, least, greatest });
    }
  }
  return changes;
}
