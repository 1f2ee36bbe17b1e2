// Edges that come in a row and are nothing but the next position, as nearly all do on a wheel of
// many: taken together, with the arithmetic of the general path and without its questions. What is
// left to it is every edge at which something may happen:
//   a knot of the angle (so also the cycle's end), the index or its gap, two cycles without one
//   an edge more than half of SHAFT_EDGE_TOLERANCE beside its place, or a speed out of range
//   any edge while something dropped, doubted, contradicted or lost is remembered
//   any edge of a reference's first cycle: the speed that is told changes with each
// Such a run tells no event and no record, so nothing depends on where it is cut.
import { anglePass, anglePositionsToKnot } from "./angle.ts";
import { counterAdd } from "./memory.ts";
import { accelerationOf, accelerationUnstopped, advanceOf, speedOf } from "./tach-predict.ts";
import { TachState, tachState } from "./tach-state.ts";
import { COUNTER_EDGES } from "../shared/layout.ts";
import { INDEX_MISSING_TOOTH, INDEX_NONE } from "../shared/units.ts";

/**
 * Takes the plain edges that stand first among those at `at`.
 *
 * Shape     tick of the first; low words of ticks from `at` to `end`, of which those at most `due`
 *           ticks after the first are taken
 * Returns   the address of the first edge that was not taken
 */
export function tachRun(shaft: i32, first: u64, at: usize, end: usize, due: u32): usize {
  const between = anglePositionsToKnot(shaft) - 1;
  return between > 0 ? runTake(shaft, first, at, end, due, between) : at;
}

function runTake(
  shaft: i32, first: u64, at: usize, end: usize, due: u32, between: i32,
): usize {
  const s = tachState(shaft);
  const left = min<i32>(between, plainLeft(s));
  // Of a tick before the newest one the difference is as long as can be.
  if (left <= 0 || first - s.lastTick >= <u64>s.timeoutTicks) return at;
  const from = at;
  const within: f32 = 0.5 * s.tolerance;
  const timeout = s.timeoutTicks;
  const most = s.accelerationMax;
  const speedMin = s.speedMin;
  const speedMax = s.speedMax;
  // What the newest edge predicts, held here while the run lasts.
  let before = <u32>s.lastTick;
  let dt0 = s.dt0;
  let pitchSpeed = s.pitchSpeed;
  let meanSpeed = s.meanSpeed;
  let acceleration = s.acceleration;
  let speed = s.speed;
  end = min<usize>(end, at + 4 * <usize>left);
  // Bounded by the edges of a block.
  while (at < end) {
    const tick = load<u32>(at);
    const dt: u32 = tick - before;
    if (tick - <u32>first > due || dt >= timeout) break;
    const t = <f32>dt;
    if (!(abs<f32>(advanceOf(speed, acceleration, t) - 1) <= within)) break;
    const span: f32 = t + <f32>dt0;
    const mean: f32 = 2 / span;
    if (!(mean >= speedMin && mean <= speedMax)) break;
    const pitchSpeedBefore = pitchSpeed;
    pitchSpeed = 1 / t;
    const change = accelerationOf(pitchSpeed, pitchSpeedBefore, span, most);
    speed = speedOf(pitchSpeed, mean, change, span);
    acceleration = accelerationUnstopped(change, speed);
    meanSpeed = mean;
    dt0 = dt;
    before = tick;
    at += 4;
  }
  if (at == from) return at;
  s.dt0 = dt0;
  s.pitchSpeed = pitchSpeed;
  s.meanSpeed = meanSpeed;
  s.acceleration = acceleration;
  s.speed = speed;
  s.lastTick += <u64>(before - <u32>s.lastTick);
  runPass(shaft, s, <i32>((at - from) >> 2));
  return at;
}

/** Plain edges that may come before one that the general path must see, whatever they are. */
function plainLeft(s: TachState): i32 {
  // A reference has two intervals at least.
  if (s.isLocked == 0 || s.n0 != 1) return 0;
  // Before its first whole cycle each edge is a new speed, which the functional test's tone has.
  if (s.cycleSpeed == 0) return 0;
  if ((s.droppedInRow | s.doubts | s.isIndexLost) != 0) return 0;
  const cycle = 2 * s.positions - 1 - s.cyclePositions;
  // Without an index the cycle's end, which is a knot, is all that there is to meet.
  if (s.index == INDEX_NONE) return cycle;
  if (s.index != INDEX_MISSING_TOOTH) return 0;
  const place = s.indexOffset > s.position ? s.indexOffset : s.positions;
  return min<i32>(place - 2 - s.position, cycle);
}

function runPass(shaft: i32, s: TachState, edges: i32): void {
  s.position += edges;
  s.cyclePositions += edges;
  s.windowPositions += edges;
  counterAdd(COUNTER_EDGES + 4 * shaft, edges);
  anglePass(shaft, edges);
}
