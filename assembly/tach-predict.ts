// Where an edge should stand: the advance, in pitches, that the last two intervals predict.
import { TachState } from "./tach-state.ts";

/** The widest tolerance: 0.5 would no longer tell one whole number of pitches from the next. */
export const TOLERANCE_MAX: f32 = 0.45;

/** Half the width, pitches, of the place of an extra edge; half a pitch either side are edges. */
export const MARK_TOLERANCE: f32 = 0.25;

/**
 * Makes an interval the newest one known and works out what it predicts, once for all edges that
 * are judged by it.
 *
 * The mean over both intervals is the speed in their middle whatever the acceleration, so holding
 * the acceleration to its limit leaves a mean that halves the error of one badly placed edge.
 *
 * Returns that mean
 */
export function intervalTake(s: TachState, dt: u32, positions: i32): f32 {
  const before = s.pitchSpeed;
  let span = <f32>dt;
  const pitchSpeed: f32 = <f32>positions / span;
  let mean: f32 = pitchSpeed;
  let acceleration: f32 = 0;
  if (s.intervals != 0) {
    span += <f32>s.dt0;
    mean = <f32>(positions + s.n0) / span;
    acceleration = accelerationHeld(s, (2 * (pitchSpeed - before)) / span);
    s.intervals = 2;
  } else s.intervals = 1;
  let speed: f32 = mean + acceleration * span * 0.5;
  // Under half of it the parabola has all but stopped: what comes then does not go on with it.
  if (!(speed >= 0.5 * pitchSpeed)) speed = pitchSpeed;
  // An edge that comes was reached, so the parabola must not stop short of the next position. Where
  // it stops just there, x = u − u²/4 (u = N·dt) is 0.75 … 1 for every slow-down that gets there.
  const steepest: f32 = -0.5 * speed * speed;
  s.pitchSpeed = pitchSpeed;
  s.meanSpeed = mean;
  s.acceleration = acceleration < steepest ? steepest : acceleration;
  s.speed = speed;
  s.dt0 = dt;
  s.n0 = positions;
  return mean;
}

function accelerationHeld(s: TachState, a: f32): f32 {
  const most = s.accelerationMax;
  if (a > most) return most;
  return a < -most ? -most : a;
}

/**
 * Pitches that the shaft is expected to have turned `dt` ticks after the newest accepted edge.
 *
 * x = N·dt + A·dt²/2, and where that predicts a standstill the place of it. Never negative.
 */
export function advancePitches(s: TachState, dt: u32): f32 {
  const a = s.acceleration;
  const t = <f32>dt;
  if (a < 0 && t * -a >= s.speed) return (s.speed * s.speed) / (-2 * a);
  return s.speed * t + 0.5 * a * t * t;
}

/** Tolerance of an edge in pitches: the setting plus what the acceleration limit does in a pitch. */
export function tolerancePitches(s: TachState): f32 {
  const tolerance: f32 = s.tolerance + s.accelerationMax / s.speed / s.speed;
  return tolerance < TOLERANCE_MAX ? tolerance : TOLERANCE_MAX;
}

/** True where the next position's edge is meant whatever the limits add: nearly every edge. */
export function isNextPosition(s: TachState, x: f32): bool {
  const beside = abs<f32>(x - 1);
  return beside <= s.tolerance && beside <= TOLERANCE_MAX;
}
