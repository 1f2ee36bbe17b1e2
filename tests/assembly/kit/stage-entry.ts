// @ts-nocheck AssemblyScript: asc checks it. Imports carry no extension, so that tsc leaves it alone.
// An entry of its own for asc: the stages after the tracker, fed directly, so that exact ties and
// tables of states can be tested without a waveform. Never part of the firmware.
import {
  CautionState,
  ExceedanceState,
  cautionProcess,
  exceedanceProcess,
} from "../../../assembly/caution";
import {
  HealthState,
  broadbandRms,
  burstRms,
  healthJudge,
  healthServes,
  healthStateReset,
  healthTake,
  noiseFloorRms,
} from "../../../assembly/health";
import {
  NumberState,
  numberCounts,
  numberProcess,
  numberScale,
  numberSource,
  numberValue,
} from "../../../assembly/level";
import {
  ValidityState,
  shownValidityProcess,
  spoilProcess,
  validityProcess,
  validityReset,
} from "../../../assembly/validity";
import { labelReversed, wordCompose, wordCounts, wordProcess } from "../../../assembly/word";
import { CHANNEL_RANGE } from "../../../shared/layout";

export { labelReversed, wordCompose, wordCounts, numberCounts, healthServes };

// One block of each kind; a test writes the configuration bytes itself.
const FILTERS: i32 = 8;
const STRIDE: usize = 128;
const DISPLAY: usize = memory.data(96, 16);
const SHAFT: usize = memory.data(64, 16);
const CHANNEL: usize = memory.data(192, 16);
const NUMBERS: usize = memory.data(1024, 16);
const VALIDITIES: usize = memory.data(1024, 16);
const CAUTION: usize = memory.data(32, 16);
const EXCEEDANCE: usize = memory.data(64, 16);
const HEALTH: usize = memory.data(128, 16);
const SAMPLES: usize = memory.data(16384, 16);

export function addressDisplay(): usize {
  return DISPLAY;
}
export function addressShaft(): usize {
  return SHAFT;
}
export function addressChannel(): usize {
  return CHANNEL;
}
export function addressSamples(): usize {
  return SAMPLES;
}
export function addressExceedance(): usize {
  return EXCEEDANCE;
}
/** Counts of steps, to be set to where they end. */
export function addressOnSteps(): usize {
  return CAUTION + offsetof<CautionState>("onSteps");
}
export function addressInvalidSteps(): usize {
  return NUMBERS + offsetof<NumberState>("invalidSteps");
}
export function addressBelowSteps(): usize {
  return VALIDITIES + offsetof<ValidityState>("belowSteps");
}

function numberOf(filter: i32): NumberState {
  return changetype<NumberState>(NUMBERS + <usize>filter * STRIDE);
}
function validityOf(filter: i32): ValidityState {
  return changetype<ValidityState>(VALIDITIES + <usize>filter * STRIDE);
}

/** All states as before the first step; the configuration stays. */
export function stageReset(): void {
  memory.fill(NUMBERS, 0, 1024);
  memory.fill(CAUTION, 0, 32);
  memory.fill(EXCEEDANCE, 0, 64);
  for (let i: i32 = 0; i < FILTERS; i++) validityReset(validityOf(i));
  healthStateReset(changetype<HealthState>(HEALTH));
}

export function stageWord(shown: i32, validity: i32): u32 {
  return wordProcess(DISPLAY, shown, validity);
}

export function stageScale(speed: f32): f32 {
  return numberScale(DISPLAY, speed);
}
export function stageNumber(isValid: bool, value: f32): i32 {
  numberProcess(DISPLAY, numberOf(0), isValid, value);
  return numberOf(0).shown;
}
export function stageNumberMarks(): u32 {
  return numberOf(0).marks;
}
export function stageMeasured(filter: i32, levelValue: f32, speedNow: f32): f32 {
  const state: NumberState = numberOf(filter);
  state.levelValue = levelValue;
  state.speedNow = speedNow;
  return numberValue(DISPLAY, state);
}
export function stageSource(filter: i32, filterCount: i32, validFilters: u32): i32 {
  return numberSource(DISPLAY, filter, filterCount, validFilters, NUMBERS, STRIDE);
}

export function stageValidity(filter: i32, facts: u32, speedNow: f32): i32 {
  const state: ValidityState = validityOf(filter);
  validityProcess(SHAFT, state, facts, speedNow);
  return (state.validity << 8) | state.cause;
}
/** True while the filter has not settled again after samples that no transducer measured. */
export function stageSpoiled(
  filter: i32,
  facts: u32,
  revolution: u32,
  settling: u32,
  isPerCycle: bool,
): bool {
  spoilProcess(validityOf(filter), facts, revolution, settling, isPerCycle);
  return validityOf(filter).cleanRevolution != 0;
}
export function stageShownValidity(filter: i32, serving: i32, filterCount: i32): i32 {
  const own: ValidityState = validityOf(filter);
  shownValidityProcess(DISPLAY, own, serving, filterCount, VALIDITIES, STRIDE);
  return (own.shownValidity << 8) | own.shownCause;
}

export function stageCaution(shown: i32, told: u32): u32 {
  return cautionProcess(DISPLAY, changetype<CautionState>(CAUTION), shown, told);
}
export function stageCautionState(): u32 {
  return changetype<CautionState>(CAUTION).state;
}
export function stageCautionMarks(): u32 {
  return changetype<CautionState>(CAUTION).marks;
}
export function stageExceedance(
  isValid: bool,
  shown: i32,
  levelValue: f32,
  speed: f32,
  revolution: u32,
  tickLow: u32,
  tickHigh: u32,
): bool {
  const state: ExceedanceState = changetype<ExceedanceState>(EXCEEDANCE);
  const tick: u64 = ((<u64>tickHigh) << 32) | <u64>tickLow;
  return exceedanceProcess(DISPLAY, state, isValid, shown, levelValue, speed, revolution, tick);
}

/** Samples from the start of the samples' block plus `from`. */
export function stageHealthTake(displaySamples: i32, from: i32, count: i32): u32 {
  const at: usize = SAMPLES + ((<usize>from) << 2);
  const range: f32 = load<f32>(CHANNEL + CHANNEL_RANGE);
  return healthTake(range, changetype<HealthState>(HEALTH), displaySamples, at, count);
}
export function stageHealthJudge(
  displaySamples: i32,
  isTurning: bool,
  trackedRms: f32,
  share: f32,
  isJudged: bool,
): u32 {
  const state: HealthState = changetype<HealthState>(HEALTH);
  return healthJudge(CHANNEL, state, displaySamples, isTurning, trackedRms, share, isJudged);
}
export function stageHealthFaults(): u32 {
  return changetype<HealthState>(HEALTH).faults;
}
export function stageBroadbandRms(): f32 {
  return broadbandRms(changetype<HealthState>(HEALTH));
}
export function stageNoiseFloorRms(): f32 {
  return noiseFloorRms(changetype<HealthState>(HEALTH));
}
export function stageBurstRms(displaySamples: i32): f32 {
  return burstRms(changetype<HealthState>(HEALTH), displaySamples);
}
