// From level to the shown number: scale over speed, smoothing, whole counts, hold and blank; and
// which filter serves a display. All in f32, in the order written: that order is part of the
// numerics.
import {
  DISPLAY_COUNTS_MAX,
  DISPLAY_HOLD_STEPS,
  DISPLAY_SCALE,
  DISPLAY_SCALE_COUNT,
  DISPLAY_SMOOTHING,
  DISPLAY_SOURCE,
  DISPLAY_SOURCES,
  DISPLAY_STEP_INVERSE,
  SCALE_POINT_BYTES,
  STATUS_BLANK,
  STATUS_HELD,
} from "../shared/layout.ts";
import { SCALE_POINTS_MAX } from "../shared/capacity.ts";
import { SOURCE_GREATEST, SOURCE_SUBSTITUTE } from "../shared/units.ts";

@unmanaged
export class NumberState {
  levelValue: f32; // of the filter of this index, in its unit and detector; 0 where not computed
  speedNow: f32; // rev/s, of its newest revolution
  smoothed: f32; // display units
  shown: i32; // counts
  hasNumber: u32; // a number has been shown
  invalidSteps: u32; // steps in a row without a valid number
  marks: u32; // STATUS_HELD or STATUS_BLANK of the last step
  serving: i32; // filter whose level made the number, or −1
}

/** True for numbers that may be compared and stored. */
export function isFiniteNumber(value: f32): bool {
  return abs(value) <= f32.MAX_VALUE;
}

/** Display units per level unit at a speed: straight between rows, held at the ends. */
export function numberScale(display: usize, speed: f32): f32 {
  const count: i32 = load<i32>(display, DISPLAY_SCALE_COUNT);
  assert(count >= 1 && count <= SCALE_POINTS_MAX);
  let row: usize = display + DISPLAY_SCALE;
  if (!(speed > load<f32>(row))) return load<f32>(row, 4);
  for (let i: i32 = 1; i < count; i++) {
    const next: usize = row + SCALE_POINT_BYTES;
    const speedNext: f32 = load<f32>(next);
    if (speed < speedNext) {
      const speedRow: f32 = load<f32>(row);
      const factorRow: f32 = load<f32>(row, 4);
      const share: f32 = (speed - speedRow) / (speedNext - speedRow);
      return factorRow + (load<f32>(next, 4) - factorRow) * share;
    }
    row = next;
  }
  return load<f32>(row, 4);
}

/** Whole counts of display steps: nearest, halves upward, held within 0 … countsMax. */
export function numberCounts(value: f32, stepInverse: f32, countsMax: i32): i32 {
  const counts: f32 = Mathf.floor(value * stepInverse + <f32>0.5);
  if (!(counts > 0)) return 0;
  if (counts >= <f32>countsMax) return countsMax;
  return <i32>counts;
}

/**
 * Takes the value of one display step, in display units, or its absence.
 *
 * Effect    state.shown and state.marks stand for this step. Smoothing starts anew at the first
 *           valid value. Without one the last number is held and marked for the hold time, then
 *           blank (shown 0); a display that never had a number is blank from the start.
 */
export function numberProcess(
  display: usize,
  state: NumberState,
  isValid: bool,
  value: f32,
): void {
  if (isValid) {
    assert(isFiniteNumber(value));
    const isContinued: bool = state.hasNumber != 0 && state.invalidSteps == 0;
    const share: f32 = load<f32>(display, DISPLAY_SMOOTHING);
    state.smoothed = isContinued
      ? state.smoothed + share * (value - state.smoothed)
      : value;
    state.shown = numberCounts(
      state.smoothed,
      load<f32>(display, DISPLAY_STEP_INVERSE),
      load<i32>(display, DISPLAY_COUNTS_MAX),
    );
    state.hasNumber = 1;
    state.invalidSteps = 0;
    state.marks = 0;
    return;
  }
  if (state.invalidSteps != u32.MAX_VALUE) state.invalidSteps += 1;
  if (state.hasNumber != 0 && state.invalidSteps <= load<u32>(display, DISPLAY_HOLD_STEPS)) {
    state.marks = STATUS_HELD;
    return;
  }
  state.shown = 0;
  state.marks = STATUS_BLANK;
}

/** Value in a display's units of the level of one filter, at that filter's own speed; finite. */
export function numberValue(display: usize, measured: NumberState): f32 {
  const value: f32 = measured.levelValue * numberScale(display, measured.speedNow);
  return value <= f32.MAX_VALUE ? value : f32.MAX_VALUE;
}

/**
 * The filter that serves a display now, or −1 where none of its sources is valid.
 *
 * Shape     validFilters: bit f where filter f is valid; states: NumberState of filter 0, with
 *           `stride` bytes between filters
 * Effect    greatest: the valid source with the greatest value in this display's units, the lowest
 *           index among equals; substitute: the filter itself while it is valid, else the other
 */
export function numberSource(
  display: usize,
  filter: i32,
  filterCount: i32,
  validFilters: u32,
  states: usize,
  stride: usize,
): i32 {
  const source: i32 = load<i32>(display, DISPLAY_SOURCE);
  const sources: u32 = load<u32>(display, DISPLAY_SOURCES);
  if (source == SOURCE_GREATEST) {
    let serving: i32 = -1;
    let greatest: f32 = 0;
    for (let i: i32 = 0; i < filterCount; i++) {
      if (((sources & validFilters) >> i & 1) == 0) continue;
      const value: f32 = numberValue(display, changetype<NumberState>(states + <usize>i * stride));
      if (serving >= 0 && !(value > greatest)) continue;
      serving = i;
      greatest = value;
    }
    return serving;
  }
  if ((validFilters >> filter & 1) != 0) return filter;
  if (source == SOURCE_SUBSTITUTE && (validFilters >> sources & 1) != 0) return <i32>sources;
  return -1;
}
