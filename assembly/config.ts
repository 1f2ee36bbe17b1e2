// The configuration is checked whole before anything of it is used. The first broken rule is kept
// as {rule, field offset, found, limit}; the checks after it are passed over.
import {
  BLOCK_EDGES_MAX, CHANNELS_MAX, FILTERS_MAX, GEAR_REVOLUTIONS_MAX, KNOTS_MAX, ORDER_MAX,
  POOL_MARGIN_SAMPLES, POOL_SAMPLES, POSITIONS_MAX, RESPONSE_ORDER_MAX, RESPONSE_POINTS_MAX,
  SCALE_POINTS_MAX, SHAFTS_MAX,
} from "../shared/capacity.ts";
import * as L from "../shared/layout.ts";
import * as STATUS from "../shared/status.ts";
import {
  BANDWIDTH_FIXED, BANDWIDTH_PROPORTIONAL, HEALTH_BIAS, HEALTH_CHECKS, HEALTH_CLIP,
  INDEX_EXTRA_EDGE, INDEX_MISSING_TOOTH, INDEX_NONE, KIND_COIL, RESPONSE_FILTERS, RESPONSE_NONE,
  RESPONSE_TABLE,
  SOURCE_GREATEST, SOURCE_OWN, SOURCE_SUBSTITUTE,
} from "../shared/units.ts";
import { knotSpacing } from "./angle.ts";
import { crcOf } from "./crc.ts";
import { SLICES } from "./health.ts";
import { INPUT, REFUSAL } from "./memory.ts";

// Ranges. Wide enough for any machine and for recordings whose time counts samples, narrow enough
// that no product of them leaves f32.
const TICKS_PER_SAMPLE_MAX: u32 = 262144; // the pool's longest interval stays under 2³¹ ticks
const DISPLAY_SAMPLES_MIN: u32 = SLICES; // of the burst check, each of one sample at least
const DISPLAY_SAMPLES_MAX: u32 = 1 << 24;
const SPEED_MIN: f32 = 1e-5;
const SPEED_MAX: f32 = 1e4;
const LOCK_REVOLUTIONS_MAX: u32 = 64;
const TOLERANCE_MAX: f32 = 0.45;
const STEPS_MAX: u32 = 1 << 24;
const COUNTS_MAX: u32 = 1 << 22; // whole in f32, with the half that rounding adds
const QUANTITY_MAX: f32 = 1e12;
const FACTOR_MIN: f32 = 1e-12;
const FREQUENCY_MIN: f32 = 1e-6;
const FREQUENCY_MAX: f32 = 1e7;
const LAG_RAD_MAX: f32 = 1000;
const DELAY_S_MAX: f32 = 1e4;
/** Revolutions of an order in a delay: 6e-8 of them is 0.02° of phase. */
const DELAY_TURNS_MAX: f32 = 1000;
const POLE_MIN: f32 = 1e-6;
/**
 * Share of what is new in one step of a pole or of the smoothing. f32 stops 6e-8 of the level over
 * it short of the end: 0.06 % here, and ever more below.
 */
const SHARE_MIN: f32 = 1e-4;
const POLE_MAX: f32 = 1e7;
const WORD_BITS_MAX: u32 = 18;
const TIMEOUT_INTERVALS: f32 = 2.5;
/** Knots that may come while an interval waits for its last two samples. */
const KNOTS_PER_SAMPLE_MAX: f32 = <f32>KNOTS_MAX / 8;

/** A block of one sample must hold its edges, bunched ones and the extra edge as well. */
const EDGES_PER_SAMPLE_MAX: f32 = <f32>BLOCK_EDGES_MAX / 2;

let status: i32 = STATUS.OK;

/** Keeps the first broken rule. */
function refuse(rule: i32, offset: i32, found: f32, limit: f32): void {
  if (status != STATUS.OK) return;
  status = rule;
  // The compiler copies no function with a loop out to its callers, of which there are a hundred.
  for (let at: i32 = 0; at < L.REFUSAL_BYTES; at += 4) store<i32>(REFUSAL + at, 0);
  store<i32>(REFUSAL + L.REFUSAL_RULE, rule);
  store<i32>(REFUSAL + L.REFUSAL_OFFSET, offset);
  // No NaN and no infinity is stored.
  store<f32>(REFUSAL + L.REFUSAL_FOUND, abs(found) <= f32.MAX_VALUE ? found : 0);
  store<f32>(REFUSAL + L.REFUSAL_LIMIT, limit);
}

function whole(offset: i32): u32 {
  return load<u32>(INPUT + offset);
}
function real(offset: i32): f32 {
  return load<f32>(INPUT + offset);
}

function needWhole(offset: i32, least: u32, most: u32, rule: i32): void {
  const found = whole(offset);
  if (found < least) refuse(rule, offset, <f32>found, <f32>least);
  else if (found > most) refuse(rule, offset, <f32>found, <f32>most);
}

function needReal(offset: i32, least: f32, most: f32, rule: i32): void {
  const found = real(offset);
  if (!(abs(found) <= f32.MAX_VALUE)) refuse(STATUS.ERR_CONFIG_NOT_FINITE, offset, 0, 0);
  else if (found < least) refuse(rule, offset, found, least);
  else if (found > most) refuse(rule, offset, found, most);
}

/** Where the staged configuration breaks no rule: OK; else the rule, told in full at REFUSAL. */
export function configCheck(): i32 {
  status = STATUS.OK;
  memory.fill(REFUSAL, 0, L.REFUSAL_BYTES);
  headCheck();
  if (status != STATUS.OK) return status;
  globalCheck();
  if (status != STATUS.OK) return status;
  const channels = <i32>whole(L.GLOBAL_CHANNEL_COUNT);
  const shafts = <i32>whole(L.GLOBAL_SHAFT_COUNT);
  const filters = <i32>whole(L.GLOBAL_FILTER_COUNT);
  for (let i: i32 = 0; i < channels; i++) {
    const at = L.CONFIG_CHANNELS + i * L.CHANNEL_BYTES;
    channelCheck(at, shafts);
    responseCheck(at);
    healthCheck(at);
  }
  for (let i: i32 = 0; i < shafts; i++) {
    const at = L.CONFIG_SHAFTS + i * L.SHAFT_BYTES;
    shaftCheck(at, shafts);
    if (status == STATUS.OK) timeoutCheck(at, channels);
  }
  for (let i: i32 = 0; i < filters; i++) {
    filterCheck(L.CONFIG_FILTERS + i * L.FILTER_BYTES, channels, shafts);
    const at = L.CONFIG_DISPLAYS + i * L.DISPLAY_BYTES;
    sourceCheck(at, filters);
    displayCheck(at);
    cautionCheck(at);
  }
  for (let i: i32 = 0; i < channels && status == STATUS.OK; i++) {
    const at = L.CONFIG_CHANNELS + i * L.CHANNEL_BYTES;
    nyquistCheck(at + L.CHANNEL_TEST_ORDER, whole(at + L.CHANNEL_TEST_SHAFT));
  }
  return status;
}

function headCheck(): void {
  needWhole(L.GLOBAL_MAGIC, L.CONFIG_MAGIC, L.CONFIG_MAGIC, STATUS.ERR_CONFIG_MAGIC);
  needWhole(L.GLOBAL_LAYOUT, L.LAYOUT_VERSION, L.LAYOUT_VERSION, STATUS.ERR_CONFIG_LAYOUT);
  needWhole(L.GLOBAL_LENGTH, L.CONFIG_BYTES, L.CONFIG_BYTES, STATUS.ERR_CONFIG_LENGTH);
  if (status != STATUS.OK) return;
  const found = whole(L.GLOBAL_CHECK);
  const right = crcOf(INPUT + L.GLOBAL_CLOCK_HZ, L.CONFIG_BYTES - L.GLOBAL_CLOCK_HZ);
  if (found != right) refuse(STATUS.ERR_CONFIG_CHECK, L.GLOBAL_CHECK, <f32>found, <f32>right);
}

function globalCheck(): void {
  const rule = STATUS.ERR_CONFIG_CLOCK;
  needWhole(L.GLOBAL_TICKS_PER_SAMPLE, 1, TICKS_PER_SAMPLE_MAX, rule);
  needWhole(L.GLOBAL_CLOCK_HZ, whole(L.GLOBAL_TICKS_PER_SAMPLE), i32.MAX_VALUE, rule);
  needWhole(L.GLOBAL_DISPLAY_SAMPLES, DISPLAY_SAMPLES_MIN, DISPLAY_SAMPLES_MAX, rule);
  needWhole(L.GLOBAL_CHANNEL_COUNT, 1, CHANNELS_MAX, STATUS.ERR_CONFIG_COUNT);
  needWhole(L.GLOBAL_SHAFT_COUNT, 1, SHAFTS_MAX, STATUS.ERR_CONFIG_COUNT);
  needWhole(L.GLOBAL_FILTER_COUNT, 1, FILTERS_MAX, STATUS.ERR_CONFIG_COUNT);
}

function channelCheck(at: i32, shafts: i32): void {
  const rule = STATUS.ERR_CONFIG_RANGE;
  needWhole(at + L.CHANNEL_KIND, 0, KIND_COIL, STATUS.ERR_CONFIG_KIND);
  needReal(at + L.CHANNEL_COUNT_STEP, FACTOR_MIN, QUANTITY_MAX / 32768, rule);
  needReal(at + L.CHANNEL_RANGE, FACTOR_MIN, QUANTITY_MAX, rule);
  needReal(at + L.CHANNEL_TEST_PK, 0, QUANTITY_MAX, rule);
  needWhole(at + L.CHANNEL_TEST_SHAFT, 0, shafts - 1, STATUS.ERR_CONFIG_REFERENCE);
  needWhole(at + L.CHANNEL_TEST_ORDER, 1, ORDER_MAX, rule);
}

function responseCheck(at: i32): void {
  const rule = STATUS.ERR_CONFIG_RANGE;
  needWhole(at + L.CHANNEL_RESPONSE, 0, RESPONSE_TABLE, STATUS.ERR_CONFIG_KIND);
  needReal(at + L.CHANNEL_DELAY_S, -DELAY_S_MAX, DELAY_S_MAX, rule);
  if (whole(at + L.CHANNEL_RESPONSE) == RESPONSE_FILTERS) {
    needWhole(at + L.CHANNEL_HIGH_PASS_ORDER, 0, RESPONSE_ORDER_MAX, rule);
    needWhole(at + L.CHANNEL_LOW_PASS_ORDER, 0, RESPONSE_ORDER_MAX, rule);
    if (whole(at + L.CHANNEL_HIGH_PASS_ORDER) > 0) {
      needReal(at + L.CHANNEL_HIGH_PASS_HZ, FREQUENCY_MIN, FREQUENCY_MAX, rule);
    }
    if (whole(at + L.CHANNEL_LOW_PASS_ORDER) > 0) {
      needReal(at + L.CHANNEL_LOW_PASS_HZ, FREQUENCY_MIN, FREQUENCY_MAX, rule);
    }
  }
  if (whole(at + L.CHANNEL_RESPONSE) != RESPONSE_TABLE) return;
  needWhole(at + L.CHANNEL_TABLE_COUNT, 1, u32.MAX_VALUE, STATUS.ERR_CONFIG_TABLE);
  needWhole(at + L.CHANNEL_TABLE_COUNT, 0, RESPONSE_POINTS_MAX, STATUS.ERR_CONFIG_COUNT);
  if (status != STATUS.OK) return;
  const rows = <i32>whole(at + L.CHANNEL_TABLE_COUNT);
  for (let i: i32 = 0; i < rows; i++) {
    const row = at + L.CHANNEL_TABLE + i * L.RESPONSE_POINT_BYTES;
    needReal(row, 0, FREQUENCY_MAX, rule);
    needReal(row + 4, 0, QUANTITY_MAX, rule);
    needReal(row + 8, -LAG_RAD_MAX, LAG_RAD_MAX, rule);
    if (i > 0) needAscending(row, row - L.RESPONSE_POINT_BYTES);
  }
}

function needAscending(row: i32, before: i32): void {
  if (real(row) > real(before)) return;
  refuse(STATUS.ERR_CONFIG_TABLE, row, real(row), real(before));
}

function healthCheck(at: i32): void {
  const rule = STATUS.ERR_CONFIG_RANGE;
  needWhole(at + L.CHANNEL_HEALTH_MASK, 0, (1 << HEALTH_CHECKS) - 1, STATUS.ERR_CONFIG_COUNT);
  needReal(at + L.CHANNEL_BIAS_LOW, -QUANTITY_MAX, QUANTITY_MAX, rule);
  needReal(at + L.CHANNEL_BIAS_HIGH, -QUANTITY_MAX, QUANTITY_MAX, rule);
  needReal(at + L.CHANNEL_FLAT_PKPK, 0, QUANTITY_MAX, rule);
  needReal(at + L.CHANNEL_NOISE_RMS, 0, QUANTITY_MAX, rule);
  needReal(at + L.CHANNEL_BURST_RMS, 0, QUANTITY_MAX, rule);
  needReal(at + L.CHANNEL_PHYSICAL_PK, 0, QUANTITY_MAX, rule);
  needReal(at + L.CHANNEL_BROADBAND_RATIO, 0, QUANTITY_MAX, rule);
  needWhole(at + L.CHANNEL_HEALTH_STEPS, 1, STEPS_MAX, rule);
  const mask = whole(at + L.CHANNEL_HEALTH_MASK);
  // A fault from no clipped sample on would never end.
  const hasClip = (mask & (1 << HEALTH_CLIP)) != 0;
  if (hasClip) needWhole(at + L.CHANNEL_CLIP_SAMPLES, 1, u32.MAX_VALUE, rule);
  const hasBias = (mask & (1 << HEALTH_BIAS)) != 0;
  const low = real(at + L.CHANNEL_BIAS_LOW);
  const high = real(at + L.CHANNEL_BIAS_HIGH);
  if (hasBias && !(high > low)) refuse(rule, at + L.CHANNEL_BIAS_HIGH, high, low);
}

function shaftCheck(at: i32, shafts: i32): void {
  const rule = STATUS.ERR_CONFIG_RANGE;
  needWhole(at + L.SHAFT_POSITIONS, 1, POSITIONS_MAX, rule);
  needWhole(at + L.SHAFT_INDEX, INDEX_NONE, INDEX_EXTRA_EDGE, STATUS.ERR_CONFIG_KIND);
  needWhole(at + L.SHAFT_REVOLUTIONS, 1, GEAR_REVOLUTIONS_MAX, rule);
  needReal(at + L.SHAFT_SPEED_MIN, SPEED_MIN, SPEED_MAX, rule);
  needReal(at + L.SHAFT_SPEED_MAX, SPEED_MIN, SPEED_MAX, rule);
  needReal(at + L.SHAFT_ACCELERATION_MAX, 0, QUANTITY_MAX, rule);
  needWhole(at + L.SHAFT_TIMEOUT_TICKS, 1, i32.MAX_VALUE, rule);
  needWhole(at + L.SHAFT_LOCK_REVOLUTIONS, 1, LOCK_REVOLUTIONS_MAX, rule);
  needReal(at + L.SHAFT_EDGE_TOLERANCE, 0, TOLERANCE_MAX, rule);
  needReal(at + L.SHAFT_VALID_SPEED, 0, SPEED_MAX, rule);
  needReal(at + L.SHAFT_VALID_HYSTERESIS, 0, SPEED_MAX, rule);
  needWhole(at + L.SHAFT_VALID_STEPS, 0, STEPS_MAX, rule);
  const evidence = L.EVIDENCE_INPUT | (shafts > 1 ? L.EVIDENCE_OTHER_SHAFT : 0);
  needWhole(at + L.SHAFT_EVIDENCE, 0, evidence, STATUS.ERR_CONFIG_REFERENCE);
  if (status != STATUS.OK) return;
  const least = real(at + L.SHAFT_SPEED_MIN);
  const most = real(at + L.SHAFT_SPEED_MAX);
  if (!(most > least)) refuse(rule, at + L.SHAFT_SPEED_MAX, most, least);
  // Below the lowest valid speed would never end.
  const again: f32 = real(at + L.SHAFT_VALID_SPEED) + real(at + L.SHAFT_VALID_HYSTERESIS);
  if (!(again < most)) refuse(rule, at + L.SHAFT_VALID_SPEED, again, most);
  indexCheck(at);
}

function indexCheck(at: i32): void {
  const rule = STATUS.ERR_CONFIG_INDEX;
  const positions = whole(at + L.SHAFT_POSITIONS);
  const index = whole(at + L.SHAFT_INDEX);
  const revolutions = whole(at + L.SHAFT_REVOLUTIONS);
  if (index == INDEX_NONE) return;
  // On a geared shaft an index stands at another angle in each revolution.
  if (revolutions > 1) refuse(rule, at + L.SHAFT_REVOLUTIONS, <f32>revolutions, 1);
  const least: u32 = index == INDEX_MISSING_TOOTH ? 4 : 2;
  if (positions < least) refuse(rule, at + L.SHAFT_POSITIONS, <f32>positions, <f32>least);
}

function rateHz(): f32 {
  return <f32>whole(L.GLOBAL_CLOCK_HZ) / <f32>whole(L.GLOBAL_TICKS_PER_SAMPLE);
}

/** The time-out reaches over the knots of the lowest speed, and its samples fit the pool. */
function timeoutCheck(at: i32, channels: i32): void {
  const timeout = whole(at + L.SHAFT_TIMEOUT_TICKS);
  const positions = whole(at + L.SHAFT_POSITIONS);
  const perRevolution: f32 = <f32>positions / <f32>whole(at + L.SHAFT_REVOLUTIONS);
  const spacing = <f32>knotSpacing(positions);
  const speedMin = real(at + L.SHAFT_SPEED_MIN);
  const intervalTicks: f32 = <f32>whole(L.GLOBAL_CLOCK_HZ) * spacing / (perRevolution * speedMin);
  const least: f32 = TIMEOUT_INTERVALS * intervalTicks;
  const offset = at + L.SHAFT_TIMEOUT_TICKS;
  if (<f32>timeout < least) refuse(STATUS.ERR_CONFIG_TIMEOUT, offset, <f32>timeout, least);
  const room = <u32>(POOL_SAMPLES / channels - POOL_MARGIN_SAMPLES);
  const most: u32 = room * whole(L.GLOBAL_TICKS_PER_SAMPLE);
  if (timeout > most) refuse(STATUS.ERR_CONFIG_POOL, offset, <f32>timeout, <f32>most);
  const edgesPerSample: f32 = real(at + L.SHAFT_SPEED_MAX) * perRevolution / rateHz();
  if (edgesPerSample > EDGES_PER_SAMPLE_MAX) {
    refuse(STATUS.ERR_CONFIG_RANGE, at + L.SHAFT_SPEED_MAX, edgesPerSample, EDGES_PER_SAMPLE_MAX);
  }
  const knotsPerSample: f32 = real(at + L.SHAFT_SPEED_MAX) * perRevolution / (spacing * rateHz());
  if (knotsPerSample > KNOTS_PER_SAMPLE_MAX) {
    refuse(STATUS.ERR_CONFIG_RANGE, at + L.SHAFT_SPEED_MAX, knotsPerSample, KNOTS_PER_SAMPLE_MAX);
  }
}

function filterCheck(at: i32, channels: i32, shafts: i32): void {
  const rule = STATUS.ERR_CONFIG_RANGE;
  needWhole(at + L.FILTER_CHANNEL, 0, channels - 1, STATUS.ERR_CONFIG_REFERENCE);
  needWhole(at + L.FILTER_SHAFT, 0, shafts - 1, STATUS.ERR_CONFIG_REFERENCE);
  needWhole(at + L.FILTER_ORDER, 1, ORDER_MAX, rule);
  needWhole(at + L.FILTER_INTEGRATIONS, 0, 2, rule);
  const kind = STATUS.ERR_CONFIG_KIND;
  needWhole(at + L.FILTER_BANDWIDTH, BANDWIDTH_FIXED, BANDWIDTH_PROPORTIONAL, kind);
  needReal(at + L.FILTER_POLE, POLE_MIN, POLE_MAX, rule);
  needReal(at + L.FILTER_LEVEL_FACTOR, FACTOR_MIN, QUANTITY_MAX, rule);
  if (status != STATUS.OK) return;
  nyquistCheck(at + L.FILTER_ORDER, whole(at + L.FILTER_SHAFT));
  poleCheck(at);
  delayCheck(at);
}

/** The shortest cycle still moves the poles. */
function poleCheck(at: i32): void {
  const shaft = L.CONFIG_SHAFTS + whole(at + L.FILTER_SHAFT) * L.SHAFT_BYTES;
  const revolutions = <f32>whole(shaft + L.SHAFT_REVOLUTIONS);
  const pole = real(at + L.FILTER_POLE);
  const isFixed = whole(at + L.FILTER_BANDWIDTH) == BANDWIDTH_FIXED;
  const least: f32 = SHARE_MIN / revolutions;
  const most: f32 = revolutions / (SHARE_MIN * real(shaft + L.SHAFT_SPEED_MAX));
  if (!isFixed && pole < least) refuse(STATUS.ERR_CONFIG_RANGE, at + L.FILTER_POLE, pole, least);
  if (isFixed && pole > most) refuse(STATUS.ERR_CONFIG_RANGE, at + L.FILTER_POLE, pole, most);
}

/** A channel's delay is few enough revolutions of the order that f32 still tells their fraction. */
function delayCheck(at: i32): void {
  const channel = L.CONFIG_CHANNELS + whole(at + L.FILTER_CHANNEL) * L.CHANNEL_BYTES;
  if (whole(channel + L.CHANNEL_RESPONSE) == RESPONSE_NONE) return;
  const shaft = L.CONFIG_SHAFTS + whole(at + L.FILTER_SHAFT) * L.SHAFT_BYTES;
  const hertz: f32 = <f32>whole(at + L.FILTER_ORDER) * real(shaft + L.SHAFT_SPEED_MAX);
  const offset = channel + L.CHANNEL_DELAY_S;
  const turns: f32 = abs(real(offset)) * hertz;
  if (turns > DELAY_TURNS_MAX) refuse(STATUS.ERR_CONFIG_RANGE, offset, turns, DELAY_TURNS_MAX);
}

/** An order at the highest speed lies under half the sample rate. */
function nyquistCheck(orderAt: i32, shaft: u32): void {
  const speedMax = real(L.CONFIG_SHAFTS + shaft * L.SHAFT_BYTES + L.SHAFT_SPEED_MAX);
  const frequencyHz: f32 = <f32>whole(orderAt) * speedMax;
  const limitHz: f32 = rateHz() * 0.5;
  if (!(frequencyHz < limitHz)) refuse(STATUS.ERR_CONFIG_NYQUIST, orderAt, frequencyHz, limitHz);
}

function sourceCheck(at: i32, filters: i32): void {
  const rule = STATUS.ERR_CONFIG_REFERENCE;
  needWhole(at + L.DISPLAY_SOURCE, SOURCE_OWN, SOURCE_SUBSTITUTE, STATUS.ERR_CONFIG_KIND);
  const source = whole(at + L.DISPLAY_SOURCE);
  if (source == SOURCE_GREATEST) needWhole(at + L.DISPLAY_SOURCES, 1, (1 << filters) - 1, rule);
  if (source == SOURCE_SUBSTITUTE) needWhole(at + L.DISPLAY_SOURCES, 0, filters - 1, rule);
}

function displayCheck(at: i32): void {
  const rule = STATUS.ERR_CONFIG_RANGE;
  needWhole(at + L.DISPLAY_SCALE_COUNT, 1, u32.MAX_VALUE, STATUS.ERR_CONFIG_TABLE);
  needWhole(at + L.DISPLAY_SCALE_COUNT, 0, SCALE_POINTS_MAX, STATUS.ERR_CONFIG_COUNT);
  needReal(at + L.DISPLAY_SMOOTHING, SHARE_MIN, 1, rule);
  needReal(at + L.DISPLAY_STEP_INVERSE, FACTOR_MIN, QUANTITY_MAX, rule);
  needWhole(at + L.DISPLAY_COUNTS_MAX, 1, COUNTS_MAX, rule);
  needWhole(at + L.DISPLAY_HOLD_STEPS, 0, STEPS_MAX, rule);
  needWhole(at + L.DISPLAY_WORD_LABEL, 0, 255, rule);
  needWhole(at + L.DISPLAY_WORD_SDI, 0, 3, rule);
  needWhole(at + L.DISPLAY_WORD_BITS, 0, WORD_BITS_MAX, rule);
  if (whole(at + L.DISPLAY_WORD_BITS) > 0) {
    needReal(at + L.DISPLAY_WORD_INVERSE, FACTOR_MIN, QUANTITY_MAX, rule);
  }
  if (status != STATUS.OK) return;
  const rows = <i32>whole(at + L.DISPLAY_SCALE_COUNT);
  for (let i: i32 = 0; i < rows; i++) {
    const row = at + L.DISPLAY_SCALE + i * L.SCALE_POINT_BYTES;
    needReal(row, 0, SPEED_MAX, rule);
    needReal(row + 4, 0, QUANTITY_MAX, rule);
    if (i > 0) needAscending(row, row - L.SCALE_POINT_BYTES);
  }
}

function cautionCheck(at: i32): void {
  const rule = STATUS.ERR_CONFIG_RANGE;
  const flags = L.DISPLAY_FLAG_CAUTION | L.DISPLAY_FLAG_DELAY_UNDER_INHIBIT |
    L.DISPLAY_FLAG_HOLD_CAUTION;
  needWhole(at + L.DISPLAY_FLAGS, 0, flags, STATUS.ERR_CONFIG_KIND);
  if ((whole(at + L.DISPLAY_FLAGS) & L.DISPLAY_FLAG_CAUTION) == 0) return;
  const level = whole(at + L.DISPLAY_CAUTION_COUNTS);
  needWhole(at + L.DISPLAY_CAUTION_COUNTS, 1, whole(at + L.DISPLAY_COUNTS_MAX), rule);
  const offset = at + L.DISPLAY_HYSTERESIS_COUNTS;
  needWhole(offset, 0, level - 1, STATUS.ERR_CONFIG_HYSTERESIS);
  needWhole(at + L.DISPLAY_ON_STEPS, 0, STEPS_MAX, rule);
  needWhole(at + L.DISPLAY_OFF_STEPS, 0, STEPS_MAX, rule);
}
