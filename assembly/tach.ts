// The tachometer: which edges are the wheel's, and which position each of them is.
//
// All lengths are in pitches (one position), all angles in positions, of a cycle of P positions; a
// cycle is one revolution, or SHAFT_REVOLUTIONS of them on a geared shaft.
//
// Prediction. N and A are speed and acceleration at the newest accepted edge, from the last two
//   accepted intervals (n1 positions in dt1, then n0 in dt0):
//     A = 2·(n0/dt0 − n1/dt1)/(dt0 + dt1), held to ±SHAFT_ACCELERATION_MAX
//     N = (n0 + n1)/(dt0 + dt1) + A·(dt0 + dt1)/2, n0/dt0 where that is under half of it; A is then
//     held to −N²/2, so that no prediction stops short of the next position
//     x = N·dt + A·dt²/2, the advance of an edge dt after it; stands still where N + A·dt < 0
//     tol = SHAFT_EDGE_TOLERANCE + SHAFT_ACCELERATION_MAX·P·p² (p = 1/N in s), at most 0.45
//   One tooth out of place by e reads up to 1.5·e/(1 − e/2); random jitter σ reads 1.9·σ rms.
// With a reference, in this order:
//   time-out     last accepted edge + SHAFT_TIMEOUT_TICKS <= this edge: lost at exactly that tick
//   extra edge   |x − its place| <= min(tol, 0.25), its place half a pitch before position 0, once
//   early        x < 1 − tol: dropped, counted early
//   long         x > 8 + tol: counted irregular, lost at once (a longer wait mends nothing)
//   irregular    |x − m| > tol, m the nearest whole number: dropped, counted irregular
//   intruder     lands where the missing tooth is: dropped, counted early, contradicts the index
//   accepted     m positions; of the m − 1 passed over the missing tooth is none, others are missed
//   Three dropped edges without an accepted one between them: lost at the third.
//   doubt        begins with an accepted edge over half of SHAFT_EDGE_TOLERANCE beside its place or
//                with a dropped one before it; ends with three plain ones in a row (none dropped,
//                none missed); lost at the second interval meanwhile that is bridged, or that holds
//                an edge dropped at 0.5 ± 0.25. A wrong speed has no other intervals, on any wheel
//   speed        (n0 + n1)/(dt0 + dt1) outside SHAFT_SPEED_MIN … MAX: lost at that edge
//   acceleration whole cycles from index edge to index edge make windows of at least 4 cycles and
//                0.25 s; two neighbours with 2·|v − v'|/(d + d') over the limit: lost at that edge
//   The edge that loses the reference is the first one of the search.
// Index, with a reference. Missing tooth: an edge in its place contradicts, a gap of 2 there bears
//   out. Extra edge: position 0 one pitch after P − 1 without a mark between contradicts, with a
//   mark bears out. An edge missed beside the index says neither. Two contradictions with nothing
//   bearing out between them lose the index: the phase is relative, boundaries and level stay.
//   Lost, a gap of 2 (or an edge half-way) is suspected, refuted where it fails to come a cycle
//   later, and found when it has come again SHAFT_LOCK_REVOLUTIONS times. It then stands at
//   position d of the cycle: phase lag of order k = phase lag read from the boundary − 2πk·d/P.
// Search. An interval that agrees with the prediction from the run before it (first interval:
//   A = 0) at x = 1 ± tol extends the run; 2 ± tol where a missing tooth is configured, an edge at
//   0.5 ± 0.25 and below 1 − tol where an extra edge is. Any other interval, a speed outside the
//   range or an interval as long as the time-out starts a new run. Nothing is counted.
//   No index, or P = 1: locked by max(2 intervals, SHAFT_LOCK_REVOLUTIONS·P positions) that agree.
//   With an index: locked on an index edge after SHAFT_LOCK_REVOLUTIONS whole cycles from index to
//   index. The edge that locks is position 0, counts as accepted, and starts the angle.
//
// Source: unsigned wrap arithmetic and the ratio test of the missing tooth are common practice, no
// source; the prediction is the quadratic through three edges (Fyfe and Munck, MSSP 11(2), 1997).
import { angleEdge, angleLost, angleStart } from "./angle.ts";
import { counterAdd } from "./memory.ts";
import { emitEvent } from "./records.ts";
import {
  INDEX_INTRUDER,
  INDEX_MARK,
  indexAccept,
  indexMark,
  indexSlot,
} from "./tach-index.ts";
import {
  MARK_TOLERANCE,
  TOLERANCE_MAX,
  advancePitches,
  intervalTake,
  isNextPosition,
  tolerancePitches,
} from "./tach-predict.ts";
import { searchEdge, searchStart } from "./tach-search.ts";
import {
  NO_CANDIDATE,
  TachState,
  positionWrap,
  referenceClear,
  tachClear,
  tachState,
} from "./tach-state.ts";
import { BRIDGE_POSITIONS_MAX } from "../shared/capacity.ts";
import {
  COUNTER_EDGES,
  COUNTER_EDGES_EARLY,
  COUNTER_EDGES_IRREGULAR,
  COUNTER_EDGES_MISSED,
  COUNTER_REFERENCE_LOST,
} from "../shared/layout.ts";
import {
  EVENT_REFERENCE_FOUND,
  EVENT_REFERENCE_LOST,
  INDEX_EXTRA_EDGE,
  INDEX_NONE,
  LOST_ACCELERATION,
  LOST_DROPPED,
  LOST_GAP,
  LOST_SPEED,
  LOST_TIMEOUT,
} from "../shared/units.ts";

/** Edges in a row that fit nowhere before the reference is given up. */
const DROPPED_IN_ROW_MAX: i32 = 3;
/** Intervals bridged after an odd one, without plain ones between, that the reference outlasts. */
const DOUBTS_MAX: i32 = 2;
/** Plain edges in a row that end the doubt: a mark or a gap makes two of a wrong speed's edges fit. */
const PLAIN_IN_ROW: i32 = 3;
/** Cycles in an acceleration window, so that a misplaced edge at its end weighs little. */
const WINDOW_CYCLES_MIN: i32 = 4;

/** Takes the settings of a shaft from the active configuration; forgets every edge. */
export function tachReset(shaft: i32): void {
  tachClear(shaft);
}

/** Takes one edge, at its full-width tick; ticks that do not ascend are dropped as early. */
export function tachProcess(shaft: i32, tick: u64): void {
  const s = tachState(shaft);
  let dt = <u64>(tick - s.lastTick);
  // For the few: the difference of a tick before the newest one is as long as can be.
  if (dt >= <u64>s.timeoutTicks) {
    tachExpire(shaft, tick);
    if (tick < s.lastTick) dt = 0;
  }
  if (s.isLocked != 0) {
    edgeJudge(shaft, s, tick, <u32>dt);
  } else if (searchEdge(s, tick)) {
    lock(shaft, s, tick);
  }
}

/** Loses the reference at the last edge + time-out where that lies at or before `tick`. */
export function tachExpire(shaft: i32, tick: u64): void {
  const s = tachState(shaft);
  const isRunning = s.isLocked != 0 || s.hasEdge != 0;
  if (!isRunning || tick < s.lastTick) return;
  if (tick - s.lastTick < <u64>s.timeoutTicks) return;
  if (s.isLocked != 0) lose(shaft, s, s.lastTick + <u64>s.timeoutTicks, LOST_TIMEOUT);
  else s.hasEdge = 0;
}

/**
 * Speed of the shaft now: of the newest cycle that closed on an edge, before the first one of the
 * last two intervals, and 0 without a reference.
 *
 * Units     rev/s of the shaft
 */
export function tachSpeedNow(shaft: i32): f32 {
  const s = tachState(shaft);
  if (s.isLocked == 0) return 0;
  return s.cycleSpeed > 0 ? s.cycleSpeed : s.meanSpeed * s.speedUnit;
}

export function tachIsLocked(shaft: i32): bool {
  return tachState(shaft).isLocked != 0;
}

/** True from the first lock since configure or reset on. */
export function tachHasBeenLocked(shaft: i32): bool {
  return tachState(shaft).hasBeenLocked != 0;
}

/** Position of the index counted from the cycle boundary, 0 … P − 1. */
export function tachIndexOffset(shaft: i32): i32 {
  return tachState(shaft).indexOffset;
}

/** True where the phase has no index to refer to: none fitted, lost, or a geared shaft. */
export function tachIsPhaseRelative(shaft: i32): bool {
  const s = tachState(shaft);
  if (s.isGeared != 0 || s.isIndexLost != 0) return true;
  return s.index == INDEX_NONE && s.positions > 1;
}

function lock(shaft: i32, s: TachState, tick: u64): void {
  s.isLocked = 1;
  s.hasBeenLocked = 1;
  s.hasEdge = 0;
  s.lastTick = tick;
  referenceClear(s);
  s.candidate = NO_CANDIDATE;
  s.cycleTick = tick;
  s.windowTick = tick;
  counterAdd(COUNTER_EDGES + 4 * shaft, 1);
  emitEvent(EVENT_REFERENCE_FOUND, shaft, tick, 0);
  angleStart(shaft, tick, s.dt0, s.n0);
}

function lose(shaft: i32, s: TachState, tick: u64, reason: i32): void {
  s.isLocked = 0;
  s.hasEdge = 0;
  s.isIndexLost = 0;
  s.indexOffset = 0;
  counterAdd(COUNTER_REFERENCE_LOST + 4 * shaft, 1);
  angleLost(shaft);
  emitEvent(EVENT_REFERENCE_LOST, shaft, tick, reason);
}

/** Loses the reference at an edge, which is then the first of the search. */
function loseAtEdge(shaft: i32, s: TachState, tick: u64, reason: i32): void {
  lose(shaft, s, tick, reason);
  searchStart(s, tick);
}

function edgeDrop(shaft: i32, s: TachState, tick: u64, counter: i32): void {
  counterAdd(counter + 4 * shaft, 1);
  s.droppedInRow += 1;
  if (s.droppedInRow >= DROPPED_IN_ROW_MAX) loseAtEdge(shaft, s, tick, LOST_DROPPED);
}

function edgeJudge(shaft: i32, s: TachState, tick: u64, dt: u32): void {
  const x = advancePitches(s, dt);
  let positions: i32 = 1;
  if (s.index == INDEX_EXTRA_EDGE || !isNextPosition(s, x)) {
    positions = edgeDoubt(shaft, s, tick, x);
    if (positions == 0) return;
  }
  if (indexSlot(shaft, s, tick, positions) == INDEX_INTRUDER) {
    edgeDrop(shaft, s, tick, COUNTER_EDGES_EARLY);
    return;
  }
  if (abs<f32>(x - <f32>positions) > 0.5 * s.tolerance) s.isOdd = 1;
  edgeAccept(shaft, s, tick, dt, positions);
}

/**
 * An edge that is not simply the next one: how many positions on it stands, 0 where it is none of
 * the wheel's.
 *
 * Where a second edge came right after the accepted one, the first may have been the glitch: up to
 * the tolerance early, so that what follows stands late by as much, and once more in the speed.
 */
function edgeDoubt(shaft: i32, s: TachState, tick: u64, x: f32): i32 {
  const tolerance = tolerancePitches(s);
  const late = s.isTwin != 0 ? min<f32>(2 * tolerance, TOLERANCE_MAX) : tolerance;
  const mark = indexMark(s, x, tolerance);
  if (mark == INDEX_MARK) {
    counterAdd(COUNTER_EDGES + 4 * shaft, 1);
    return 0;
  }
  if (mark == INDEX_INTRUDER || x < 1 - tolerance) {
    if (x <= 2 * tolerance) s.isTwin = 1;
    if (abs<f32>(x - 0.5) <= MARK_TOLERANCE) s.isHalved = 1;
    edgeDrop(shaft, s, tick, COUNTER_EDGES_EARLY);
    return 0;
  }
  if (!(x <= <f32>BRIDGE_POSITIONS_MAX + tolerance)) {
    counterAdd(COUNTER_EDGES_IRREGULAR + 4 * shaft, 1);
    loseAtEdge(shaft, s, tick, LOST_GAP);
    return 0;
  }
  const positions = <i32>(x + 0.5);
  const beside: f32 = x - <f32>positions;
  if (beside <= late && beside >= -tolerance) return positions;
  edgeDrop(shaft, s, tick, COUNTER_EDGES_IRREGULAR);
  return 0;
}

/** An edge of the wheel, `positions` pitches on. */
function edgeAccept(shaft: i32, s: TachState, tick: u64, dt: u32, positions: i32): void {
  const speed = intervalTake(s, dt, positions);
  if (!(speed >= s.speedMin && speed <= s.speedMax)) {
    loseAtEdge(shaft, s, tick, LOST_SPEED);
    return;
  }
  const missed = s.index == INDEX_NONE ? positions - 1 : indexAccept(shaft, s, tick, positions);
  s.lastTick = tick;
  const isDoubted = doubtTake(s, missed);
  s.droppedInRow = 0;
  s.isTwin = 0;
  s.isHalved = 0;
  s.isOdd = 0;
  if (isDoubted || !cyclePass(s, tick, positions)) {
    loseAtEdge(shaft, s, tick, isDoubted ? LOST_DROPPED : LOST_ACCELERATION);
    return;
  }
  counterAdd(COUNTER_EDGES + 4 * shaft, 1);
  if (missed > 0) counterAdd(COUNTER_EDGES_MISSED + 4 * shaft, missed);
  angleEdge(shaft, tick, positions, missed > 0);
}

/**
 * Keeps count of the doubt in the speed itself. A wrong one lives on bridges (true edges meet every
 * second or third pitch of it, over edges that are not there or were dropped as belonging nowhere)
 * or, where it is too low, on dropped edges that stand half-way.
 *
 * True where it is given up
 */
function doubtTake(s: TachState, missed: i32): bool {
  const isOdd = s.isOdd | <i32>(s.droppedInRow > 0);
  if ((missed | isOdd) == 0) {
    s.plainInRow += 1;
    if (s.plainInRow >= PLAIN_IN_ROW) s.doubts = 0;
    return false;
  }
  s.plainInRow = 0;
  // Edges missed in an undisturbed run are missed and no more: a tooth may have broken off.
  if (s.doubts == 0) s.doubts = isOdd;
  else if ((missed | s.isHalved) != 0) s.doubts += 1;
  return s.doubts > DOUBTS_MAX;
}

/**
 * Measures speed from cycle to cycle, each time on the edge of the index, which is always there
 * (the cycle boundary may lie in the gap once the index was found elsewhere).
 *
 * False where an acceleration window closed above the limit
 */
function cyclePass(s: TachState, tick: u64, positions: i32): bool {
  s.position = positionWrap(s, s.position + positions);
  s.cyclePositions += positions;
  s.windowPositions += positions;
  // Where that edge itself has broken off, any edge serves after two cycles.
  if (s.position != s.indexOffset && s.cyclePositions < 2 * s.positions) return true;
  s.cycleSpeed = (<f32>s.cyclePositions / <f32>(tick - s.cycleTick)) * s.speedUnit;
  s.cycleTick = tick;
  s.cyclePositions = 0;
  if (s.windowPositions < WINDOW_CYCLES_MIN * s.positions) return true;
  if (tick - s.windowTick < <u64>s.windowTicks) return true;
  return windowClose(s, tick);
}

function windowClose(s: TachState, tick: u64): bool {
  const duration = <f32>(tick - s.windowTick);
  const speed = <f32>s.windowPositions / duration;
  const change: f32 = s.windowSpeed > 0 ? speed - s.windowSpeed : 0;
  const isWithin = abs<f32>(2 * change) <= s.accelerationMax * (duration + s.windowDuration);
  s.windowTick = tick;
  s.windowPositions = 0;
  s.windowSpeed = speed;
  s.windowDuration = duration;
  return isWithin;
}
