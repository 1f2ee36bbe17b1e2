// Read by both compilers: annotated constants only, no functions. See PROTOCOL.md.

/** What a channel measures and a filter reads. The number of integrations is the difference. */
export const QUANTITY_ACCELERATION: i32 = 0; // m/s²
export const QUANTITY_VELOCITY: i32 = 1; // m/s
export const QUANTITY_DISPLACEMENT: i32 = 2; // m
/** A recording whose unit is not stated: never integrated. */
export const QUANTITY_UNSTATED: i32 = 3;

/** Transducer kinds; each health check names the kinds that it serves. */
export const KIND_CHARGE: i32 = 0;
export const KIND_POWERED: i32 = 1;
export const KIND_COIL: i32 = 2;

/** How the wheel says where a revolution starts. */
export const INDEX_NONE: i32 = 0;
export const INDEX_MISSING_TOOTH: i32 = 1;
export const INDEX_EXTRA_EDGE: i32 = 2;

export const BANDWIDTH_FIXED: i32 = 0;
export const BANDWIDTH_PROPORTIONAL: i32 = 1;

export const RESPONSE_NONE: i32 = 0;
export const RESPONSE_FILTERS: i32 = 1;
export const RESPONSE_TABLE: i32 = 2;

export const SOURCE_OWN: i32 = 0;
export const SOURCE_GREATEST: i32 = 1;
export const SOURCE_SUBSTITUTE: i32 = 2;

export const FORMAT_F32: i32 = 0;
export const FORMAT_I16: i32 = 1;

/** Validity of a shown number. */
export const VALID: i32 = 0;
export const NO_COMPUTED_DATA: i32 = 1;
export const FAILURE: i32 = 2;
export const FUNCTIONAL_TEST: i32 = 3;

/** Why a number is not valid. */
export const CAUSE_NONE: i32 = 0;
export const CAUSE_NO_REFERENCE: i32 = 1; // nothing found yet, no evidence of turning
export const CAUSE_BELOW_MINIMUM_SPEED: i32 = 2;
export const CAUSE_STOPPED: i32 = 3; // reference went while nothing else shows turning
export const CAUSE_REFERENCE_LOST: i32 = 4; // other evidence shows turning
export const CAUSE_SETTLING: i32 = 5;
export const CAUSE_TRANSDUCER: i32 = 6;
export const CAUSE_FUNCTIONAL_TEST: i32 = 7;
export const CAUSE_RESPONSE: i32 = 8; // channel response under 0.5 at the tracked frequency
export const CAUSE_NO_SOURCE: i32 = 9; // none of a display's sources is valid

/** States of a caution. From TIMING_ON on, the number stands or stood at or above the level. */
export const CAUTION_OFF: i32 = 0;
export const CAUTION_TIMING_ON: i32 = 1;
export const CAUTION_ON: i32 = 2;
export const CAUTION_TIMING_OFF: i32 = 3; // still on, off-delay running
export const CAUTION_HELD: i32 = 4; // still on, held by hysteresis
export const CAUTION_INHIBITED: i32 = 5; // condition true and delay over, held back from outside

/** Event codes (records of kind RECORD_EVENT). */
export const EVENT_REFERENCE_FOUND: i32 = 1; // source = shaft
export const EVENT_REFERENCE_LOST: i32 = 2; // source = shaft; detail = LOST_…
export const EVENT_INDEX_FOUND: i32 = 3; // source = shaft; detail = position of the index
export const EVENT_INDEX_LOST: i32 = 4; // source = shaft
export const EVENT_CAUTION_ON: i32 = 10; // source = filter
export const EVENT_CAUTION_OFF: i32 = 11; // source = filter
export const EVENT_CAUTION_ENDED_INVALID: i32 = 12; // source = filter
export const EVENT_ACKNOWLEDGED: i32 = 13; // source = filter
export const EVENT_INHIBIT_ON: i32 = 14; // source = filter
export const EVENT_INHIBIT_OFF: i32 = 15; // source = filter
export const EVENT_VALID: i32 = 16; // source = filter
export const EVENT_INVALID: i32 = 17; // source = filter; detail = cause
export const EVENT_SUBSTITUTE_ON: i32 = 18; // source = filter; detail = the filter that serves
export const EVENT_SUBSTITUTE_OFF: i32 = 19; // source = filter
export const EVENT_TRANSDUCER_FAULT: i32 = 20; // source = channel; detail = health check
export const EVENT_TRANSDUCER_HEALTHY: i32 = 21; // source = channel; detail = health check
export const EVENT_TEST_ON: i32 = 22; // source = 0
export const EVENT_TEST_OFF: i32 = 23; // source = 0
export const EVENT_RECORDS_LOST: i32 = 24; // source = 0; detail = how many

/** Why a reference was lost: the detail of its event. */
export const LOST_TIMEOUT: i32 = 1; // no edge for the time-out
export const LOST_DROPPED: i32 = 2; // three edges in a row that fit nowhere
export const LOST_GAP: i32 = 3; // more pitches without an edge than may be bridged
export const LOST_SPEED: i32 = 4; // outside the speed range
export const LOST_ACCELERATION: i32 = 5; // above the acceleration limit

/** Health checks, by number and as bits of a channel's mask (1 << check). */
export const HEALTH_BIAS: i32 = 0; // powered
export const HEALTH_CLIP: i32 = 1; // all kinds
export const HEALTH_FLAT: i32 = 2; // all kinds, while the shaft turns
export const HEALTH_NOISE_FLOOR: i32 = 3; // charge: an open lead is too quiet
export const HEALTH_BURST: i32 = 4; // charge, powered: a loose connector
export const HEALTH_PHYSICAL: i32 = 5; // all kinds
export const HEALTH_BROADBAND: i32 = 6; // all kinds: tracked against broadband
export const HEALTH_CHECKS: i32 = 7;
