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
  let span = <f32>dt;
  const pitchSpeed: f32 = <f32>positions / span;
  let mean: f32 = pitchSpeed;
  let acceleration: f32 = 0;
  if (s.intervals != 0) {
    span += <f32>s.dt0;
    mean = <f32>(positions + s.n0) / span;
    acceleration = accelerationOf(pitchSpeed, s.pitchSpeed, span, s.accelerationMax);
    s.intervals = 2;
  } else s.intervals = 1;
  const speed = speedOf(pitchSpeed, mean, acceleration, span);
  s.pitchSpeed = pitchSpeed;
  s.meanSpeed = mean;
  s.acceleration = accelerationUnstopped(acceleration, speed);
  s.speed = speed;
  s.dt0 = dt;
  s.n0 = positions;
  return mean;
}

// The prediction's arithmetic, in pieces: on what is remembered, and on what a run of edges holds.

/** From one interval to the next, `span` ticks both together, held to ±most. */
@inline
export function accelerationOf(pitchSpeed: f32, before: f32, span: f32, most: f32): f32 {
  const a: f32 = (2 * (pitchSpeed - before)) / span;
  if (a > most) return most;
  return a < -most ? -most : a;
}

/** Speed at the newest edge. */
@inline
export function speedOf(pitchSpeed: f32, mean: f32, acceleration: f32, span: f32): f32 {
  const speed: f32 = mean + acceleration * span * 0.5;
  // Under half of it the parabola has all but stopped: what comes then does not go on with it.
  return speed >= 0.5 * pitchSpeed ? speed : pitchSpeed;
}

/**
 * An edge that comes was reached, so the parabola must not stop short of the next position. Where
 * it stops just there, x = u − u²/4 (u = N·dt) is 0.75 … 1 for every slow-down that gets there.
 */
@inline
export function accelerationUnstopped(acceleration: f32, speed: f32): f32 {
  const steepest: f32 = -0.5 * speed * speed;
  return acceleration < steepest ? steepest : acceleration;
}

/**
 * Pitches that the shaft is expected to have turned `dt` ticks after the newest accepted edge.
 *
 * x = N·dt + A·dt²/2, and where that predicts a standstill the place of it. Never negative.
 */
export function advancePitches(s: TachState, dt: u32): f32 {
  return advanceOf(s.speed, s.acceleration, <f32>dt);
}

@inline
export function advanceOf(speed: f32, a: f32, t: f32): f32 {
  if (a < 0 && t * -a >= speed) return (speed * speed) / (-2 * a);
  return speed * t + 0.5 * a * t * t;
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
