// Whether a number may be believed, and if not, why. The order of the table is the order of
// precedence: functional test, transducer, reference, minimum speed, channel response, settling.
import {
  DISPLAY_SOURCE,
  DISPLAY_SOURCES,
  SHAFT_VALID_HYSTERESIS,
  SHAFT_VALID_SPEED,
  SHAFT_VALID_STEPS,
} from "../shared/layout.ts";
import {
  CAUSE_BELOW_MINIMUM_SPEED,
  CAUSE_FUNCTIONAL_TEST,
  CAUSE_NONE,
  CAUSE_NO_REFERENCE,
  CAUSE_NO_SOURCE,
  CAUSE_REFERENCE_LOST,
  CAUSE_RESPONSE,
  CAUSE_SETTLING,
  CAUSE_STOPPED,
  CAUSE_TRANSDUCER,
  FAILURE,
  FUNCTIONAL_TEST,
  NO_COMPUTED_DATA,
  SOURCE_GREATEST,
  VALID,
} from "../shared/units.ts";

// What a step knows of a filter, bits.
export const FACT_TEST: u32 = 1; // the functional test runs
export const FACT_TRANSDUCER: u32 = 2; // a health check of the channel stands
export const FACT_LOCKED: u32 = 4; // the shaft's reference stands
export const FACT_HAS_BEEN_LOCKED: u32 = 8;
export const FACT_EVIDENCE: u32 = 16; // something else shows that the shaft turns
export const FACT_COMPUTED: u32 = 32; // there is a vector
export const FACT_RESPONSE_LOW: u32 = 64; // the channel's response is under 0.5 there
export const FACT_SETTLED: u32 = 128;
export const FACT_TEST_SEEN: u32 = 256; // it ran at some sample since the last step

/** Cycles after which a vector holds no sample of a cycle that is still running. */
const CLEAN_CYCLES: u32 = 3;

@unmanaged
export class ValidityState {
  validity: i32; // of the filter
  cause: i32;
  isBelow: u8; // below minimum speed, delay over
  hasBeenValid: u8; // since the acquisition
  belowSteps: u32; // steps in a row below it
  acquisition: u32; // of the filter, at the last step
  shownValidity: i32; // of the display
  shownCause: i32;
  cleanRevolution: u32; // cycles closed at the first vector after spoiled samples; 0 = none spoiled
  cleanSteps: u32; // display steps since that vector
}

/** What stands before the first display step. */
export function validityReset(state: ValidityState): void {
  state.validity = NO_COMPUTED_DATA;
  state.cause = CAUSE_NO_REFERENCE;
  state.isBelow = 0;
  state.belowSteps = 0;
  state.hasBeenValid = 0;
  state.shownValidity = NO_COMPUTED_DATA;
  state.shownCause = CAUSE_NO_REFERENCE;
  state.cleanRevolution = 0;
  state.cleanSteps = 0;
  state.acquisition = 0;
}

/** Forgets what an acquisition before left behind, also where its loss fell between two steps. */
export function acquisitionProcess(state: ValidityState, acquisition: u32): void {
  if (acquisition == state.acquisition) return;
  state.acquisition = acquisition;
  state.isBelow = 0;
  state.hasBeenValid = 0;
  state.cleanRevolution = 0;
}

/**
 * Keeps count of how long a filter has been free of samples that were not the transducer's: those
 * of a functional test or of a failed transducer. They leave the poles as a start does, so that the
 * filter settles again as after an acquisition. Spoiled samples may lie behind the last step that
 * showed them, hence the step after counts as spoiled as well.
 *
 * Shape     revolution: cycles closed at the newest vector; settling: display steps that the poles
 *           take, or cycles where `isPerCycle`
 */
export function spoilProcess(
  state: ValidityState,
  facts: u32,
  revolution: u32,
  settling: u32,
  isPerCycle: bool,
): void {
  if ((facts & FACT_LOCKED) == 0) {
    state.cleanRevolution = 0;
    return;
  }
  const isSpoiled: bool = (facts & (FACT_TEST | FACT_TEST_SEEN | FACT_TRANSDUCER)) != 0;
  const wasSpoiled: bool =
    state.cause == CAUSE_FUNCTIONAL_TEST || state.cause == CAUSE_TRANSDUCER;
  if (isSpoiled || wasSpoiled) {
    // Before the first vector one more cycle may have closed than the filter says.
    const isComputed: bool = (facts & FACT_COMPUTED) != 0;
    state.cleanRevolution = revolution + CLEAN_CYCLES + <u32>!isComputed;
    state.cleanSteps = 0;
    return;
  }
  if (state.cleanRevolution == 0 || revolution < state.cleanRevolution) return;
  const isOver: bool = isPerCycle
    ? revolution - state.cleanRevolution >= settling
    : state.cleanSteps >= settling;
  if (isOver) state.cleanRevolution = 0;
  else state.cleanSteps += 1;
}

/**
 * Keeps the minimum-speed state of a filter.
 *
 * Below counts when the speed stood below the minimum on this and the N steps before; until the
 * first valid number since the acquisition it counts at once, since the delay is there to bridge a
 * dip in a number that is shown. It ends at once at minimum + hysteresis.
 */
function speedStep(shaft: usize, state: ValidityState, facts: u32, speedNow: f32): void {
  if ((facts & FACT_LOCKED) == 0 || (facts & FACT_COMPUTED) == 0) {
    state.isBelow = 0;
    state.hasBeenValid = 0;
    return;
  }
  const speedMin: f32 = load<f32>(shaft, SHAFT_VALID_SPEED);
  if (state.isBelow != 0) {
    if (speedNow >= speedMin + load<f32>(shaft, SHAFT_VALID_HYSTERESIS)) {
      state.isBelow = 0;
      state.belowSteps = 0;
    }
    return;
  }
  if (!(speedNow < speedMin)) {
    state.belowSteps = 0;
    return;
  }
  if (state.belowSteps != u32.MAX_VALUE) state.belowSteps += 1;
  const isOver: bool = state.belowSteps > load<u32>(shaft, SHAFT_VALID_STEPS);
  if (isOver || state.hasBeenValid == 0) state.isBelow = 1;
}

function put(state: ValidityState, validity: i32, cause: i32): void {
  state.validity = validity;
  state.cause = cause;
}

/**
 * Takes one display step's facts of a filter; state.validity and state.cause stand for it.
 * Called after spoilProcess.
 */
export function validityProcess(
  shaft: usize,
  state: ValidityState,
  facts: u32,
  speedNow: f32,
): void {
  speedStep(shaft, state, facts, speedNow);
  if ((facts & FACT_TEST) != 0) return put(state, FUNCTIONAL_TEST, CAUSE_FUNCTIONAL_TEST);
  if ((facts & FACT_TRANSDUCER) != 0) return put(state, FAILURE, CAUSE_TRANSDUCER);
  if ((facts & FACT_LOCKED) == 0) {
    if ((facts & FACT_EVIDENCE) != 0) return put(state, FAILURE, CAUSE_REFERENCE_LOST);
    const hasBeen: bool = (facts & FACT_HAS_BEEN_LOCKED) != 0;
    return put(state, NO_COMPUTED_DATA, hasBeen ? CAUSE_STOPPED : CAUSE_NO_REFERENCE);
  }
  if (state.isBelow != 0) return put(state, NO_COMPUTED_DATA, CAUSE_BELOW_MINIMUM_SPEED);
  if ((facts & FACT_RESPONSE_LOW) != 0) return put(state, NO_COMPUTED_DATA, CAUSE_RESPONSE);
  const settled: u32 = FACT_COMPUTED | FACT_SETTLED;
  const isSettled: bool = (facts & settled) == settled && state.cleanRevolution == 0;
  if (!isSettled) return put(state, NO_COMPUTED_DATA, CAUSE_SETTLING);
  state.hasBeenValid = 1;
  put(state, VALID, CAUSE_NONE);
}

/**
 * Validity of a display's number, from that of its sources.
 *
 * Shape     serving: what numberSource answered; states: ValidityState of filter 0, `stride` bytes
 *           between filters
 * Effect    own.shownValidity and own.shownCause stand for this step
 */
export function shownValidityProcess(
  display: usize,
  own: ValidityState,
  serving: i32,
  filterCount: i32,
  states: usize,
  stride: usize,
): void {
  if (serving >= 0) {
    own.shownValidity = VALID;
    own.shownCause = CAUSE_NONE;
    return;
  }
  if (load<i32>(display, DISPLAY_SOURCE) != SOURCE_GREATEST) {
    own.shownValidity = own.validity;
    own.shownCause = own.cause;
    return;
  }
  const sources: u32 = load<u32>(display, DISPLAY_SOURCES);
  let isTest: bool = false;
  let areAllFailed: bool = true;
  for (let i: i32 = 0; i < filterCount; i++) {
    if ((sources >> i & 1) == 0) continue;
    const validity: i32 = changetype<ValidityState>(states + <usize>i * stride).validity;
    if (validity == FUNCTIONAL_TEST) isTest = true;
    if (validity != FAILURE) areAllFailed = false;
  }
  own.shownValidity = isTest ? FUNCTIONAL_TEST : areAllFailed ? FAILURE : NO_COMPUTED_DATA;
  own.shownCause = isTest ? CAUSE_FUNCTIONAL_TEST : CAUSE_NO_SOURCE;
}
