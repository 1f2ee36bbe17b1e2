// @ts-nocheck AssemblyScript: asc checks it. Imports carry no extension, so that tsc leaves it alone.
// An entry of its own for asc: the display step with its records, the tracker and the tachometer
// stood in for. Never part of the firmware.
import { CONFIGURATION, COUNTERS, INPUT, RECORDS } from "../../../assembly/memory";
import {
  emitEvent,
  recordStore,
  recordsClear,
  recordsCount,
  recordsReset,
} from "../../../assembly/records";
import {
  healthIntake,
  inputsSet,
  stepEmit,
  stepReset,
} from "../../../assembly/step";
import { healthOf } from "../../../assembly/display-state";
import { tachAddress } from "../../../assembly/tach";
import { trackerAddress } from "../../../assembly/tracker";

export {
  healthIntake,
  inputsSet,
  recordsClear,
  recordsCount,
  recordsReset,
  stepReset,
  tachAddress,
  trackerAddress,
};

export function addressConfiguration(): usize {
  return CONFIGURATION;
}
export function addressRecords(): usize {
  return RECORDS;
}
export function addressCounters(): usize {
  return COUNTERS;
}
/** A place for samples; the input block is not used here. */
export function addressSamples(): usize {
  return INPUT;
}
export function step(tickLow: u32, tickHigh: u32): void {
  stepEmit((<u64>tickHigh << 32) | <u64>tickLow);
}
export function event(code: i32, source: i32, tickLow: u32, detail: i32): void {
  emitEvent(code, source, <u64>tickLow, detail);
}
/** What a record would hold of a number. */
export function stored(value: f32): f32 {
  recordStore(INPUT, value);
  return load<f32>(INPUT);
}
export function channelHasFault(channel: i32): bool {
  return healthOf(channel).faults != 0;
}
