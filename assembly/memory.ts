// Every static block of the firmware, by address. The parts and the total are held against shared/
// at compile time: a broken one is a compile error.
import {
  BLOCK_STEPS_MAX, CHANNELS_MAX, DATA_BYTES_MAX, FILTERS_MAX, KNOTS_MAX, LANES, POOL_SAMPLES,
  RECORDS_MAX, SEGMENT_SAMPLES_MAX, SHAFTS_MAX,
} from "../shared/capacity.ts";
import * as L from "../shared/layout.ts";
import { ANSWER_HEAD_BYTES_MAX, LINK_COUNTERS_BYTES, PORT_BYTES } from "../shared/link.ts";

// --- one block, cut by hand: what a reset clears stands together at its end
//
//   active configuration | input (block or staged configuration) | refusal | serial link |
//   scratch | samples | counters | records | knots | angle, tach, tracker, display, health states

/** Bytes below the compiler's base address. */
const GUARD_BYTES: i32 = 1024;
/** Constants that other files place: polynomial and check tables. */
const TABLES_BYTES: i32 = 512;

const INPUT_BYTES: i32 = L.BLOCK_BYTES_MAX;
/** State of the serial link, its counters and the part of an answer that lies nowhere else. */
export const LINK_STATE_BYTES: i32 = 80;
const LINK_BYTES: i32 =
  LINK_STATE_BYTES + LINK_COUNTERS_BYTES + PORT_BYTES + ANSWER_HEAD_BYTES_MAX + 8;
/** Phasors of eight lanes, then six sums of four pairs. */
const SCALAR_SCRATCH_BYTES: i32 = 8 * LANES + 24 * (LANES / 2) + 32;
/** With SIMD: a row of samples, then the phasors of every lane of a segment. */
const VECTOR_SCRATCH_BYTES: i32 = 4 * LANES + 8 * SEGMENT_SAMPLES_MAX;
const SCRATCH_BYTES: i32 = ASC_FEATURE_SIMD ? VECTOR_SCRATCH_BYTES : SCALAR_SCRATCH_BYTES;
export const KNOT_BYTES: i32 = 16;
export const ANGLE_STATE_BYTES: i32 = 128;
export const SHAFT_STATE_BYTES: i32 = 256;
export const TRACKER_STATE_BYTES: i32 = 256;
export const DISPLAY_STATE_BYTES: i32 = 128;
export const HEALTH_STATE_BYTES: i32 = 128;

const O_CONFIGURATION: i32 = 0;
const O_INPUT: i32 = O_CONFIGURATION + L.CONFIG_BYTES;
const O_REFUSAL: i32 = O_INPUT + INPUT_BYTES;
const O_LINK: i32 = O_REFUSAL + L.REFUSAL_BYTES;
const O_SCRATCH: i32 = O_LINK + LINK_BYTES;
const O_POOL: i32 = O_SCRATCH + SCRATCH_BYTES;
const O_COUNTERS: i32 = O_POOL + 4 * POOL_SAMPLES;
const O_RECORDS: i32 = O_COUNTERS + L.COUNTERS_BYTES;
const O_KNOTS: i32 = O_RECORDS + RECORDS_MAX * L.RECORD_BYTES;
const O_ANGLES: i32 = O_KNOTS + SHAFTS_MAX * KNOTS_MAX * KNOT_BYTES;
const O_SHAFTS: i32 = O_ANGLES + SHAFTS_MAX * ANGLE_STATE_BYTES;
const O_TRACKERS: i32 = O_SHAFTS + SHAFTS_MAX * SHAFT_STATE_BYTES;
const O_DISPLAYS: i32 = O_TRACKERS + FILTERS_MAX * TRACKER_STATE_BYTES;
const O_HEALTH: i32 = O_DISPLAYS + FILTERS_MAX * DISPLAY_STATE_BYTES;
const STATIC_BYTES: i32 = O_HEALTH + CHANNELS_MAX * HEALTH_STATE_BYTES;

const STATIC: usize = memory.data(STATIC_BYTES, 16);

export const CONFIGURATION: usize = STATIC + O_CONFIGURATION;
export const INPUT: usize = STATIC + O_INPUT;
export const REFUSAL: usize = STATIC + O_REFUSAL;
export const LINK_STATE: usize = STATIC + O_LINK;
export const LINK_COUNTERS: usize = LINK_STATE + LINK_STATE_BYTES;
export const PORT: usize = LINK_COUNTERS + LINK_COUNTERS_BYTES;
export const ANSWER_HEAD: usize = PORT + PORT_BYTES;
export const SCRATCH: usize = STATIC + O_SCRATCH;
export const POOL: usize = STATIC + O_POOL;
export const COUNTERS: usize = STATIC + O_COUNTERS;
export const RECORDS: usize = STATIC + O_RECORDS;

/** Address of a shaft's ring of knots, KNOTS_MAX of KNOT_BYTES. */
export function knotsOf(shaft: i32): usize {
  return STATIC + O_KNOTS + shaft * (KNOTS_MAX * KNOT_BYTES);
}
/** Address of a shaft's angle state, ANGLE_STATE_BYTES. */
export function angleState(shaft: i32): usize {
  return STATIC + O_ANGLES + shaft * ANGLE_STATE_BYTES;
}
/** Address of a shaft's tachometer state, SHAFT_STATE_BYTES. */
export function shaftState(shaft: i32): usize {
  return STATIC + O_SHAFTS + shaft * SHAFT_STATE_BYTES;
}
/** Address of a tracking filter's state, TRACKER_STATE_BYTES. */
export function trackerState(filter: i32): usize {
  return STATIC + O_TRACKERS + filter * TRACKER_STATE_BYTES;
}
/** Address of a display's and caution's state, DISPLAY_STATE_BYTES. */
export function displayState(filter: i32): usize {
  return STATIC + O_DISPLAYS + filter * DISPLAY_STATE_BYTES;
}
/** Address of a channel's health state, HEALTH_STATE_BYTES. */
export function healthState(channel: i32): usize {
  return STATIC + O_HEALTH + channel * HEALTH_STATE_BYTES;
}

/** Back to zero: samples, counters, records and the state of every stage. */
export function memoryReset(): void {
  memory.fill(STATIC + O_POOL, 0, STATIC_BYTES - O_POOL);
}

// --- addresses of the parts of the active configuration; fields by their offset in shared/layout

export function configGlobal(): usize {
  return CONFIGURATION;
}
export function configChannel(channel: i32): usize {
  return CONFIGURATION + L.CONFIG_CHANNELS + channel * L.CHANNEL_BYTES;
}
export function configShaft(shaft: i32): usize {
  return CONFIGURATION + L.CONFIG_SHAFTS + shaft * L.SHAFT_BYTES;
}
export function configFilter(filter: i32): usize {
  return CONFIGURATION + L.CONFIG_FILTERS + filter * L.FILTER_BYTES;
}
export function configDisplay(filter: i32): usize {
  return CONFIGURATION + L.CONFIG_DISPLAYS + filter * L.DISPLAY_BYTES;
}

// --- counters

/** Adds to a counter, COUNTER_… plus 4 × shaft, channel or check; wraps at 2³². */
export function counterAdd(offset: i32, n: u32): void {
  store<u32>(COUNTERS + offset, load<u32>(COUNTERS + offset) + n);
}

// --- what must hold, or this does not compile

if (GUARD_BYTES + TABLES_BYTES + STATIC_BYTES > DATA_BYTES_MAX) ERROR("static data over the limit");
if (L.CONFIG_BYTES > INPUT_BYTES) ERROR("a staged configuration does not fit the input");
if (O_POOL % 16 != 0 || O_SCRATCH % 16 != 0 || O_INPUT % 16 != 0) ERROR("alignment");
if (O_KNOTS % 8 != 0 || O_ANGLES % 8 != 0) ERROR("alignment of 64-bit states");
if (L.CONFIG_FILTERS + FILTERS_MAX * L.FILTER_BYTES != L.CONFIG_DISPLAYS) ERROR("filters");
if (L.CONFIG_DISPLAYS + FILTERS_MAX * L.DISPLAY_BYTES != L.CONFIG_BYTES) ERROR("displays");
if (L.CONFIG_CHANNELS + CHANNELS_MAX * L.CHANNEL_BYTES != L.CONFIG_SHAFTS) ERROR("channels");
if (L.CONFIG_SHAFTS + SHAFTS_MAX * L.SHAFT_BYTES != L.CONFIG_FILTERS) ERROR("shafts");
if (RECORDS_MAX < BLOCK_STEPS_MAX * FILTERS_MAX) ERROR("level records of a block do not fit");
