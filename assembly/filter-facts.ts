// What one display step knows of a filter, and the validity that follows from it.
import {
  EVIDENCE_INPUT, EVIDENCE_OTHER_SHAFT, FILTER_BANDWIDTH, FILTER_LEVEL_FACTOR, FILTER_POLE,
  GLOBAL_CLOCK_HZ, GLOBAL_DISPLAY_SAMPLES, GLOBAL_SHAFT_COUNT, GLOBAL_TICKS_PER_SAMPLE,
  INPUT_RUNNING, SHAFT_EVIDENCE, SHAFT_REVOLUTIONS,
} from "../shared/layout.ts";
import { BANDWIDTH_PROPORTIONAL } from "../shared/units.ts";
import { channelOf, healthOf, numberOf, shaftOf, validityOf } from "./display-state.ts";
import { inputStands, testStands, testWasSeen } from "./inputs.ts";
import { NumberState, isFiniteNumber } from "./level.ts";
import { configFilter, configGlobal, configShaft } from "./memory.ts";
import { tachHasBeenLocked, tachIsLocked } from "./tach.ts";
import {
  SETTLING_TAUS, trackerAcquisition, trackerIsComputed, trackerIsSettled, trackerLevelPk,
  trackerResponseIsLow, trackerRevolution, trackerSpeedNow,
} from "./tracker.ts";
import {
  FACT_COMPUTED, FACT_EVIDENCE, FACT_HAS_BEEN_LOCKED, FACT_LOCKED, FACT_RESPONSE_LOW, FACT_SETTLED,
  FACT_TEST, FACT_TEST_SEEN, FACT_TRANSDUCER, ValidityState, acquisitionProcess, spoilProcess,
  validityProcess,
} from "./validity.ts";

const WHOLE_MAX: f32 = 1e9;

/** True where something else shows that a shaft turns. */
function hasEvidence(shaft: i32): bool {
  const evidence: u32 = load<u32>(configShaft(shaft), SHAFT_EVIDENCE);
  if ((evidence & EVIDENCE_INPUT) != 0 && inputStands(INPUT_RUNNING, shaft)) return true;
  const hasOther: bool = load<i32>(configGlobal(), GLOBAL_SHAFT_COUNT) > 1;
  return (evidence & EVIDENCE_OTHER_SHAFT) != 0 && hasOther && tachIsLocked(1 - shaft);
}

/** The next whole number, held within what u32 can say. */
function wholeOf(value: f32): u32 {
  return value < WHOLE_MAX ? <u32>Mathf.ceil(value) : <u32>WHOLE_MAX;
}

/** What the poles of a filter take to settle: cycles, or display steps where τ is in seconds. */
function settlingOf(f: i32, isPerCycle: bool): u32 {
  const pole: f32 = load<f32>(configFilter(f), FILTER_POLE);
  if (isPerCycle) {
    const revolutions: i32 = load<i32>(configShaft(shaftOf(f)), SHAFT_REVOLUTIONS);
    return wholeOf(SETTLING_TAUS / (pole * <f32>revolutions));
  }
  const samples: u32 = load<u32>(configGlobal(), GLOBAL_DISPLAY_SAMPLES);
  const ticks: f32 = <f32>samples * <f32>load<u32>(configGlobal(), GLOBAL_TICKS_PER_SAMPLE);
  const clockHz: f32 = <f32>load<u32>(configGlobal(), GLOBAL_CLOCK_HZ);
  return wholeOf(SETTLING_TAUS * pole * clockHz / ticks);
}

/** Brings a filter's measured level and validity up to this display step. */
export function validityStep(f: i32): void {
  const shaft: i32 = shaftOf(f);
  const number: NumberState = numberOf(f);
  const isComputed: bool = trackerIsComputed(f);
  const factor: f32 = load<f32>(configFilter(f), FILTER_LEVEL_FACTOR);
  const value: f32 = isComputed ? trackerLevelPk(f) * factor : 0;
  const isNumber: bool = isFiniteNumber(value);
  number.levelValue = isNumber ? value : 0;
  number.speedNow = isComputed ? trackerSpeedNow(f) : 0;
  let facts: u32 = 0;
  if (testStands()) facts |= FACT_TEST;
  if (testWasSeen()) facts |= FACT_TEST_SEEN;
  // A level beyond f32 is beyond every transducer.
  if (healthOf(channelOf(f)).faults != 0 || !isNumber) facts |= FACT_TRANSDUCER;
  if (tachIsLocked(shaft)) facts |= FACT_LOCKED;
  if (tachHasBeenLocked(shaft)) facts |= FACT_HAS_BEEN_LOCKED;
  if (hasEvidence(shaft)) facts |= FACT_EVIDENCE;
  if (isComputed) facts |= FACT_COMPUTED;
  if (trackerResponseIsLow(f)) facts |= FACT_RESPONSE_LOW;
  if (trackerIsSettled(f)) facts |= FACT_SETTLED;
  const state: ValidityState = validityOf(f);
  acquisitionProcess(state, trackerAcquisition(f));
  const isPerCycle: bool = load<i32>(configFilter(f), FILTER_BANDWIDTH) == BANDWIDTH_PROPORTIONAL;
  spoilProcess(state, facts, trackerRevolution(f), settlingOf(f, isPerCycle), isPerCycle);
  validityProcess(configShaft(shaft), state, facts, number.speedNow);
}
