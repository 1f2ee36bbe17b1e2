// With a reference: whether the index is where it should be, and where it is when it is not.
import { counterAdd } from "./memory.ts";
import { emitEvent } from "./records.ts";
import { MARK_TOLERANCE } from "./tach-predict.ts";
import { NO_CANDIDATE, TachState, positionWrap } from "./tach-state.ts";
import { COUNTER_INDEX_CONTRADICTIONS } from "../shared/layout.ts";
import {
  EVENT_INDEX_FOUND,
  EVENT_INDEX_LOST,
  INDEX_EXTRA_EDGE,
  INDEX_MISSING_TOOTH,
} from "../shared/units.ts";

/** Cycles in a row that must contradict the index before it is lost. */
const CONTRADICTIONS_MAX: i32 = 2;

/** What an edge is to the index. */
export const INDEX_OTHER: i32 = 0; // judge it as an edge of the wheel
export const INDEX_MARK: i32 = 1; // the extra edge itself: used, no position
export const INDEX_INTRUDER: i32 = 2; // to be dropped like an early edge

/** Where the index is thought to stand: at its place, at the suspected one, or NO_CANDIDATE. */
function indexPlace(s: TachState): i32 {
  return s.isIndexLost != 0 ? s.candidate : s.indexOffset;
}

function indexContradict(shaft: i32, s: TachState, tick: u64): void {
  s.contradictions += 1;
  counterAdd(COUNTER_INDEX_CONTRADICTIONS + 4 * shaft, 1);
  if (s.contradictions < CONTRADICTIONS_MAX) return;
  s.contradictions = 0;
  s.isIndexLost = 1;
  s.candidate = NO_CANDIDATE;
  emitEvent(EVENT_INDEX_LOST, shaft, tick, 0);
}

/** The index showed at `position` while it is lost. */
function indexSuspect(shaft: i32, s: TachState, tick: u64, position: i32): void {
  if (s.candidate == NO_CANDIDATE) {
    s.candidate = position;
    s.candidateCycles = 0;
    return;
  }
  if (s.candidate != position) return;
  s.candidateCycles += 1;
  if (s.candidateCycles < s.lockCycles) return;
  s.isIndexLost = 0;
  s.indexOffset = position;
  s.candidate = NO_CANDIDATE;
  emitEvent(EVENT_INDEX_FOUND, shaft, tick, position);
}

function indexRefute(s: TachState, position: i32): void {
  if (s.candidate == position) s.candidate = NO_CANDIDATE;
}

/**
 * Takes the extra edge for what it is, `x` pitches after the last accepted edge.
 *
 * At its place it is the mark. While the index is lost, an edge half-way between two others is
 * remembered; it is a mark once the same place was suspected before, until then an intruder.
 */
export function indexMark(s: TachState, x: f32, tolerance: f32): i32 {
  if (s.index != INDEX_EXTRA_EDGE || s.isMarkSeen != 0) return INDEX_OTHER;
  const width = tolerance < MARK_TOLERANCE ? tolerance : MARK_TOLERANCE;
  if (s.isIndexLost == 0) {
    const fromIndex = positionWrap(s, s.position - s.indexOffset);
    const place = <f32>(s.positions - 1 - fromIndex) + 0.5;
    if (!(abs<f32>(x - place) <= width)) return INDEX_OTHER;
    s.isMarkSeen = 1;
    return INDEX_MARK;
  }
  if (!(x < 1 - tolerance && abs<f32>(x - 0.5) <= width)) return INDEX_OTHER;
  s.isMarkSeen = 1;
  return positionWrap(s, s.position + 1) == s.candidate ? INDEX_MARK : INDEX_INTRUDER;
}

/** An edge where the missing tooth should be is dropped, once a cycle as a contradiction. */
export function indexSlot(shaft: i32, s: TachState, tick: u64, positions: i32): i32 {
  if (s.index != INDEX_MISSING_TOOTH) return INDEX_OTHER;
  const before = positionWrap(s, s.position + positions + 1);
  if (s.isIndexLost != 0) {
    indexRefute(s, before);
    return INDEX_OTHER;
  }
  if (before != s.indexOffset) return INDEX_OTHER;
  if (s.isSlotSeen == 0) {
    s.isSlotSeen = 1;
    indexContradict(shaft, s, tick);
  }
  return s.isIndexLost != 0 ? INDEX_OTHER : INDEX_INTRUDER;
}

/** Of the positions passed over, how many should have had an edge. */
function indexMissed(s: TachState, positions: i32): i32 {
  let missed = positions - 1;
  const place = indexPlace(s);
  if (s.index != INDEX_MISSING_TOOTH || place == NO_CANDIDATE) return missed;
  for (let i = 1; i < positions; i += 1) {
    if (positionWrap(s, s.position + i + 1) == place) missed -= 1;
  }
  return missed;
}

function missingToothAccept(shaft: i32, s: TachState, tick: u64, positions: i32): void {
  const landing = positionWrap(s, s.position + positions);
  if (positions != 2) return;
  if (s.isIndexLost != 0) indexSuspect(shaft, s, tick, landing);
  else if (landing == s.indexOffset && s.isSlotSeen == 0) s.contradictions = 0;
}

function extraEdgeAccept(shaft: i32, s: TachState, tick: u64, positions: i32): void {
  const landing = positionWrap(s, s.position + positions);
  if (s.isIndexLost != 0) {
    if (positions != 1) return;
    if (s.isMarkSeen != 0) indexSuspect(shaft, s, tick, landing);
    else indexRefute(s, landing);
  } else if (s.isMarkSeen != 0) s.contradictions = 0;
  else if (positions == 1 && landing == s.indexOffset) indexContradict(shaft, s, tick);
}

/**
 * Judges the index of a wheel that has one by an accepted edge `positions` after the last one,
 * before the position moves.
 * Where an edge beside the index was missed, the cycle says neither yes nor no.
 *
 * Returns the number of missed edges
 */
export function indexAccept(shaft: i32, s: TachState, tick: u64, positions: i32): i32 {
  const missed = indexMissed(s, positions);
  if (s.index == INDEX_MISSING_TOOTH) missingToothAccept(shaft, s, tick, positions);
  else extraEdgeAccept(shaft, s, tick, positions);
  s.isMarkSeen = 0;
  s.isSlotSeen = 0;
  return missed;
}
