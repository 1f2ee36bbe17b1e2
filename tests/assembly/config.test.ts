import { describe, expect, test } from "vitest";
import { POOL_MARGIN_SAMPLES, POOL_SAMPLES } from "../../shared/capacity.ts";
import * as L from "../../shared/layout.ts";
import * as STATUS from "../../shared/status.ts";
import { ConfigurationRefused } from "../../host/core.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import { fullProfile, refusalOf, writtenOver } from "./kit/config-bytes.ts";
import { BUILDS, coreOf } from "./kit/core-run.ts";
import type { Field } from "./kit/stage.ts";

const STATUSES: Record<string, number> = { ...STATUS };

const CHANNEL = L.CONFIG_CHANNELS;
const SHAFT = L.CONFIG_SHAFTS;
const FILTER = L.CONFIG_FILTERS;
const DISPLAY = L.CONFIG_DISPLAYS;

type Rule = keyof typeof STATUS;
type Row = [what: string, rule: Rule, fields: Field[]];

/** Fields that break a rule together: the refusal names the first. */
function together(what: string, rule: Rule, ...fields: Field[]): Row {
  return [what, rule, fields];
}
/** One field broken. */
function u32(field: string, rule: Rule, offset: number, value: number): Row {
  return [`${field} ${value}`, rule, [[offset, "u32", value]]];
}
function f32(field: string, rule: Rule, offset: number, value: number): Row {
  return [`${field} ${value}`, rule, [[offset, "f32", value]]];
}

const GLOBAL_ROWS: Row[] = [
  u32("magic", "ERR_CONFIG_MAGIC", L.GLOBAL_MAGIC, 1),
  u32("layout", "ERR_CONFIG_LAYOUT", L.GLOBAL_LAYOUT, L.LAYOUT_VERSION + 1),
  u32("length", "ERR_CONFIG_LENGTH", L.GLOBAL_LENGTH, L.CONFIG_BYTES - 4),
  u32("ticks per sample", "ERR_CONFIG_CLOCK", L.GLOBAL_TICKS_PER_SAMPLE, 0),
  u32("ticks per sample", "ERR_CONFIG_CLOCK", L.GLOBAL_TICKS_PER_SAMPLE, 262_145),
  u32("clock", "ERR_CONFIG_CLOCK", L.GLOBAL_CLOCK_HZ, 100),
  u32("clock", "ERR_CONFIG_CLOCK", L.GLOBAL_CLOCK_HZ, 2 ** 31),
  u32("display samples", "ERR_CONFIG_CLOCK", L.GLOBAL_DISPLAY_SAMPLES, 7),
  u32("display samples", "ERR_CONFIG_CLOCK", L.GLOBAL_DISPLAY_SAMPLES, 2 ** 24 + 1),
  u32("channels", "ERR_CONFIG_COUNT", L.GLOBAL_CHANNEL_COUNT, 5),
  u32("channels", "ERR_CONFIG_COUNT", L.GLOBAL_CHANNEL_COUNT, 0),
  u32("shafts", "ERR_CONFIG_COUNT", L.GLOBAL_SHAFT_COUNT, 3),
  u32("filters", "ERR_CONFIG_COUNT", L.GLOBAL_FILTER_COUNT, 9),
];

const CHANNEL_ROWS: Row[] = [
  u32("kind", "ERR_CONFIG_KIND", CHANNEL + L.CHANNEL_KIND, 3),
  f32("count step", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_COUNT_STEP, 0),
  f32("count step", "ERR_CONFIG_NOT_FINITE", CHANNEL + L.CHANNEL_COUNT_STEP, Number.NaN),
  f32("range", "ERR_CONFIG_NOT_FINITE", CHANNEL + L.CHANNEL_RANGE, Number.POSITIVE_INFINITY),
  f32("range", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_RANGE, -1),
  f32("test tone", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_TEST_PK, -1),
  u32("test shaft", "ERR_CONFIG_REFERENCE", CHANNEL + L.CHANNEL_TEST_SHAFT, 2),
  u32("test order", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_TEST_ORDER, 0),
  u32("test order", "ERR_CONFIG_NYQUIST", CHANNEL + L.CHANNEL_TEST_ORDER, 16),
  u32("response", "ERR_CONFIG_KIND", CHANNEL + L.CHANNEL_RESPONSE, 3),
  f32("delay", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_DELAY_S, 2e4),
  u32("high-pass order", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_HIGH_PASS_ORDER, 5),
  f32("high-pass corner", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_HIGH_PASS_HZ, 0),
  u32("low-pass order", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_LOW_PASS_ORDER, 5),
  f32("low-pass corner", "ERR_CONFIG_NOT_FINITE", CHANNEL + L.CHANNEL_LOW_PASS_HZ, Number.NaN),
  u32("table rows", "ERR_CONFIG_TABLE", CHANNEL + L.CHANNEL_BYTES + L.CHANNEL_TABLE_COUNT, 0),
  u32("table rows", "ERR_CONFIG_COUNT", CHANNEL + L.CHANNEL_BYTES + L.CHANNEL_TABLE_COUNT, 9),
  f32(
    "table that does not ascend: row at",
    "ERR_CONFIG_TABLE",
    CHANNEL + L.CHANNEL_BYTES + L.CHANNEL_TABLE + L.RESPONSE_POINT_BYTES,
    10,
  ),
  u32("health checks", "ERR_CONFIG_COUNT", CHANNEL + L.CHANNEL_HEALTH_MASK, 128),
  f32("bias", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_BIAS_HIGH, -10),
  together(
    "no clipped samples a fault",
    "ERR_CONFIG_RANGE",
    [CHANNEL + L.CHANNEL_CLIP_SAMPLES, "u32", 0],
    [CHANNEL + L.CHANNEL_HEALTH_MASK, "u32", 2],
  ),
  f32("flat line", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_FLAT_PKPK, -1),
  f32("noise", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_NOISE_RMS, -1),
  f32("burst", "ERR_CONFIG_NOT_FINITE", CHANNEL + L.CHANNEL_BURST_RMS, Number.NaN),
  f32("physical", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_PHYSICAL_PK, -1),
  f32("broadband", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_BROADBAND_RATIO, -1),
  u32("health steps", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_HEALTH_STEPS, 0),
];

const SHAFT_ROWS: Row[] = [
  u32("positions", "ERR_CONFIG_RANGE", SHAFT + L.SHAFT_POSITIONS, 0),
  u32("positions", "ERR_CONFIG_RANGE", SHAFT + L.SHAFT_POSITIONS, 256),
  u32("index kind", "ERR_CONFIG_KIND", SHAFT + L.SHAFT_INDEX, 3),
  u32("revolutions", "ERR_CONFIG_RANGE", SHAFT + L.SHAFT_REVOLUTIONS, 33),
  f32("lowest speed", "ERR_CONFIG_RANGE", SHAFT + L.SHAFT_SPEED_MIN, 0),
  f32("highest speed", "ERR_CONFIG_RANGE", SHAFT + L.SHAFT_SPEED_MAX, 8),
  f32("acceleration", "ERR_CONFIG_RANGE", SHAFT + L.SHAFT_ACCELERATION_MAX, -1),
  u32("lock", "ERR_CONFIG_RANGE", SHAFT + L.SHAFT_LOCK_REVOLUTIONS, 0),
  f32("edge tolerance", "ERR_CONFIG_RANGE", SHAFT + L.SHAFT_EDGE_TOLERANCE, 0.46),
  f32("valid speed", "ERR_CONFIG_NOT_FINITE", SHAFT + L.SHAFT_VALID_SPEED, Number.NaN),
  f32("hysteresis", "ERR_CONFIG_RANGE", SHAFT + L.SHAFT_VALID_HYSTERESIS, -1),
  u32("valid steps", "ERR_CONFIG_RANGE", SHAFT + L.SHAFT_VALID_STEPS, 2 ** 24 + 1),
  u32("evidence", "ERR_CONFIG_REFERENCE", SHAFT + L.SHAFT_EVIDENCE, 4),
  // 60 positions make 12 knots: 2.5 intervals at 8 rev/s are 2,083,333 ticks.
  u32("time-out", "ERR_CONFIG_TIMEOUT", SHAFT + L.SHAFT_TIMEOUT_TICKS, 2_083_000),
  u32(
    "time-out",
    "ERR_CONFIG_POOL",
    SHAFT + L.SHAFT_TIMEOUT_TICKS,
    (POOL_SAMPLES / 2 - POOL_MARGIN_SAMPLES) * 6250 + 1,
  ),
  together(
    "missing tooth of 3 positions",
    "ERR_CONFIG_INDEX",
    [SHAFT + L.SHAFT_POSITIONS, "u32", 3],
    [SHAFT + L.SHAFT_INDEX, "u32", 1],
  ),
  together(
    "extra edge of one position",
    "ERR_CONFIG_INDEX",
    [SHAFT + L.SHAFT_POSITIONS, "u32", 1],
    [SHAFT + L.SHAFT_INDEX, "u32", 2],
    [SHAFT + L.SHAFT_SPEED_MIN, "f32", 100],
  ),
  together(
    "index on a geared shaft",
    "ERR_CONFIG_INDEX",
    [SHAFT + L.SHAFT_REVOLUTIONS, "u32", 2],
    [SHAFT + L.SHAFT_INDEX, "u32", 1],
  ),
  together(
    "evidence of a shaft that is not there",
    "ERR_CONFIG_REFERENCE",
    [SHAFT + L.SHAFT_EVIDENCE, "u32", L.EVIDENCE_OTHER_SHAFT],
    [L.GLOBAL_SHAFT_COUNT, "u32", 1],
  ),
  together(
    "more knots than fit between samples",
    "ERR_CONFIG_RANGE",
    [SHAFT + L.SHAFT_SPEED_MAX, "f32", 420],
    [SHAFT + L.SHAFT_POSITIONS, "u32", 251],
  ),
  together(
    "lowest valid speed that is never left again",
    "ERR_CONFIG_RANGE",
    [SHAFT + L.SHAFT_VALID_SPEED, "f32", 400],
    [SHAFT + L.SHAFT_VALID_HYSTERESIS, "f32", 20],
  ),
  // 251 × 420 a second, of 3,200 samples a second: 32.9 in a sample.
  together(
    "more edges than a block of one sample may hold",
    "ERR_CONFIG_RANGE",
    [SHAFT + L.SHAFT_SPEED_MAX, "f32", 420],
    [SHAFT + L.SHAFT_POSITIONS, "u32", 252],
    [L.GLOBAL_TICKS_PER_SAMPLE, "u32", 25_000],
    [SHAFT + L.SHAFT_BYTES + L.SHAFT_POSITIONS, "u32", 1],
    [SHAFT + L.SHAFT_BYTES + L.SHAFT_INDEX, "u32", 0],
  ),
];

const FILTER_ROWS: Row[] = [
  u32("channel", "ERR_CONFIG_REFERENCE", FILTER + L.FILTER_CHANNEL, 2),
  u32("shaft", "ERR_CONFIG_REFERENCE", FILTER + L.FILTER_SHAFT, 2),
  u32("order", "ERR_CONFIG_RANGE", FILTER + L.FILTER_ORDER, 0),
  u32("order", "ERR_CONFIG_RANGE", FILTER + L.FILTER_ORDER, 65),
  u32("order", "ERR_CONFIG_NYQUIST", FILTER + L.FILTER_ORDER, 16), // 16 × 420 over 6,400 Hz
  u32("integrations", "ERR_CONFIG_RANGE", FILTER + L.FILTER_INTEGRATIONS, 3),
  u32("bandwidth", "ERR_CONFIG_KIND", FILTER + L.FILTER_BANDWIDTH, 2),
  f32("pole", "ERR_CONFIG_RANGE", FILTER + L.FILTER_POLE, 0),
  // 1/(420 · τ) under 1e-4 a cycle, and a share of 0.9e-4 a cycle
  // 2.5 s are 1,050 revolutions at 420 rev/s.
  f32("delay too long", "ERR_CONFIG_RANGE", CHANNEL + L.CHANNEL_DELAY_S, 2.5),
  f32("pole too slow for the highest speed", "ERR_CONFIG_RANGE", FILTER + L.FILTER_POLE, 24),
  together(
    "share of a cycle that f32 cannot add",
    "ERR_CONFIG_RANGE",
    [FILTER + L.FILTER_POLE, "f32", 0.9e-4],
    [FILTER + L.FILTER_BANDWIDTH, "u32", 1],
  ),
  f32("level factor", "ERR_CONFIG_RANGE", FILTER + L.FILTER_LEVEL_FACTOR, 0),
];

const DISPLAY_ROWS: Row[] = [
  u32("source", "ERR_CONFIG_KIND", DISPLAY + L.DISPLAY_SOURCE, 3),
  together(
    "greatest of no filter",
    "ERR_CONFIG_REFERENCE",
    [DISPLAY + L.DISPLAY_SOURCES, "u32", 0],
    [DISPLAY + L.DISPLAY_SOURCE, "u32", 1],
  ),
  together(
    "substitute that is not there",
    "ERR_CONFIG_REFERENCE",
    [DISPLAY + L.DISPLAY_SOURCES, "u32", 2],
    [DISPLAY + L.DISPLAY_SOURCE, "u32", 2],
  ),
  u32("scale rows", "ERR_CONFIG_TABLE", DISPLAY + L.DISPLAY_SCALE_COUNT, 0),
  u32("scale rows", "ERR_CONFIG_COUNT", DISPLAY + L.DISPLAY_SCALE_COUNT, 5),
  f32(
    "scale that does not ascend: row at",
    "ERR_CONFIG_TABLE",
    DISPLAY + L.DISPLAY_SCALE + L.SCALE_POINT_BYTES,
    10,
  ),
  f32("smoothing", "ERR_CONFIG_RANGE", DISPLAY + L.DISPLAY_SMOOTHING, 1.5),
  f32("smoothing", "ERR_CONFIG_RANGE", DISPLAY + L.DISPLAY_SMOOTHING, 0.9e-4),
  f32("step", "ERR_CONFIG_RANGE", DISPLAY + L.DISPLAY_STEP_INVERSE, 0),
  u32("top of the scale", "ERR_CONFIG_RANGE", DISPLAY + L.DISPLAY_COUNTS_MAX, 0),
  u32("hold", "ERR_CONFIG_RANGE", DISPLAY + L.DISPLAY_HOLD_STEPS, 2 ** 24 + 1),
  u32("label", "ERR_CONFIG_RANGE", DISPLAY + L.DISPLAY_WORD_LABEL, 256),
  u32("SDI", "ERR_CONFIG_RANGE", DISPLAY + L.DISPLAY_WORD_SDI, 4),
  u32("word bits", "ERR_CONFIG_RANGE", DISPLAY + L.DISPLAY_WORD_BITS, 19),
  f32("word resolution", "ERR_CONFIG_RANGE", DISPLAY + L.DISPLAY_WORD_INVERSE, 0),
  u32("flags", "ERR_CONFIG_KIND", DISPLAY + L.DISPLAY_FLAGS, 8),
  u32("caution level", "ERR_CONFIG_RANGE", DISPLAY + L.DISPLAY_CAUTION_COUNTS, 101),
  u32("hysteresis", "ERR_CONFIG_HYSTERESIS", DISPLAY + L.DISPLAY_HYSTERESIS_COUNTS, 50),
  u32("on-delay", "ERR_CONFIG_RANGE", DISPLAY + L.DISPLAY_ON_STEPS, 2 ** 24 + 1),
  u32("off-delay", "ERR_CONFIG_RANGE", DISPLAY + L.DISPLAY_OFF_STEPS, 2 ** 24 + 1),
];

describe.each(BUILDS)("configuration, %s build", (build) => {
  const core = coreOf(build);

  test("[CORE-031] a whole configuration is taken and echoed byte for byte", () => {
    const bytes = configurationBytes(fullProfile());
    core.configure(bytes);
    expect(core.activeConfiguration()).toEqual(bytes);
  });

  test.each([...GLOBAL_ROWS, ...CHANNEL_ROWS, ...SHAFT_ROWS, ...FILTER_ROWS, ...DISPLAY_ROWS])(
    "[CORE-032] %s is refused as %s with its field",
    (_what, rule, fields) => {
      const refusal = refusalOf(core, writtenOver(fields));
      expect(refusal.rule).toBe(STATUSES[rule]);
      expect(refusal.fieldOffset).toBe(fields[0]![0]);
    },
  );

  test("[CORE-033] a wrong check value is refused before any field is looked at", () => {
    const fields: Field[] = [[FILTER + L.FILTER_ORDER, "u32", 0]];
    const refusal = refusalOf(core, writtenOver(fields, false));
    expect([refusal.rule, refusal.fieldOffset]).toEqual([STATUS.ERR_CONFIG_CHECK, L.GLOBAL_CHECK]);
  });

  test("[CORE-034] the first broken rule comes back, with what was found and the limit", () => {
    const fields: Field[] = [
      [FILTER + L.FILTER_ORDER, "u32", 70],
      [DISPLAY + L.DISPLAY_WORD_SDI, "u32", 9],
    ];
    const refusal = refusalOf(core, writtenOver(fields));
    expect([refusal.fieldOffset, refusal.found, refusal.limit]).toEqual([
      FILTER + L.FILTER_ORDER,
      70,
      64,
    ]);
  });

  test("[CORE-035] the pool and the time-out limits themselves are lawful", () => {
    const room = (POOL_SAMPLES / 2 - POOL_MARGIN_SAMPLES) * 6250;
    for (const ticks of [2_083_334, room]) {
      const bytes = writtenOver([[SHAFT + L.SHAFT_TIMEOUT_TICKS, "u32", ticks]]);
      core.configure(bytes);
      expect(core.activeConfiguration()).toEqual(bytes);
    }
  });

  test("[CORE-036] a refusal writes to no place but its own", () => {
    const end = core.blockAddress + L.BLOCK_BYTES_MAX;
    const beside = core.bytes.subarray(core.blockAddress + L.CONFIG_BYTES, end);
    beside.fill(0xaa);
    refusalOf(core, writtenOver([[FILTER + L.FILTER_ORDER, "u32", 0]]));
    expect(beside.every((byte) => byte === 0xaa)).toBe(true);
  });

  test("[CORE-036] what was active stays after a refusal", () => {
    const bytes = configurationBytes(fullProfile());
    core.configure(bytes);
    refusalOf(core, writtenOver([[L.GLOBAL_FILTER_COUNT, "u32", 9]]));
    expect(core.activeConfiguration()).toEqual(bytes);
  });

  test.each([L.CONFIG_BYTES - 4, L.CONFIG_BYTES + 4, 50_000, 70_000])(
    "[CORE-038] a configuration of %d bytes is refused and nothing is written",
    (length) => {
      const bytes = configurationBytes(fullProfile());
      core.configure(bytes);
      const before = core.bytes.slice();
      const other = new Uint8Array(length).fill(0xa5);
      other.set(bytes.subarray(0, length));
      expect(() => core.configure(other)).toThrow(ConfigurationRefused);
      expect(core.bytes).toEqual(before);
    },
  );

  test("[CORE-037] no number of a refusal is a NaN, whatever was found", () => {
    const bytes = writtenOver([[CHANNEL + L.CHANNEL_RANGE, "u32", 0x7fc0_0001]]);
    const refusal = refusalOf(core, bytes);
    expect(refusal.rule).toBe(STATUS.ERR_CONFIG_NOT_FINITE);
    expect([refusal.found, refusal.limit]).toEqual([0, 0]);
  });
});
