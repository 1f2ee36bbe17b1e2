// The names under which events, validities, causes and caution states stand in results.
import * as U from "../../shared/units.ts";

/** Name of each EVENT_… code, as results, reports and scenarios write it. */
export const EVENT_NAMES: Readonly<Record<number, string>> = {
  [U.EVENT_REFERENCE_FOUND]: "reference-found",
  [U.EVENT_REFERENCE_LOST]: "reference-lost",
  [U.EVENT_INDEX_FOUND]: "index-found",
  [U.EVENT_INDEX_LOST]: "index-lost",
  [U.EVENT_CAUTION_ON]: "caution-on",
  [U.EVENT_CAUTION_OFF]: "caution-off",
  [U.EVENT_CAUTION_ENDED_INVALID]: "caution-ended-invalid",
  [U.EVENT_ACKNOWLEDGED]: "acknowledged",
  [U.EVENT_INHIBIT_ON]: "inhibit-on",
  [U.EVENT_INHIBIT_OFF]: "inhibit-off",
  [U.EVENT_VALID]: "valid",
  [U.EVENT_INVALID]: "invalid",
  [U.EVENT_SUBSTITUTE_ON]: "substitute-on",
  [U.EVENT_SUBSTITUTE_OFF]: "substitute-off",
  [U.EVENT_TRANSDUCER_FAULT]: "transducer-fault",
  [U.EVENT_TRANSDUCER_HEALTHY]: "transducer-healthy",
  [U.EVENT_TEST_ON]: "test-on",
  [U.EVENT_TEST_OFF]: "test-off",
  [U.EVENT_RECORDS_LOST]: "records-lost",
};

const VALIDITY_NAMES: Readonly<Record<number, string>> = {
  [U.VALID]: "valid",
  [U.NO_COMPUTED_DATA]: "no computed data",
  [U.FAILURE]: "failure",
  [U.FUNCTIONAL_TEST]: "functional test",
};

const CAUSE_NAMES: Readonly<Record<number, string>> = {
  [U.CAUSE_NONE]: "no cause",
  [U.CAUSE_NO_REFERENCE]: "no reference",
  [U.CAUSE_BELOW_MINIMUM_SPEED]: "below minimum speed",
  [U.CAUSE_STOPPED]: "stopped",
  [U.CAUSE_REFERENCE_LOST]: "reference lost",
  [U.CAUSE_SETTLING]: "settling",
  [U.CAUSE_TRANSDUCER]: "transducer",
  [U.CAUSE_FUNCTIONAL_TEST]: "functional test",
  [U.CAUSE_RESPONSE]: "channel response",
  [U.CAUSE_NO_SOURCE]: "no source",
};

const CAUTION_NAMES: Readonly<Record<number, string>> = {
  [U.CAUTION_OFF]: "off",
  [U.CAUTION_TIMING_ON]: "timing on",
  [U.CAUTION_ON]: "on",
  [U.CAUTION_TIMING_OFF]: "timing off",
  [U.CAUTION_HELD]: "held by hysteresis",
  [U.CAUTION_INHIBITED]: "inhibited",
};

const LOST_NAMES: Readonly<Record<number, string>> = {
  [U.LOST_TIMEOUT]: "time-out",
  [U.LOST_DROPPED]: "edges that fit nowhere",
  [U.LOST_GAP]: "gap too long to bridge",
  [U.LOST_SPEED]: "speed out of range",
  [U.LOST_ACCELERATION]: "acceleration over its limit",
};

/** Whether there is such a reason for a loss of the reference. */
export function isLostReason(reason: number): boolean {
  return reason in LOST_NAMES;
}

const HEALTH_NAMES: Readonly<Record<number, string>> = {
  [U.HEALTH_BIAS]: "bias",
  [U.HEALTH_CLIP]: "clip",
  [U.HEALTH_FLAT]: "flat",
  [U.HEALTH_NOISE_FLOOR]: "noise floor",
  [U.HEALTH_BURST]: "burst",
  [U.HEALTH_PHYSICAL]: "physical",
  [U.HEALTH_BROADBAND]: "broadband",
};

/** Why a reference was lost, by the detail of its event. */
export function lostName(reason: number): string {
  return LOST_NAMES[reason] ?? `reason ${reason}`;
}

/** Name of a health check, as scenarios write it. */
export function healthName(check: number): string {
  return HEALTH_NAMES[check] ?? `check ${check}`;
}

/** Why a number is not valid. */
export function causeName(cause: number): string {
  return CAUSE_NAMES[cause] ?? `cause ${cause}`;
}

/** The name of an event code; a code without one reads "event 99". */
export function eventName(code: number): string {
  return EVENT_NAMES[code] ?? `event ${code}`;
}

/** "no computed data (settling)"; a cause of none is left out. */
export function validityName(validity: number, cause: number): string {
  const name = VALIDITY_NAMES[validity] ?? `validity ${validity}`;
  return cause === U.CAUSE_NONE ? name : `${name} (${causeName(cause)})`;
}

/** The name of a CAUTION_… state. */
export function cautionName(state: number): string {
  return CAUTION_NAMES[state] ?? `state ${state}`;
}

/** The names of a set of CAUTION_… states, bits 1 << state: "off or timing on". */
export function cautionNames(states: number): string {
  const names: string[] = [];
  for (let state = 0; state < 8; state += 1) {
    if ((states & (1 << state)) !== 0) names.push(cautionName(state));
  }
  return names.length === 0 ? "none" : names.join(" or ");
}
