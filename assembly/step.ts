// One display step: health of each channel, then validity of each filter, then for each display the
// number, the caution and their records. Called on the one grid of the whole device, after both
// shafts were brought up to it.
import { CHANNELS_MAX, FILTERS_MAX } from "../shared/capacity.ts";
import {
  CHANNEL_COUNT_STEP, CHANNEL_RANGE, COUNTER_HEALTH, COUNTER_SAMPLES_CLIPPED, DISPLAY_COUNTS_MAX,
  DISPLAY_SOURCE, FILTER_BANDWIDTH, FILTER_POLE, GLOBAL_CHANNEL_COUNT, GLOBAL_CLOCK_HZ,
  GLOBAL_DISPLAY_SAMPLES, GLOBAL_TICKS_PER_SAMPLE, INPUT_INHIBIT, SHAFT_REVOLUTIONS, STATUS_HELD,
  STATUS_SUBSTITUTE,
} from "../shared/layout.ts";
import {
  BANDWIDTH_PROPORTIONAL, CAUSE_NONE, EVENT_ACKNOWLEDGED, EVENT_CAUTION_ENDED_INVALID,
  EVENT_CAUTION_OFF, EVENT_CAUTION_ON, EVENT_INHIBIT_OFF, EVENT_INHIBIT_ON, EVENT_INVALID,
  EVENT_SUBSTITUTE_OFF, EVENT_SUBSTITUTE_ON, EVENT_TEST_OFF, EVENT_TEST_ON, EVENT_TRANSDUCER_FAULT,
  EVENT_TRANSDUCER_HEALTHY, EVENT_VALID, HEALTH_BROADBAND, HEALTH_CHECKS, SOURCE_SUBSTITUTE, VALID,
} from "../shared/units.ts";
import {
  ACKNOWLEDGE_ROSE, INHIBIT_STANDS, NUMBER_HELD, NUMBER_VALID, cautionProcess, exceedanceProcess,
} from "./caution.ts";
import {
  VALIDITY_AT, cautionOf, channelOf, exceedanceOf, filterCount, healthOf, numberOf,
  shaftOf, validityOf,
} from "./display-state.ts";
import {
  HealthState, TRACKED_UNKNOWN, clippedCount, healthChecks, healthJudge, healthStateReset,
  healthTake,
} from "./health.ts";
import { NumberState, numberProcess, numberSource, numberValue } from "./level.ts";
import {
  DISPLAY_STATE_BYTES, configChannel, configDisplay, configFilter, configGlobal, configShaft,
  counterAdd, displayState,
} from "./memory.ts";
import { validityStep } from "./filter-facts.ts";
import {
  acknowledgeRose, inputStands, inputsReset, inputsStepEnd, testStands, testStep, testWasSeen,
} from "./inputs.ts";
import { emitEvent } from "./records.ts";
import { exceedanceRecord, filterEvent, levelRecord } from "./step-records.ts";
import { tachIsLocked } from "./tach.ts";
import {
  trackerIsComputed, trackerIsSettled, trackerRawPk, trackerRevolution, trackerSpeed,
  trackerSpeedNow,
} from "./tracker.ts";
import { ValidityState, shownValidityProcess, validityReset } from "./validity.ts";

// asc takes no extension in a re-export.
export { inputsSet } from "./inputs";

/** Greatest i16 count. */
const COUNT_LAST: f32 = 32767;
const SQRT_HALF: f32 = 0.70710678118654752;

/** All displays, cautions and channels as before the first sample. */
export function stepReset(): void {
  for (let f: i32 = 0; f < FILTERS_MAX; f++) {
    memory.fill(displayState(f), 0, DISPLAY_STATE_BYTES);
    validityReset(validityOf(f));
    numberOf(f).serving = -1;
  }
  for (let c: i32 = 0; c < CHANNELS_MAX; c++) healthStateReset(healthOf(c));
  inputsReset();
}

/**
 * Takes samples of a channel at intake.
 *
 * Shape     f32[count] at `address`, finite, SI; none of them beyond the next display step
 */
export function healthIntake(channel: i32, address: usize, count: i32, isCounts: bool): void {
  const samples: i32 = load<i32>(configGlobal(), GLOBAL_DISPLAY_SAMPLES);
  const config: usize = configChannel(channel);
  // A converter's last count is clipped as well: it may lie under the range.
  const last: f32 = isCounts ? load<f32>(config, CHANNEL_COUNT_STEP) * COUNT_LAST : f32.MAX_VALUE;
  const range: f32 = min<f32>(load<f32>(config, CHANNEL_RANGE), last);
  const clipped: u32 = healthChecks(config) != 0
    ? healthTake(range, healthOf(channel), samples, address, count)
    : clippedCount(range, address, count);
  if (clipped != 0) counterAdd(COUNTER_SAMPLES_CLIPPED + 4 * channel, clipped);
}

// --- health

/**
 * The greatest tracked rms of a channel's settled filters, in the channel's own quantity. A filter
 * that settles after spoiled samples says nothing of this period, unless it is being compared
 * already: that verdict must be able to end.
 */
function trackedRmsOf(channel: i32): f32 {
  const isCompared: bool = (healthOf(channel).faults >> HEALTH_BROADBAND & 1) != 0;
  let greatest: f32 = TRACKED_UNKNOWN;
  for (let f: i32 = 0; f < filterCount(); f++) {
    if (channelOf(f) != channel) continue;
    if (!trackerIsSettled(f)) continue;
    if (validityOf(f).cleanRevolution != 0 && !isCompared) continue;
    const rms: f32 = trackerRawPk(f) * SQRT_HALF;
    if (!(rms <= greatest)) greatest = rms;
  }
  return greatest;
}

/**
 * Display period over the longest time constant of a channel's computed filters. Two cycles are
 * added to each: the triangle and the age of its newest vector.
 */
function memoryShareOf(channel: i32): f32 {
  const global: usize = configGlobal();
  const samples: f32 = <f32>load<u32>(global, GLOBAL_DISPLAY_SAMPLES);
  const ticks: f32 = samples * <f32>load<u32>(global, GLOBAL_TICKS_PER_SAMPLE);
  const periodS: f32 = ticks / <f32>load<u32>(global, GLOBAL_CLOCK_HZ);
  let share: f32 = 0;
  for (let f: i32 = 0; f < filterCount(); f++) {
    if (channelOf(f) != channel || !trackerIsComputed(f)) continue;
    const revolutions: i32 = load<i32>(configShaft(shaftOf(f)), SHAFT_REVOLUTIONS);
    const speed: f32 = trackerSpeedNow(f);
    const pole: f32 = load<f32>(configFilter(f), FILTER_POLE);
    const isPerCycle: bool =
      load<i32>(configFilter(f), FILTER_BANDWIDTH) == BANDWIDTH_PROPORTIONAL;
    const tauS: f32 = isPerCycle ? 1 / (pole * speed) : pole;
    const found: f32 = periodS / (tauS + 2 * <f32>revolutions / speed);
    if (share == 0 || found < share) share = found;
  }
  return share;
}

/** True while a shaft turns that a filter of the channel tracks. */
function channelTurns(channel: i32): bool {
  for (let f: i32 = 0; f < filterCount(); f++) {
    if (channelOf(f) == channel && tachIsLocked(shaftOf(f))) return true;
  }
  return false;
}

/** A period in which the functional test ran, or started or ended, is passed over. */
function healthStep(channel: i32, tick: u64, isJudged: bool): void {
  const state: HealthState = healthOf(channel);
  const samples: i32 = load<i32>(configGlobal(), GLOBAL_DISPLAY_SAMPLES);
  const config: usize = configChannel(channel);
  const turns: bool = channelTurns(channel);
  const tracked: f32 = trackedRmsOf(channel);
  const bits: u32 = healthJudge(
    config, state, samples, turns, tracked, memoryShareOf(channel), isJudged,
  );
  if (bits == 0) return;
  for (let check: i32 = 0; check < HEALTH_CHECKS; check++) {
    if ((bits >> check & 1) != 0) counterAdd(COUNTER_HEALTH + 4 * check, 1);
    if ((bits >> (16 + check) & 1) == 0) continue;
    const stands: bool = (state.faults >> check & 1) != 0;
    emitEvent(stands ? EVENT_TRANSDUCER_FAULT : EVENT_TRANSDUCER_HEALTHY, channel, tick, check);
  }
}

// --- number, caution and their records

/** Brings a display up to this step; answers 1 << EVENT_… of its caution. */
function displayAdvance(f: i32, validFilters: u32): u32 {
  const display: usize = configDisplay(f);
  const number: NumberState = numberOf(f);
  const count: i32 = filterCount();
  const states: usize = displayState(0);
  const stride: usize = DISPLAY_STATE_BYTES;
  const serving: i32 = numberSource(display, f, count, validFilters, states, stride);
  shownValidityProcess(display, validityOf(f), serving, count, states + VALIDITY_AT, stride);
  const isValid: bool = serving >= 0;
  number.serving = serving;
  numberProcess(display, number, isValid, isValid ? numberValue(display, numberOf(serving)) : 0);
  return cautionAdvance(f, isValid);
}

/** Brings the caution up to the number that now stands; answers 1 << EVENT_… of what happened. */
function cautionAdvance(f: i32, isValid: bool): u32 {
  const number: NumberState = numberOf(f);
  let told: u32 = 0;
  if (isValid) told |= NUMBER_VALID;
  if ((number.marks & STATUS_HELD) != 0) told |= NUMBER_HELD;
  if (inputStands(INPUT_INHIBIT, f)) told |= INHIBIT_STANDS;
  if (acknowledgeRose(f)) told |= ACKNOWLEDGE_ROSE;
  return cautionProcess(configDisplay(f), cautionOf(f), number.shown, told);
}

/** True where a display's substitute made the number of the last step. */
function isSubstituted(f: i32): bool {
  const serving: i32 = numberOf(f).serving;
  const source: i32 = load<i32>(configDisplay(f), DISPLAY_SOURCE);
  return source == SOURCE_SUBSTITUTE && serving >= 0 && serving != f;
}

function cautionEvent(code: i32, f: i32, tick: u64, events: u32): void {
  if ((events >> code & 1) != 0) filterEvent(code, f, tick, 0);
}

/** One display: its level record, then its events. */
function displayStep(f: i32, validFilters: u32, tick: u64): void {
  const wasValid: bool = validityOf(f).shownValidity == VALID;
  const wasSubstituted: bool = isSubstituted(f);
  const events: u32 = displayAdvance(f, validFilters);
  displayEmit(f, tick, wasValid, wasSubstituted, events);
}

/** Tells what a display came to at this step. */
function displayEmit(
  f: i32, tick: u64, wasValid: bool, wasSubstituted: bool, events: u32,
): void {
  const validity: ValidityState = validityOf(f);
  const number: NumberState = numberOf(f);
  const isValid: bool = validity.shownValidity == VALID;
  const substituted: bool = isSubstituted(f);
  let bits: u32 = number.marks | cautionOf(f).marks;
  if (substituted) bits |= STATUS_SUBSTITUTE;
  levelRecord(f, tick, bits);

  if (isValid && !wasValid) filterEvent(EVENT_VALID, f, tick, 0);
  if (!isValid && wasValid) filterEvent(EVENT_INVALID, f, tick, validity.shownCause);
  if (substituted && !wasSubstituted) filterEvent(EVENT_SUBSTITUTE_ON, f, tick, number.serving);
  if (!substituted && wasSubstituted) filterEvent(EVENT_SUBSTITUTE_OFF, f, tick, 0);
  cautionEvent(EVENT_INHIBIT_ON, f, tick, events);
  cautionEvent(EVENT_INHIBIT_OFF, f, tick, events);
  cautionEvent(EVENT_ACKNOWLEDGED, f, tick, events);
  cautionEvent(EVENT_CAUTION_ON, f, tick, events);
  cautionEvent(EVENT_CAUTION_OFF, f, tick, events);
  cautionEvent(EVENT_CAUTION_ENDED_INVALID, f, tick, events);

  const from: i32 = isValid ? number.serving : f;
  const hasEnded: bool = exceedanceProcess(
    configDisplay(f), exceedanceOf(f), isValid, number.shown, numberOf(from).levelValue,
    trackerSpeed(from), trackerRevolution(from), tick,
  );
  if (hasEnded) exceedanceRecord(f, tick);
}

/**
 * Takes a number that was shown elsewhere (a recorded level) straight into the caution stage.
 *
 * Shape     counts of the display step, valid; held within 0 … the display's greatest count
 * Effect    one level record without a vector, its events, an exceedance that ended
 */
export function stepShown(f: i32, counts: i32, tick: u64): void {
  const number: NumberState = numberOf(f);
  const validity: ValidityState = validityOf(f);
  const wasValid: bool = validity.shownValidity == VALID;
  number.shown = max(0, min(counts, load<i32>(configDisplay(f), DISPLAY_COUNTS_MAX)));
  number.marks = 0;
  number.serving = f;
  validity.shownValidity = VALID;
  validity.shownCause = CAUSE_NONE;
  displayEmit(f, tick, wasValid, false, cautionAdvance(f, true));
  inputsStepEnd();
}

/**
 * Takes one display step of the whole device.
 *
 * Effect    event of the functional test; events of health per channel; then for each filter its
 *           level record, its events and the exceedance that ended
 */
export function stepEmit(tick: u64): void {
  if (testStep()) emitEvent(testStands() ? EVENT_TEST_ON : EVENT_TEST_OFF, 0, tick, 0);
  const channels: i32 = load<i32>(configGlobal(), GLOBAL_CHANNEL_COUNT);
  for (let c: i32 = 0; c < channels; c++) healthStep(c, tick, !testWasSeen());

  const count: i32 = filterCount();
  let validFilters: u32 = 0;
  for (let f: i32 = 0; f < count; f++) {
    validityStep(f);
    if (validityOf(f).validity == VALID) validFilters |= <u32>1 << f;
  }
  for (let f: i32 = 0; f < count; f++) displayStep(f, validFilters, tick);
  inputsStepEnd();
}
