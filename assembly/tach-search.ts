// Without a reference: looks for a run of intervals that agree, and for the index in it.
import { MARK_TOLERANCE, advancePitches, intervalTake, tolerancePitches } from "./tach-predict.ts";
import { TachState } from "./tach-state.ts";
import { INDEX_EXTRA_EDGE, INDEX_MISSING_TOOTH, INDEX_NONE } from "../shared/units.ts";

/** Begins a run with its first edge. */
export function searchStart(s: TachState, tick: u64): void {
  s.lastTick = tick;
  s.rawTick = tick;
  s.hasEdge = 1;
  s.intervals = 0;
  s.runPositions = 0;
  s.hasIndex = 0;
  s.isMarkSeen = 0;
}

/** Begins a run with the interval that ended the one before it: one of its ends may be good. */
function searchRestart(s: TachState, tick: u64): void {
  const dt = <u32>(tick - s.rawTick);
  searchStart(s, tick);
  intervalTake(s, dt, 1);
  s.runPositions = 1;
}

/** Whole cycles from index to index; where one does not come, the next one is not a cycle away. */
function searchIndex(s: TachState, positions: i32, isIndex: bool): void {
  s.sinceIndex += positions;
  if (!isIndex) return;
  const isWhole = s.hasIndex != 0 && s.sinceIndex == s.positions;
  s.indexCycles = isWhole ? s.indexCycles + 1 : 0;
  s.hasIndex = 1;
  s.sinceIndex = 0;
}

/** True when the edge completes the run that makes the reference: it is position 0 of a cycle. */
export function searchEdge(s: TachState, tick: u64): bool {
  if (s.hasEdge == 0) {
    searchStart(s, tick);
    return false;
  }
  if (tick <= s.rawTick) return false;
  if (s.intervals == 0) {
    searchRestart(s, tick);
    return false;
  }
  const dt = <u32>(tick - s.lastTick);
  const x = advancePitches(s, dt);
  const tolerance = tolerancePitches(s);
  if (s.index == INDEX_EXTRA_EDGE && s.isMarkSeen == 0 && x < 1 - tolerance) {
    if (abs<f32>(x - 0.5) <= MARK_TOLERANCE) {
      s.isMarkSeen = 1;
      s.rawTick = tick;
      return false;
    }
  }
  let positions = 0;
  if (abs<f32>(x - 1) <= tolerance) positions = 1;
  else if (s.index == INDEX_MISSING_TOOTH && abs<f32>(x - 2) <= tolerance) positions = 2;
  if (positions == 0) {
    searchRestart(s, tick);
    return false;
  }
  const isIndex = positions == 2 || s.isMarkSeen != 0;
  intervalTake(s, dt, positions);
  const speed = s.meanSpeed;
  if (!(speed >= s.speedMin && speed <= s.speedMax)) {
    searchRestart(s, tick);
    return false;
  }
  s.lastTick = tick;
  s.rawTick = tick;
  s.isMarkSeen = 0;
  s.runPositions += positions;
  if (s.index == INDEX_NONE) return s.runPositions >= s.lockCycles * s.positions;
  searchIndex(s, positions, isIndex);
  return isIndex && s.indexCycles >= s.lockCycles;
}
