// Where a display's states lie, one beside the other, in its 128 bytes; a channel's health; and
// which channel and shaft a filter belongs to.
import { FILTER_CHANNEL, FILTER_SHAFT, GLOBAL_FILTER_COUNT } from "../shared/layout.ts";
import { CautionState, ExceedanceState } from "./caution.ts";
import { HealthState } from "./health.ts";
import { NumberState } from "./level.ts";
import {
  DISPLAY_STATE_BYTES, HEALTH_STATE_BYTES, configFilter, configGlobal, displayState, healthState,
} from "./memory.ts";
import { ValidityState } from "./validity.ts";

// The number comes first.
export const VALIDITY_AT: usize = offsetof<NumberState>();
const CAUTION_AT: usize = VALIDITY_AT + offsetof<ValidityState>();
const EXCEEDANCE_AT: usize = CAUTION_AT + offsetof<CautionState>();
if (EXCEEDANCE_AT + offsetof<ExceedanceState>() > <usize>DISPLAY_STATE_BYTES) {
  ERROR("the state of a display has outgrown its place");
}
if (offsetof<HealthState>() > <usize>HEALTH_STATE_BYTES) {
  ERROR("the health state of a channel has outgrown its place");
}

export function numberOf(filter: i32): NumberState {
  return changetype<NumberState>(displayState(filter));
}
export function validityOf(filter: i32): ValidityState {
  return changetype<ValidityState>(displayState(filter) + VALIDITY_AT);
}
export function cautionOf(filter: i32): CautionState {
  return changetype<CautionState>(displayState(filter) + CAUTION_AT);
}
export function exceedanceOf(filter: i32): ExceedanceState {
  return changetype<ExceedanceState>(displayState(filter) + EXCEEDANCE_AT);
}
export function healthOf(channel: i32): HealthState {
  return changetype<HealthState>(healthState(channel));
}

export function filterCount(): i32 {
  return load<i32>(configGlobal(), GLOBAL_FILTER_COUNT);
}
export function channelOf(filter: i32): i32 {
  return load<i32>(configFilter(filter), FILTER_CHANNEL);
}
export function shaftOf(filter: i32): i32 {
  return load<i32>(configFilter(filter), FILTER_SHAFT);
}
