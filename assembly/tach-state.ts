// What one tachometer remembers: the settings in the units of the edges, and the run of edges.
import { SHAFT_STATE_BYTES, configGlobal, configShaft, shaftState } from "./memory.ts";
import {
  GLOBAL_CLOCK_HZ,
  SHAFT_ACCELERATION_MAX,
  SHAFT_EDGE_TOLERANCE,
  SHAFT_INDEX,
  SHAFT_LOCK_REVOLUTIONS,
  SHAFT_POSITIONS,
  SHAFT_REVOLUTIONS,
  SHAFT_SPEED_MAX,
  SHAFT_SPEED_MIN,
  SHAFT_TIMEOUT_TICKS,
} from "../shared/layout.ts";

/** No index position is suspected. */
export const NO_CANDIDATE: i32 = -1;

@unmanaged
export class TachState {
  // Settings: positions for pitches, ticks for seconds.
  positions: i32;
  index: i32;
  lockCycles: i32;
  timeoutTicks: u32;
  tolerance: f32; // pitches
  accelerationMax: f32; // positions/tick²
  speedMin: f32; // positions/tick
  speedMax: f32; // positions/tick
  speedUnit: f32; // rev/s of the shaft for one position/tick
  windowTicks: u32; // the least length of an acceleration window
  isGeared: i32;

  // The run of edges.
  lastTick: u64; // newest accepted edge (searching: newest edge of the run)
  rawTick: u64; // searching: newest edge whatever it was
  cycleTick: u64; // newest edge of the index (of the cycle boundary, where there is none)
  windowTick: u64; // start of the open acceleration window
  dt0: u32; // newest accepted interval, ticks
  n0: i32; // positions it spans
  intervals: i32; // known: none, it alone, or the one before as well (2)
  pitchSpeed: f32; // positions/tick, of the newest interval
  meanSpeed: f32; // positions/tick, over both
  acceleration: f32; // positions/tick², of the parabola through both, held to the limit
  speed: f32; // positions/tick, at lastTick
  isLocked: i32;
  hasBeenLocked: i32;
  hasEdge: i32; // searching: lastTick stands
  runPositions: i32; // searching: consistent positions so far
  hasIndex: i32; // searching: an index edge was seen
  sinceIndex: i32; // searching: positions since it
  indexCycles: i32; // searching: whole cycles from index to index

  // The reference, all zero where it begins.
  isMarkSeen: i32; // extra edge: seen since the last accepted edge
  isSlotSeen: i32; // missing tooth: an edge stood in the gap since the last accepted edge
  position: i32; // of lastTick, counted from the cycle boundary
  indexOffset: i32; // position of the index
  isIndexLost: i32;
  contradictions: i32; // cycles in a row that contradicted the index
  candidate: i32; // index lost: position suspected, or NO_CANDIDATE
  candidateCycles: i32; // cycles after the first that bore it out
  droppedInRow: i32; // edges since the last accepted one
  isTwin: i32; // one of them stood so close to it that either may be the glitch
  isHalved: i32; // one of them stood half-way to the next position
  isOdd: i32; // the edge being taken stands well beside its place
  doubts: i32; // the first odd edge, and bridged intervals since
  plainInRow: i32; // edges since the last that was odd or bridged
  cyclePositions: i32; // since cycleTick
  windowPositions: i32; // and since windowTick
  windowSpeed: f32; // positions/tick, the closed acceleration window; 0 = none
  windowDuration: f32; // ticks
  cycleSpeed: f32; // rev/s, newest whole cycle; 0 = none
}

if (<i32>offsetof<TachState>() > SHAFT_STATE_BYTES) ERROR("the tachometer outgrew its place");

export function tachState(shaft: i32): TachState {
  return changetype<TachState>(shaftState(shaft));
}

/** Forgets every edge and takes the settings of the shaft, turned into positions and ticks. */
export function tachClear(shaft: i32): void {
  memory.fill(shaftState(shaft), 0, SHAFT_STATE_BYTES);
  const from = configShaft(shaft);
  const clockHz = load<u32>(configGlobal(), GLOBAL_CLOCK_HZ);
  const clock = <f32>clockHz;
  const s = tachState(shaft);
  const positions = load<i32>(from, SHAFT_POSITIONS);
  const revolutions = load<i32>(from, SHAFT_REVOLUTIONS);
  const perRevolution = <f32>positions / <f32>revolutions;
  s.positions = positions;
  s.index = load<i32>(from, SHAFT_INDEX);
  s.lockCycles = load<i32>(from, SHAFT_LOCK_REVOLUTIONS);
  s.timeoutTicks = load<u32>(from, SHAFT_TIMEOUT_TICKS);
  s.tolerance = load<f32>(from, SHAFT_EDGE_TOLERANCE);
  s.accelerationMax = (load<f32>(from, SHAFT_ACCELERATION_MAX) * perRevolution) / clock / clock;
  s.speedMin = (load<f32>(from, SHAFT_SPEED_MIN) * perRevolution) / clock;
  s.speedMax = (load<f32>(from, SHAFT_SPEED_MAX) * perRevolution) / clock;
  s.speedUnit = clock / perRevolution;
  s.windowTicks = clockHz >> 2;
  s.isGeared = <i32>(revolutions > 1);
  s.candidate = NO_CANDIDATE;
}

/** Forgets all that a reference holds; no candidate and the ticks are the caller's. */
export function referenceClear(s: TachState): void {
  const from = offsetof<TachState>("isMarkSeen");
  memory.fill(changetype<usize>(s) + from, 0, offsetof<TachState>() - from);
}

/** A position modulo the wheel, for sums of two positions and differences of one cycle. */
export function positionWrap(s: TachState, position: i32): i32 {
  // Nearly always within, and a remainder costs as much as the rest of an edge.
  if (<u32>position < <u32>s.positions) return position;
  const p = position % s.positions;
  return p < 0 ? p + s.positions : p;
}
