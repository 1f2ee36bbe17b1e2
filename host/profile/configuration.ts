// A monitor profile as the bytes that the firmware is configured with. shared/layout.ts has the
// offsets; every real number goes through f32 here, once.
import crc32 from "crc/calculators/crc32";
import * as LAYOUT from "../../shared/layout.ts";
import * as UNITS from "../../shared/units.ts";
import { DERIVATIVES } from "../quantity.ts";
import type {
  Bandwidth,
  ChannelProfile,
  DisplayProfile,
  FilterProfile,
  MonitorProfile,
  Response,
  ShaftProfile,
} from "./types.ts";

/**
 * τ·fb of one of two equal poles, fb the −3 dB frequency of both together on one side.
 *
 * Source    two equal poles: f3dB = fc·√(√2 − 1), fc = 1/(2πτ) (check value F-02)
 */
export const TAU_TIMES_HALF_WIDTH = Math.sqrt(Math.SQRT2 - 1) / (2 * Math.PI);

/** τ in seconds of a fixed bandwidth; T/τ of one shaft revolution of a proportional one. */
export function filterPole(bandwidth: Bandwidth): number {
  return bandwidth.kind === "fixed"
    ? TAU_TIMES_HALF_WIDTH / (bandwidth.fullWidthHz / 2)
    : bandwidth.fullWidthRatio / 2 / TAU_TIMES_HALF_WIDTH;
}

/** How often a filter integrates what its channel measures: 0, 1, 2. */
export function integrationCount(profile: MonitorProfile, filter: FilterProfile): number {
  const channel = profile.channels[filter.channel]!;
  if (channel.quantity === filter.quantity) return 0;
  return DERIVATIVES[channel.quantity] - DERIVATIVES[filter.quantity];
}

/** Share of the new value in each step of the number's smoothing. */
export function smoothingShare(display: DisplayProfile, displayPeriodS: number): number {
  return display.smoothingS > 0 ? 1 - Math.exp(-displayPeriodS / display.smoothingS) : 1;
}

/** Ticks of the edge clock in one sample, exact. */
export function ticksPerSample(profile: MonitorProfile): number {
  return Math.round(profile.clockHz / profile.sampleRateHz);
}

/** Samples in one display period, exact. */
export function displaySamples(profile: MonitorProfile): number {
  return Math.round(profile.displayPeriodS * profile.sampleRateHz);
}

/** Writes fields of one block of the configuration. */
class Block {
  readonly #view: DataView;
  readonly #base: number;
  constructor(view: DataView, base: number) {
    this.#view = view;
    this.#base = base;
  }
  whole(offset: number, value: number): void {
    this.#view.setInt32(this.#base + offset, value, true);
  }
  word(offset: number, value: number): void {
    this.#view.setUint32(this.#base + offset, value, true);
  }
  real(offset: number, value: number): void {
    this.#view.setFloat32(this.#base + offset, Math.fround(value), true);
  }
}

const KINDS = {
  charge: UNITS.KIND_CHARGE,
  powered: UNITS.KIND_POWERED,
  coil: UNITS.KIND_COIL,
} as const;
const INDEXES = {
  none: UNITS.INDEX_NONE,
  "missing-tooth": UNITS.INDEX_MISSING_TOOTH,
  "extra-edge": UNITS.INDEX_EXTRA_EDGE,
} as const;

function writeGlobal(block: Block, profile: MonitorProfile): void {
  block.word(LAYOUT.GLOBAL_MAGIC, LAYOUT.CONFIG_MAGIC);
  block.word(LAYOUT.GLOBAL_LAYOUT, LAYOUT.LAYOUT_VERSION);
  block.word(LAYOUT.GLOBAL_LENGTH, LAYOUT.CONFIG_BYTES);
  block.word(LAYOUT.GLOBAL_CLOCK_HZ, Math.round(profile.clockHz));
  block.word(LAYOUT.GLOBAL_TICKS_PER_SAMPLE, ticksPerSample(profile));
  block.word(LAYOUT.GLOBAL_DISPLAY_SAMPLES, displaySamples(profile));
  block.word(LAYOUT.GLOBAL_CHANNEL_COUNT, profile.channels.length);
  block.word(LAYOUT.GLOBAL_SHAFT_COUNT, profile.shafts.length);
  block.word(LAYOUT.GLOBAL_FILTER_COUNT, profile.filters.length);
}

function writeResponse(block: Block, response: Response): void {
  if (response.kind === "none") {
    block.word(LAYOUT.CHANNEL_RESPONSE, UNITS.RESPONSE_NONE);
    return;
  }
  block.real(LAYOUT.CHANNEL_DELAY_S, response.delayS);
  if (response.kind === "filters") {
    block.word(LAYOUT.CHANNEL_RESPONSE, UNITS.RESPONSE_FILTERS);
    block.word(LAYOUT.CHANNEL_HIGH_PASS_ORDER, response.highPassOrder);
    block.real(LAYOUT.CHANNEL_HIGH_PASS_HZ, response.highPassHz);
    block.word(LAYOUT.CHANNEL_LOW_PASS_ORDER, response.lowPassOrder);
    block.real(LAYOUT.CHANNEL_LOW_PASS_HZ, response.lowPassHz);
    return;
  }
  block.word(LAYOUT.CHANNEL_RESPONSE, UNITS.RESPONSE_TABLE);
  block.word(LAYOUT.CHANNEL_TABLE_COUNT, response.points.length);
  for (const [row, point] of response.points.entries()) {
    const at = LAYOUT.CHANNEL_TABLE + row * LAYOUT.RESPONSE_POINT_BYTES;
    block.real(at, point.frequencyHz);
    block.real(at + 4, point.gain);
    block.real(at + 8, point.phaseLagRad);
  }
}

function writeChannel(block: Block, channel: ChannelProfile): void {
  const { health, test } = channel;
  block.word(LAYOUT.CHANNEL_KIND, KINDS[channel.kind]);
  block.real(LAYOUT.CHANNEL_COUNT_STEP, channel.countStep);
  block.real(LAYOUT.CHANNEL_RANGE, channel.range);
  writeResponse(block, channel.response);
  let mask = 0;
  const use = (check: number, offset: number, value: number | undefined): void => {
    if (value === undefined) return;
    mask |= 1 << check;
    block.real(offset, value);
  };
  use(UNITS.HEALTH_BIAS, LAYOUT.CHANNEL_BIAS_LOW, health.bias?.low);
  use(UNITS.HEALTH_BIAS, LAYOUT.CHANNEL_BIAS_HIGH, health.bias?.high);
  use(UNITS.HEALTH_FLAT, LAYOUT.CHANNEL_FLAT_PKPK, health.flatPkPk);
  use(UNITS.HEALTH_NOISE_FLOOR, LAYOUT.CHANNEL_NOISE_RMS, health.noiseFloorRms);
  use(UNITS.HEALTH_BURST, LAYOUT.CHANNEL_BURST_RMS, health.burstRms);
  use(UNITS.HEALTH_PHYSICAL, LAYOUT.CHANNEL_PHYSICAL_PK, health.physicalPk);
  use(UNITS.HEALTH_BROADBAND, LAYOUT.CHANNEL_BROADBAND_RATIO, health.broadbandRatio);
  if (health.clipSamples !== undefined) {
    mask |= 1 << UNITS.HEALTH_CLIP;
    block.word(LAYOUT.CHANNEL_CLIP_SAMPLES, health.clipSamples);
  }
  block.word(LAYOUT.CHANNEL_HEALTH_MASK, mask);
  block.word(LAYOUT.CHANNEL_HEALTH_STEPS, health.steps);
  block.real(LAYOUT.CHANNEL_TEST_PK, test.amplitudePk);
  block.word(LAYOUT.CHANNEL_TEST_SHAFT, test.shaft);
  block.word(LAYOUT.CHANNEL_TEST_ORDER, test.order);
}

function writeShaft(block: Block, shaft: ShaftProfile, clockHz: number): void {
  block.word(LAYOUT.SHAFT_POSITIONS, shaft.positions);
  block.word(LAYOUT.SHAFT_INDEX, INDEXES[shaft.index]);
  block.word(LAYOUT.SHAFT_REVOLUTIONS, shaft.revolutions);
  block.real(LAYOUT.SHAFT_SPEED_MIN, shaft.speedMinRevPerS);
  block.real(LAYOUT.SHAFT_SPEED_MAX, shaft.speedMaxRevPerS);
  block.real(LAYOUT.SHAFT_ACCELERATION_MAX, shaft.accelerationMaxRevPerS2);
  block.word(LAYOUT.SHAFT_TIMEOUT_TICKS, Math.round(shaft.timeoutS * clockHz));
  block.word(LAYOUT.SHAFT_LOCK_REVOLUTIONS, shaft.lockRevolutions);
  block.real(LAYOUT.SHAFT_EDGE_TOLERANCE, shaft.edgeTolerancePitches);
  block.real(LAYOUT.SHAFT_VALID_SPEED, shaft.validSpeedRevPerS);
  block.real(LAYOUT.SHAFT_VALID_HYSTERESIS, shaft.validHysteresisRevPerS);
  block.word(LAYOUT.SHAFT_VALID_STEPS, shaft.validDelaySteps);
  const evidence =
    (shaft.evidence.input ? LAYOUT.EVIDENCE_INPUT : 0) |
    (shaft.evidence.otherShaft ? LAYOUT.EVIDENCE_OTHER_SHAFT : 0);
  block.word(LAYOUT.SHAFT_EVIDENCE, evidence);
}

function writeFilter(block: Block, profile: MonitorProfile, filter: FilterProfile): void {
  block.word(LAYOUT.FILTER_CHANNEL, filter.channel);
  block.word(LAYOUT.FILTER_SHAFT, filter.shaft);
  block.word(LAYOUT.FILTER_ORDER, filter.order);
  block.word(LAYOUT.FILTER_INTEGRATIONS, integrationCount(profile, filter));
  const isFixed = filter.bandwidth.kind === "fixed";
  const kind = isFixed ? UNITS.BANDWIDTH_FIXED : UNITS.BANDWIDTH_PROPORTIONAL;
  block.word(LAYOUT.FILTER_BANDWIDTH, kind);
  block.real(LAYOUT.FILTER_POLE, filterPole(filter.bandwidth));
  block.real(LAYOUT.FILTER_LEVEL_FACTOR, filter.levelFactor);
}

function writeSource(block: Block, display: DisplayProfile): void {
  const { source } = display;
  if (source.kind === "own") {
    block.word(LAYOUT.DISPLAY_SOURCE, UNITS.SOURCE_OWN);
  } else if (source.kind === "substitute") {
    block.word(LAYOUT.DISPLAY_SOURCE, UNITS.SOURCE_SUBSTITUTE);
    block.word(LAYOUT.DISPLAY_SOURCES, source.filter);
  } else {
    block.word(LAYOUT.DISPLAY_SOURCE, UNITS.SOURCE_GREATEST);
    let bits = 0;
    for (const filter of source.filters) bits |= 1 << filter;
    block.word(LAYOUT.DISPLAY_SOURCES, bits);
  }
}

function writeDisplay(block: Block, display: DisplayProfile, displayPeriodS: number): void {
  writeSource(block, display);
  block.word(LAYOUT.DISPLAY_SCALE_COUNT, display.scale.length);
  for (const [row, point] of display.scale.entries()) {
    const at = LAYOUT.DISPLAY_SCALE + row * LAYOUT.SCALE_POINT_BYTES;
    block.real(at, point.speedRevPerS);
    block.real(at + 4, point.factor);
  }
  block.real(LAYOUT.DISPLAY_SMOOTHING, smoothingShare(display, displayPeriodS));
  block.real(LAYOUT.DISPLAY_STEP_INVERSE, 1 / display.step);
  block.whole(LAYOUT.DISPLAY_COUNTS_MAX, display.countsMax);
  block.word(LAYOUT.DISPLAY_HOLD_STEPS, display.holdSteps);
  const { caution, word } = display;
  if (caution !== undefined) {
    const flags =
      LAYOUT.DISPLAY_FLAG_CAUTION |
      (caution.delayRunsUnderInhibit ? LAYOUT.DISPLAY_FLAG_DELAY_UNDER_INHIBIT : 0) |
      (caution.whenInvalid === "hold" ? LAYOUT.DISPLAY_FLAG_HOLD_CAUTION : 0);
    block.word(LAYOUT.DISPLAY_FLAGS, flags);
    block.whole(LAYOUT.DISPLAY_CAUTION_COUNTS, caution.levelCounts);
    block.whole(LAYOUT.DISPLAY_HYSTERESIS_COUNTS, caution.hysteresisCounts);
    block.word(LAYOUT.DISPLAY_ON_STEPS, caution.onDelaySteps);
    block.word(LAYOUT.DISPLAY_OFF_STEPS, caution.offDelaySteps);
  }
  if (word !== undefined) {
    block.word(LAYOUT.DISPLAY_WORD_LABEL, word.label);
    block.word(LAYOUT.DISPLAY_WORD_SDI, word.sdi);
    block.word(LAYOUT.DISPLAY_WORD_BITS, word.bits);
    block.real(LAYOUT.DISPLAY_WORD_INVERSE, 1 / word.resolution);
  }
}

/** Puts the check value of the bytes in place. */
export function sealConfiguration(bytes: Uint8Array): void {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const check = crc32(bytes.subarray(LAYOUT.GLOBAL_CHECK + 4)) >>> 0;
  view.setUint32(LAYOUT.GLOBAL_CHECK, check, true);
}

/**
 * The configuration block of a profile.
 *
 * Shape     CONFIG_BYTES bytes, little-endian; parts that are not used are zero
 * Accuracy  each real number is the f32 nearest to the profile's
 */
export function configurationBytes(profile: MonitorProfile): Uint8Array {
  const bytes = new Uint8Array(LAYOUT.CONFIG_BYTES);
  const view = new DataView(bytes.buffer);
  const at = (base: number, size: number, index: number): Block =>
    new Block(view, base + size * index);
  writeGlobal(new Block(view, LAYOUT.CONFIG_GLOBAL), profile);
  for (const [index, channel] of profile.channels.entries()) {
    writeChannel(at(LAYOUT.CONFIG_CHANNELS, LAYOUT.CHANNEL_BYTES, index), channel);
  }
  for (const [index, shaft] of profile.shafts.entries()) {
    writeShaft(at(LAYOUT.CONFIG_SHAFTS, LAYOUT.SHAFT_BYTES, index), shaft, profile.clockHz);
  }
  for (const [index, filter] of profile.filters.entries()) {
    writeFilter(at(LAYOUT.CONFIG_FILTERS, LAYOUT.FILTER_BYTES, index), profile, filter);
    const display = at(LAYOUT.CONFIG_DISPLAYS, LAYOUT.DISPLAY_BYTES, index);
    writeDisplay(display, filter.display, profile.displayPeriodS);
  }
  sealConfiguration(bytes);
  return bytes;
}
