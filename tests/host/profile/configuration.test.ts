import { crc32 } from "node:zlib";
import { describe, expect, it } from "vitest";
import {
  configurationBytes,
  filterPole,
  sealConfiguration,
} from "../../../host/profile/configuration.ts";
import { parseProfile } from "../../../host/profile/profile-reader.ts";
import * as LAYOUT from "../../../shared/layout.ts";
import * as UNITS from "../../../shared/units.ts";

const FULL = `monitor: everything
sample rate: 25.6 kHz
edge clock: 102.4 MHz
display period: 125 ms
channels:
  one:
    transducer: charge
    measures: acceleration
    range: 50 g pk
    count step: 0.002 g
    response:
      high pass: { order: 2, corner: 5 Hz }
      low pass: { order: 3, corner: 2 kHz }
      delay: 0.1 ms
    health:
      persistence: 500 ms
      clipped samples: 7
      flat below: 0.1 g pk-pk
      noise floor: 0.01 g rms
      bursts above: 2 g rms
      physical limit: 40 g pk
      tracked to broadband: 1.5
    functional test: { amplitude: 1 g rms, shaft: N2, order: 2 }
  two:
    transducer: powered
    measures: velocity
    health: { bias: { low: 1 in/s, high: 3 in/s } }
    response:
      table: [ { frequency: 10 Hz, gain: 0.5, phase lag: 90 deg }, { frequency: 20 Hz, gain: 1 } ]
shafts:
  N1:
    positions: 52
    index: missing tooth
    lowest speed: 900 r/min
    highest speed: 7200 r/min
    greatest acceleration: 20 rev/s²
    time-out: 60 ms
    lock revolutions: 3
    edge tolerance: 30 %
    valid from: 1200 r/min
    valid hysteresis: 60 r/min
    invalid after: 250 ms
    evidence of turning: [running input]
  N2:
    positions: 30
    per revolutions: 7
    lowest speed: 6000 r/min
    evidence of turning: [other shaft]
filters:
  a:
    channel: one
    shaft: N1
    order: 3
    bandwidth: 2 Hz
    level: mil pk-pk
    display:
      scale: [ { speed: 600 r/min, factor: 2 }, { speed: 1200 r/min, factor: 3 } ]
      smoothing: 0.25 s
      step: 0.5
      top: 20
      hold: 1 s
      greatest of: [a, b]
      word: { label: "163", sdi: 2, bits: 10, resolution: 0.25 }
    caution:
      level: 5
      hysteresis: 1
      on-delay: 250 ms
      off-delay: 500 ms
      delay under inhibit: runs
      when invalid: hold
  b: { channel: one, shaft: N2, bandwidth: 2 %, level: mil pk-pk, display: { substitute: a } }
  c: { channel: two, shaft: N1, level: mm/s rms }
`;

const bytes = configurationBytes(parseProfile("p", FULL));
const view = new DataView(bytes.buffer);
const word = (offset: number): number => view.getUint32(offset, true);
const real = (offset: number): number => view.getFloat32(offset, true);
const f32 = Math.fround;

describe("the configuration block", () => {
  it("[PROF-030] starts with magic, layout, length and the CRC-32 of the rest", () => {
    expect(bytes).toHaveLength(LAYOUT.CONFIG_BYTES);
    expect(word(LAYOUT.GLOBAL_MAGIC)).toBe(LAYOUT.CONFIG_MAGIC);
    expect(word(LAYOUT.GLOBAL_LAYOUT)).toBe(LAYOUT.LAYOUT_VERSION);
    expect(word(LAYOUT.GLOBAL_LENGTH)).toBe(LAYOUT.CONFIG_BYTES);
    // zlib's CRC-32 is CRC-32/ISO-HDLC, of another implementation than the one under test.
    expect(word(LAYOUT.GLOBAL_CHECK)).toBe(crc32(bytes.subarray(16)));
  });

  it("[PROF-031] the check value of the standard's nine digits", () => {
    // Catalogue of parametrised CRC algorithms: CRC-32/ISO-HDLC, check = cbf43926.
    const nine = new Uint8Array(16 + 9);
    nine.set(new TextEncoder().encode("123456789"), 16);
    sealConfiguration(nine);
    expect(new DataView(nine.buffer).getUint32(LAYOUT.GLOBAL_CHECK, true)).toBe(0xcbf43926);
  });

  it("[PROF-032] holds clocks and counts", () => {
    expect(word(LAYOUT.GLOBAL_CLOCK_HZ)).toBe(102_400_000);
    expect(word(LAYOUT.GLOBAL_TICKS_PER_SAMPLE)).toBe(4000);
    expect(word(LAYOUT.GLOBAL_DISPLAY_SAMPLES)).toBe(3200);
    expect(word(LAYOUT.GLOBAL_CHANNEL_COUNT)).toBe(2);
    expect(word(LAYOUT.GLOBAL_SHAFT_COUNT)).toBe(2);
    expect(word(LAYOUT.GLOBAL_FILTER_COUNT)).toBe(3);
  });

  it("[PROF-033] holds each channel's range, response, health and test in SI as f32", () => {
    const one = LAYOUT.CONFIG_CHANNELS;
    const g = 9.80665;
    expect(word(one + LAYOUT.CHANNEL_KIND)).toBe(UNITS.KIND_CHARGE);
    expect(real(one + LAYOUT.CHANNEL_RANGE)).toBe(f32(50 * g));
    expect(real(one + LAYOUT.CHANNEL_COUNT_STEP)).toBe(f32(0.002 * g));
    expect(word(one + LAYOUT.CHANNEL_RESPONSE)).toBe(UNITS.RESPONSE_FILTERS);
    expect(word(one + LAYOUT.CHANNEL_HIGH_PASS_ORDER)).toBe(2);
    expect(real(one + LAYOUT.CHANNEL_HIGH_PASS_HZ)).toBe(5);
    expect(word(one + LAYOUT.CHANNEL_LOW_PASS_ORDER)).toBe(3);
    expect(real(one + LAYOUT.CHANNEL_LOW_PASS_HZ)).toBe(2000);
    expect(real(one + LAYOUT.CHANNEL_DELAY_S)).toBe(f32(1e-4));
    // Every check but the bias, which serves powered transducers.
    expect(word(one + LAYOUT.CHANNEL_HEALTH_MASK)).toBe(0b1111110);
    expect(word(one + LAYOUT.CHANNEL_CLIP_SAMPLES)).toBe(7);
    expect(real(one + LAYOUT.CHANNEL_FLAT_PKPK)).toBe(f32(0.1 * g));
    expect(real(one + LAYOUT.CHANNEL_NOISE_RMS)).toBe(f32(0.01 * g));
    expect(real(one + LAYOUT.CHANNEL_BURST_RMS)).toBe(f32(2 * g));
    expect(real(one + LAYOUT.CHANNEL_PHYSICAL_PK)).toBe(f32(40 * g));
    expect(real(one + LAYOUT.CHANNEL_BROADBAND_RATIO)).toBe(1.5);
    expect(word(one + LAYOUT.CHANNEL_HEALTH_STEPS)).toBe(4);
    expect(real(one + LAYOUT.CHANNEL_TEST_PK)).toBe(f32(g * Math.SQRT2));
    expect(word(one + LAYOUT.CHANNEL_TEST_SHAFT)).toBe(1);
    expect(word(one + LAYOUT.CHANNEL_TEST_ORDER)).toBe(2);
    const two = one + LAYOUT.CHANNEL_BYTES;
    expect(word(two + LAYOUT.CHANNEL_KIND)).toBe(UNITS.KIND_POWERED);
    expect(word(two + LAYOUT.CHANNEL_RESPONSE)).toBe(UNITS.RESPONSE_TABLE);
    expect(word(two + LAYOUT.CHANNEL_TABLE_COUNT)).toBe(2);
    expect(real(two + LAYOUT.CHANNEL_TABLE)).toBe(10);
    expect(real(two + LAYOUT.CHANNEL_TABLE + 4)).toBe(0.5);
    expect(real(two + LAYOUT.CHANNEL_TABLE + 8)).toBe(f32(Math.PI / 2));
    expect(real(two + LAYOUT.CHANNEL_TABLE + LAYOUT.RESPONSE_POINT_BYTES)).toBe(20);
    expect(word(two + LAYOUT.CHANNEL_HEALTH_MASK)).toBe(0b11);
    expect(real(two + LAYOUT.CHANNEL_BIAS_LOW)).toBe(f32(0.0254));
    expect(real(two + LAYOUT.CHANNEL_BIAS_HIGH)).toBe(f32(0.0762));
  });

  it("[PROF-034] holds each shaft's tachometer and limits", () => {
    const one = LAYOUT.CONFIG_SHAFTS;
    expect(word(one + LAYOUT.SHAFT_POSITIONS)).toBe(52);
    expect(word(one + LAYOUT.SHAFT_INDEX)).toBe(UNITS.INDEX_MISSING_TOOTH);
    expect(word(one + LAYOUT.SHAFT_REVOLUTIONS)).toBe(1);
    expect(real(one + LAYOUT.SHAFT_SPEED_MIN)).toBe(15);
    expect(real(one + LAYOUT.SHAFT_SPEED_MAX)).toBe(120);
    expect(real(one + LAYOUT.SHAFT_ACCELERATION_MAX)).toBe(20);
    expect(word(one + LAYOUT.SHAFT_TIMEOUT_TICKS)).toBe(6_144_000);
    expect(word(one + LAYOUT.SHAFT_LOCK_REVOLUTIONS)).toBe(3);
    expect(real(one + LAYOUT.SHAFT_EDGE_TOLERANCE)).toBe(f32(0.3));
    expect(real(one + LAYOUT.SHAFT_VALID_SPEED)).toBe(20);
    expect(real(one + LAYOUT.SHAFT_VALID_HYSTERESIS)).toBe(1);
    expect(word(one + LAYOUT.SHAFT_VALID_STEPS)).toBe(2);
    expect(word(one + LAYOUT.SHAFT_EVIDENCE)).toBe(LAYOUT.EVIDENCE_INPUT);
    const two = one + LAYOUT.SHAFT_BYTES;
    expect(word(two + LAYOUT.SHAFT_REVOLUTIONS)).toBe(7);
    expect(word(two + LAYOUT.SHAFT_EVIDENCE)).toBe(LAYOUT.EVIDENCE_OTHER_SHAFT);
  });

  it("[PROF-035] holds each filter's pole and level factor", () => {
    const a = LAYOUT.CONFIG_FILTERS;
    const [b, c] = [a + LAYOUT.FILTER_BYTES, a + 2 * LAYOUT.FILTER_BYTES];
    expect(word(a + LAYOUT.FILTER_ORDER)).toBe(3);
    expect(word(a + LAYOUT.FILTER_INTEGRATIONS)).toBe(2);
    expect(word(a + LAYOUT.FILTER_BANDWIDTH)).toBe(UNITS.BANDWIDTH_FIXED);
    // 2 Hz wide is 1 Hz a side: one of two equal poles lies at 1/0.643594253 Hz (check value F-02).
    expect(real(a + LAYOUT.FILTER_POLE)).toBeCloseTo(0.643594253 / (2 * Math.PI), 7);
    expect(real(a + LAYOUT.FILTER_LEVEL_FACTOR)).toBe(f32(2 / 2.54e-5));
    expect(word(b + LAYOUT.FILTER_SHAFT)).toBe(1);
    expect(word(b + LAYOUT.FILTER_BANDWIDTH)).toBe(UNITS.BANDWIDTH_PROPORTIONAL);
    expect(real(b + LAYOUT.FILTER_POLE)).toBeCloseTo((0.01 * 2 * Math.PI) / 0.643594253, 7);
    expect(word(c + LAYOUT.FILTER_CHANNEL)).toBe(1);
    expect(word(c + LAYOUT.FILTER_INTEGRATIONS)).toBe(0);
    expect(real(c + LAYOUT.FILTER_LEVEL_FACTOR)).toBe(f32(1000 * Math.SQRT1_2));
  });

  it("[PROF-036] a fixed and a proportional width that agree at a speed give the same h there", () => {
    const speed = 80;
    const fixed = filterPole({ kind: "fixed", fullWidthHz: 1.6 });
    const proportional = filterPole({ kind: "proportional", fullWidthRatio: 0.02 });
    expect(1 / speed / fixed).toBeCloseTo(proportional, 14);
  });

  it("[PROF-037] holds each display and caution in counts and steps", () => {
    const a = LAYOUT.CONFIG_DISPLAYS;
    const [b, c] = [a + LAYOUT.DISPLAY_BYTES, a + 2 * LAYOUT.DISPLAY_BYTES];
    expect(word(a + LAYOUT.DISPLAY_SOURCE)).toBe(UNITS.SOURCE_GREATEST);
    expect(word(a + LAYOUT.DISPLAY_SOURCES)).toBe(0b11);
    expect(word(a + LAYOUT.DISPLAY_SCALE_COUNT)).toBe(2);
    expect(real(a + LAYOUT.DISPLAY_SCALE + LAYOUT.SCALE_POINT_BYTES)).toBe(20);
    expect(real(a + LAYOUT.DISPLAY_SCALE + LAYOUT.SCALE_POINT_BYTES + 4)).toBe(3);
    expect(real(a + LAYOUT.DISPLAY_SMOOTHING)).toBe(f32(1 - Math.exp(-0.5)));
    expect(real(a + LAYOUT.DISPLAY_STEP_INVERSE)).toBe(2);
    expect(word(a + LAYOUT.DISPLAY_COUNTS_MAX)).toBe(40);
    expect(word(a + LAYOUT.DISPLAY_FLAGS)).toBe(0b111);
    expect(word(a + LAYOUT.DISPLAY_CAUTION_COUNTS)).toBe(10);
    expect(word(a + LAYOUT.DISPLAY_HYSTERESIS_COUNTS)).toBe(2);
    expect(word(a + LAYOUT.DISPLAY_ON_STEPS)).toBe(2);
    expect(word(a + LAYOUT.DISPLAY_OFF_STEPS)).toBe(4);
    expect(word(a + LAYOUT.DISPLAY_HOLD_STEPS)).toBe(8);
    expect(word(a + LAYOUT.DISPLAY_WORD_LABEL)).toBe(0o163);
    expect(word(a + LAYOUT.DISPLAY_WORD_SDI)).toBe(2);
    expect(word(a + LAYOUT.DISPLAY_WORD_BITS)).toBe(10);
    expect(real(a + LAYOUT.DISPLAY_WORD_INVERSE)).toBe(4);
    expect(word(b + LAYOUT.DISPLAY_SOURCE)).toBe(UNITS.SOURCE_SUBSTITUTE);
    expect(word(b + LAYOUT.DISPLAY_SOURCES)).toBe(0);
    expect(word(c + LAYOUT.DISPLAY_SOURCE)).toBe(UNITS.SOURCE_OWN);
    expect(word(c + LAYOUT.DISPLAY_FLAGS)).toBe(0);
    expect(real(c + LAYOUT.DISPLAY_SMOOTHING)).toBe(1);
  });

  it("[PROF-038] the same text gives the same bytes, and what is not used is zero", () => {
    expect(configurationBytes(parseProfile("p", FULL))).toEqual(bytes);
    const lastChannel = LAYOUT.CONFIG_CHANNELS + 3 * LAYOUT.CHANNEL_BYTES;
    const unused = bytes.subarray(lastChannel, lastChannel + LAYOUT.CHANNEL_BYTES);
    expect(unused.every((byte) => byte === 0)).toBe(true);
  });
});
