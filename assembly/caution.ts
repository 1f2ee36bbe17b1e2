// The caution and the exceedance of one display. All comparisons are between whole counts of the
// display step. Two outputs: whether the number stands at or above the level now (AT_LEVEL), and
// whether the caution is on (CAUTION); the state says why they differ.
import {
  DISPLAY_CAUTION_COUNTS,
  DISPLAY_FLAGS,
  DISPLAY_FLAG_CAUTION,
  DISPLAY_FLAG_DELAY_UNDER_INHIBIT,
  DISPLAY_FLAG_HOLD_CAUTION,
  DISPLAY_HYSTERESIS_COUNTS,
  DISPLAY_OFF_STEPS,
  DISPLAY_ON_STEPS,
  STATUS_ACKNOWLEDGED,
  STATUS_AT_LEVEL,
  STATUS_CAUTION,
  STATUS_INHIBITED,
} from "../shared/layout.ts";
import {
  CAUTION_HELD,
  CAUTION_INHIBITED,
  CAUTION_OFF,
  CAUTION_ON,
  CAUTION_TIMING_OFF,
  CAUTION_TIMING_ON,
  EVENT_ACKNOWLEDGED,
  EVENT_CAUTION_ENDED_INVALID,
  EVENT_CAUTION_OFF,
  EVENT_CAUTION_ON,
  EVENT_INHIBIT_OFF,
  EVENT_INHIBIT_ON,
} from "../shared/units.ts";

/** What a step is told about the number and the inputs, bits. */
export const NUMBER_VALID: u32 = 1;
export const NUMBER_HELD: u32 = 2;
export const INHIBIT_STANDS: u32 = 4;
export const ACKNOWLEDGE_ROSE: u32 = 8;

@unmanaged
export class CautionState {
  isLatched: u32; // on, whether or not an inhibit holds back the output
  onSteps: u32; // steps in a row on which the on-condition held
  offSteps: u32;
  state: u32; // CAUTION_…
  marks: u32; // STATUS_… bits of the last step
}

@unmanaged
export class ExceedanceState {
  isOpen: u32;
  steps: u32; // since the onset
  aboveSteps: u32;
  peakStep: u32;
  peakShown: i32;
  peakLevel: f32;
  peakSpeed: f32;
  peakRevolution: u32;
  onsetLow: u32;
  onsetHigh: u32;
}

function oneMore(steps: u32): u32 {
  return steps == u32.MAX_VALUE ? steps : steps + 1;
}

function eventBit(code: i32): u32 {
  return <u32>1 << code;
}

/** Moves the latch by one step; true where a latched caution ended by lost validity. */
function latchStep(display: usize, state: CautionState, shown: i32, told: u32): bool {
  const flags: u32 = load<u32>(display, DISPLAY_FLAGS);
  const level: i32 = load<i32>(display, DISPLAY_CAUTION_COUNTS);
  const isValid: bool = (told & NUMBER_VALID) != 0;
  const isAt: bool = isValid && shown >= level;
  const isUnder: bool = isValid && shown < level - load<i32>(display, DISPLAY_HYSTERESIS_COUNTS);
  const runs: bool =
    (told & INHIBIT_STANDS) == 0 || (flags & DISPLAY_FLAG_DELAY_UNDER_INHIBIT) != 0;
  state.onSteps = isAt && runs ? oneMore(state.onSteps) : 0;
  state.offSteps = isUnder ? oneMore(state.offSteps) : 0;
  if (state.isLatched == 0) {
    if (state.onSteps > load<u32>(display, DISPLAY_ON_STEPS)) state.isLatched = 1;
    return false;
  }
  if (!isValid) {
    const holds: bool =
      (told & NUMBER_HELD) != 0 && (flags & DISPLAY_FLAG_HOLD_CAUTION) != 0;
    if (!holds) state.isLatched = 0;
    return !holds;
  }
  if (state.offSteps > load<u32>(display, DISPLAY_OFF_STEPS)) state.isLatched = 0;
  return false;
}

/** The state that the record gives, after the latch has moved. */
function stateAfter(display: usize, state: CautionState, shown: i32, told: u32): u32 {
  const level: i32 = load<i32>(display, DISPLAY_CAUTION_COUNTS);
  const isValid: bool = (told & NUMBER_VALID) != 0;
  const isAt: bool = isValid && shown >= level;
  const isInhibited: bool = (told & INHIBIT_STANDS) != 0;
  if (state.isLatched != 0) {
    if (isInhibited) return CAUTION_INHIBITED;
    if (!isValid || isAt) return CAUTION_ON;
    return state.offSteps > 0 ? CAUTION_TIMING_OFF : CAUTION_HELD;
  }
  if (!isAt) return CAUTION_OFF;
  // With an on-delay that an inhibit stops, the delay stands at its start.
  const isOnlyHeldBack: bool = isInhibited && load<u32>(display, DISPLAY_ON_STEPS) == 0;
  return isOnlyHeldBack ? CAUTION_INHIBITED : CAUTION_TIMING_ON;
}

/**
 * Takes the number of one display step.
 *
 * An acknowledge counts where the caution's output stood on the step before: what rose earlier than
 * the crew could see the caution acknowledges nothing.
 *
 * Shape     told: NUMBER_…, INHIBIT_…, ACKNOWLEDGE_… bits; answer: 1 << EVENT_… of what happened
 * Effect    state.state and state.marks stand for this step
 */
export function cautionProcess(display: usize, state: CautionState, shown: i32, told: u32): u32 {
  if ((load<u32>(display, DISPLAY_FLAGS) & DISPLAY_FLAG_CAUTION) == 0) return 0;
  const before: u32 = state.marks;
  const endedInvalid: bool = latchStep(display, state, shown, told);
  state.state = stateAfter(display, state, shown, told);

  const isInhibited: bool = (told & INHIBIT_STANDS) != 0;
  const isAt: bool =
    (told & NUMBER_VALID) != 0 && shown >= load<i32>(display, DISPLAY_CAUTION_COUNTS);
  const isOn: bool = state.isLatched != 0 && !isInhibited;
  const wasOn: bool = (before & STATUS_CAUTION) != 0;
  let events: u32 = 0;
  if (isInhibited && (before & STATUS_INHIBITED) == 0) events |= eventBit(EVENT_INHIBIT_ON);
  if (!isInhibited && (before & STATUS_INHIBITED) != 0) events |= eventBit(EVENT_INHIBIT_OFF);

  let marks: u32 = 0;
  const isAcknowledge: bool = wasOn && (told & ACKNOWLEDGE_ROSE) != 0;
  if (isAcknowledge) events |= eventBit(EVENT_ACKNOWLEDGED);
  if (isOn && wasOn && (isAcknowledge || (before & STATUS_ACKNOWLEDGED) != 0)) {
    marks |= STATUS_ACKNOWLEDGED;
  }
  if (isOn && !wasOn) events |= eventBit(EVENT_CAUTION_ON);
  if (!isOn && wasOn) {
    events |= eventBit(endedInvalid ? EVENT_CAUTION_ENDED_INVALID : EVENT_CAUTION_OFF);
  }
  if (isAt) marks |= STATUS_AT_LEVEL;
  if (isOn) marks |= STATUS_CAUTION;
  if (isInhibited) marks |= STATUS_INHIBITED;
  state.marks = marks;
  return events;
}

/** Notes the peak: the greatest number; among equal ones the greatest level, then the first. */
function peakNote(
  state: ExceedanceState,
  shown: i32,
  levelValue: f32,
  speed: f32,
  revolution: u32,
): void {
  if (shown < state.peakShown) return;
  if (shown == state.peakShown && !(levelValue > state.peakLevel)) return;
  state.peakShown = shown;
  state.peakLevel = levelValue;
  state.peakSpeed = speed;
  state.peakRevolution = revolution;
  state.peakStep = state.steps;
}

/**
 * Takes the number of one display step into the exceedance.
 *
 * Effect    opens where the number reaches the caution level; true on the step that ends it: less
 *           than level − hysteresis, or no longer valid. The fields of `state` then describe it.
 */
export function exceedanceProcess(
  display: usize,
  state: ExceedanceState,
  isValid: bool,
  shown: i32,
  levelValue: f32,
  speed: f32,
  revolution: u32,
  tick: u64,
): bool {
  if ((load<u32>(display, DISPLAY_FLAGS) & DISPLAY_FLAG_CAUTION) == 0) return false;
  const level: i32 = load<i32>(display, DISPLAY_CAUTION_COUNTS);
  const isAt: bool = isValid && shown >= level;
  if (state.isOpen == 0) {
    if (!isAt) return false;
    state.isOpen = 1;
    state.steps = 0;
    state.aboveSteps = 1;
    state.onsetLow = <u32>tick;
    state.onsetHigh = <u32>(tick >> 32);
    state.peakShown = i32.MIN_VALUE;
    peakNote(state, shown, levelValue, speed, revolution);
    return false;
  }
  state.steps = oneMore(state.steps);
  if (isAt) state.aboveSteps = oneMore(state.aboveSteps);
  if (isValid && shown >= level - load<i32>(display, DISPLAY_HYSTERESIS_COUNTS)) {
    peakNote(state, shown, levelValue, speed, revolution);
    return false;
  }
  state.isOpen = 0;
  return true;
}
