// Where an edge should stand: the advance, in pitches, that the last two intervals predict.
import { TachState } from "./tach-state.ts";

/** The widest tolerance: 0.5 would no longer tell one whole number of pitches from the next. */
export const TOLERANCE_MAX: f32 = 0.45;

/** Half the width, pitches, of the place of an extra edge; half a pitch either side are edges. */
export const MARK_TOLERANCE: f32 = 0.25;

/** Mean speed over the last two intervals, or the one there is, positions/tick. */
export function speedMean(s: TachState): f32 {
  if (s.intervals < 2) return <f32>s.n0 / <f32>s.dt0;
  return <f32>(s.n0 + s.n1) / (<f32>s.dt0 + <f32>s.dt1);
}

/** Acceleration of the quadratic through the last three edges, held to the limit, positions/tick². */
function accelerationLast(s: TachState): f32 {
  if (s.intervals < 2) return 0;
  const last = <f32>s.n0 / <f32>s.dt0;
  const before = <f32>s.n1 / <f32>s.dt1;
  const a: f32 = (2 * (last - before)) / (<f32>s.dt0 + <f32>s.dt1);
  if (a > s.accelerationMax) return s.accelerationMax;
  if (a < -s.accelerationMax) return -s.accelerationMax;
  return a;
}

/**
 * Speed at the newest accepted edge.
 *
 * The mean over both intervals is the speed in their middle whatever the acceleration, so holding
 * the acceleration to its limit leaves a mean that halves the error of one badly placed edge.
 *
 * Units     positions/tick
 * Range     at least half of the newest interval's own speed, so that it stays positive
 */
function speedAtEdge(s: TachState, acceleration: f32): f32 {
  const span = s.intervals < 2 ? <f32>s.dt0 : <f32>s.dt0 + <f32>s.dt1;
  const speed = speedMean(s) + acceleration * span * 0.5;
  const least: f32 = (0.5 * <f32>s.n0) / <f32>s.dt0;
  return speed > least ? speed : least;
}

/**
 * Pitches that the shaft is expected to have turned `dt` ticks after the newest accepted edge.
 *
 * x = N·dt + A·dt²/2, and where that predicts a standstill the place of it. Never negative.
 */
export function advancePitches(s: TachState, dt: u32): f32 {
  const a = accelerationLast(s);
  const speed = speedAtEdge(s, a);
  const t = <f32>dt;
  if (a < 0 && t * -a >= speed) return (speed * speed) / (-2 * a);
  return speed * t + 0.5 * a * t * t;
}

/** Tolerance of an edge in pitches: the setting plus what the acceleration limit does in a pitch. */
export function tolerancePitches(s: TachState): f32 {
  const speed = speedAtEdge(s, accelerationLast(s));
  const tolerance: f32 = s.tolerance + s.accelerationMax / speed / speed;
  return tolerance < TOLERANCE_MAX ? tolerance : TOLERANCE_MAX;
}
