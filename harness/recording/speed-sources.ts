// From what a user says of the speed to the edges of a shaft: a constant, a table over time, a list of
// edge times, a tachometer channel, or found from the signal. All in samples of the stretch replayed.
import { fileComplaint, InputError } from "../../host/input-error.ts";
import type { ShaftProfile } from "../../host/profile/types.ts";
import { EdgeList, type EdgeSource, POSITIONS_MADE, StatedSpeed } from "./edge-sources.ts";
import { columnFactor, readNumberTable, tableColumns } from "./number-table.ts";
import type { EdgeTiming } from "./edge-timing.ts";
import { PitchTally } from "./pitch-tally.ts";
import type { Stretch } from "./recording.ts";

/** What turns under the tachometer: as a profile's shaft has it. */
export type Wheel = Pick<ShaftProfile, "positions" | "revolutions" | "index">;

/** True where nothing says where a revolution starts: phase then means nothing. */
function isRelative({ positions, revolutions, index }: Wheel): boolean {
  return revolutions > 1 || (positions > 1 && index === "none");
}

/** The wheel of made edges. */
const WHEEL_MADE: Wheel = { positions: POSITIONS_MADE, revolutions: 1, index: "none" };

/** A shaft's edges, made anew for each pass, and what is known of its speed. */
export interface ShaftSpeed {
  makeEdges(): EdgeSource;
  wheel: Wheel;
  /** rev/sample, with room for what the speed may do. */
  speedMin: number;
  speedMax: number;
  /** rev/sample, in the middle. */
  speedTypical: number;
  isPhaseRelative: boolean;
  /** Of a tachometer channel: standard deviations of an edge's time, and as phase of order 1. */
  edgeTiming?: EdgeTiming & { phaseDeg: number };
  /** By how far the shaft's own speed was from that of the edges, rev/sample, where that is known. */
  wanderPerSample?: number;
  /** Plain sentences for console and report. */
  notes: string[];
}

/** What 1 in a column stands for, by the unit of its head; "" where it has none. */
export type UnitFactors = Record<string, number>;

/** Room left around a stated speed, as a share. */
const STATED_ROOM = 0.2;
/** Room left around the pitches of given edges, as a factor. */
const EDGES_ROOM = 1.5;

/** Beyond it no order is in the recording, and edges would be without number. */
export const CYCLES_PER_SAMPLE_MAX = 1;

/** A constant speed, rev/sample. */
export function constantSpeed(speed: number, notes: string[] = []): ShaftSpeed {
  return {
    makeEdges: () => new StatedSpeed([{ atSample: 0, cyclesPerSample: speed }]),
    wheel: WHEEL_MADE,
    speedMin: speed * (1 - STATED_ROOM),
    speedMax: speed * (1 + STATED_ROOM),
    speedTypical: speed,
    isPhaseRelative: true,
    notes: [...notes, "The speed is stated, no edge was measured: phase means nothing."],
  };
}

/**
 * A table of time and speed.
 *
 * Shape     two columns: time, speed; their heads may have units, as in `speed [rev/s]`
 * Errors    InputError: columns, units, order, negative speeds or such as no recording holds
 */
export function speedTable(
  path: string,
  units: { samplesPerTime: UnitFactors; cyclesPerSample: UnitFactors },
  stretch: Stretch,
): ShaftSpeed {
  const table = readNumberTable(path);
  const [times, speeds] = tableColumns(table, 2);
  const samplesPerTime = columnFactor(table, 0, units.samplesPerTime);
  const perSpeed = columnFactor(table, 1, units.cyclesPerSample);
  const rows = Array.from(times!, (time, i) => ({
    atSample: time * samplesPerTime - stretch.fromSample,
    cyclesPerSample: speeds![i]! * perSpeed,
  }));
  for (const [i, row] of rows.entries()) {
    const complain = (column: number, message: string): InputError =>
      new InputError({ file: path, line: i + table.firstLine, column, message });
    if (row.cyclesPerSample < 0) throw complain(2, `the speed is negative: ${speeds![i]}`);
    if (row.cyclesPerSample > CYCLES_PER_SAMPLE_MAX) {
      const turns = row.cyclesPerSample.toPrecision(3);
      throw complain(2, `the speed makes ${turns} revolutions in a sample, at most one is taken`);
    }
    if (!Number.isFinite(row.atSample)) throw complain(1, `this time is too far off: ${times![i]}`);
    if (i > 0 && !(row.atSample > rows[i - 1]!.atSample)) {
      throw complain(1, "this time does not come after the time before");
    }
  }
  const moving = rows.map((row) => row.cyclesPerSample).filter((speed) => speed > 0);
  if (moving.length === 0) throw fileComplaint(path, "the speed is zero throughout");
  const least = moving.reduce((a, b) => Math.min(a, b));
  const most = moving.reduce((a, b) => Math.max(a, b));
  return {
    makeEdges: () => new StatedSpeed(rows),
    wheel: WHEEL_MADE,
    speedMin: least * (1 - STATED_ROOM),
    speedMax: most * (1 + STATED_ROOM),
    speedTypical: moving.toSorted((a, b) => a - b)[moving.length >> 1]!,
    isPhaseRelative: true,
    notes: ["The speed is a table, no edge was measured: phase means nothing."],
  };
}

/**
 * Speed and edges of a tachometer.
 *
 * Errors    InputError where there are fewer than three edges
 */
export function measuredSpeed(
  path: string,
  pitches: PitchTally,
  makeEdges: () => EdgeSource,
  wheel: Wheel,
  what: string,
): ShaftSpeed {
  const count = pitches.edgeCount;
  if (count < 3) throw fileComplaint(path, `${what}: ${count} edges, 3 are needed`);
  const typical = pitches.middle;
  const perPitch = wheel.revolutions / wheel.positions;
  return {
    makeEdges,
    wheel,
    speedMin: perPitch / pitches.at(0.99) / EDGES_ROOM,
    speedMax: (perPitch / pitches.at(0.01)) * EDGES_ROOM,
    speedTypical: perPitch / typical,
    isPhaseRelative: isRelative(wheel),
    notes: [
      `${what}: ${count} edges, the middle pitch ${typical.toPrecision(4)} samples.`,
      phaseWords(wheel),
    ],
  };
}

function phaseWords(wheel: Wheel): string {
  if (wheel.revolutions > 1) return "The tachometer turns another shaft: phase means nothing.";
  if (isRelative(wheel))
    return "No index was given: phase is relative to an edge that is not known.";
  const from = wheel.positions > 1 ? "the profile's index" : "the edge";
  return `Phase counts from ${from}: positive where the peak comes after it.`;
}

/**
 * A list of edge times in a column of its own; its head may have a unit.
 *
 * Errors    InputError: unit, fewer than three edges, not ascending
 */
export function edgeTimes(
  path: string,
  units: UnitFactors,
  wheel: Wheel,
  stretch: Stretch,
): ShaftSpeed {
  const table = readNumberTable(path);
  const [column] = tableColumns(table, 1);
  const samplesPerTime = columnFactor(table, 0, units);
  const times = Float64Array.from(column!, (time) => time * samplesPerTime - stretch.fromSample);
  const bad = times.findIndex((time, i) => i > 0 && !(time > times[i - 1]!));
  if (bad > 0) {
    throw new InputError({
      file: path,
      line: bad + table.firstLine,
      column: 1,
      message: "this edge does not come after the edge before",
    });
  }
  const pitches = new PitchTally();
  for (const time of times) pitches.take(time);
  return measuredSpeed(path, pitches, () => new EdgeList(times), wheel, "edge list");
}
