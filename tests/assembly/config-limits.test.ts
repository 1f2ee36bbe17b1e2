// Every field of a configuration at both ends of its range, in every place that it has: at the end it
// is taken, one step beyond it is refused with what was found and the limit.
import { describe, expect, test } from "vitest";
import * as L from "../../shared/layout.ts";
import * as STATUS from "../../shared/status.ts";
import { ConfigurationRefused } from "../../host/core.ts";
import { refusalOf, writtenOver } from "./kit/config-bytes.ts";
import { BUILDS, coreOf } from "./kit/core-run.ts";
import type { Field } from "./kit/stage.ts";

const STATUSES: Record<string, number> = { ...STATUS };
type Rule = keyof typeof STATUS;
/** Range of a field by its offset in its part; `others` are written with it. */
type Range = [
  name: string,
  offset: number,
  kind: "u32" | "f32",
  least: number,
  most: number,
  rule?: Rule,
  others?: (at: number) => Field[],
];

const U32_MAX = 2 ** 32 - 1;
const STEPS = 2 ** 24;
const WIDE = 1e12;
const KIND = "ERR_CONFIG_KIND";
const COUNT = "ERR_CONFIG_COUNT";
const TABLE = "ERR_CONFIG_TABLE";
const REFERENCE = "ERR_CONFIG_REFERENCE";

const responseOf =
  (kind: number, ...more: [offset: number, kind: "u32" | "f32", value: number][]) =>
  (at: number): Field[] => [
    [at + L.CHANNEL_RESPONSE, "u32", kind],
    ...more.map(([offset, type, value]): Field => [at + offset, type, value]),
  ];
const FILTERS: [number, "u32" | "f32", number][] = [
  [L.CHANNEL_HIGH_PASS_ORDER, "u32", 1],
  [L.CHANNEL_LOW_PASS_ORDER, "u32", 1],
  [L.CHANNEL_HIGH_PASS_HZ, "f32", 2],
  [L.CHANNEL_LOW_PASS_HZ, "f32", 5000],
];
const byFilters = responseOf(1, ...FILTERS);
const ROW = L.CHANNEL_TABLE + L.RESPONSE_POINT_BYTES;
const byTable = responseOf(2, [L.CHANNEL_TABLE_COUNT, "u32", 2], [L.CHANNEL_TABLE, "f32", 0]);
/** Only the bias is checked, so that low and high may be anything. */
const noChecks = (at: number): Field[] => [[at + L.CHANNEL_HEALTH_MASK, "u32", 0]];
const clipCheck = (at: number): Field[] => [[at + L.CHANNEL_HEALTH_MASK, "u32", 2]];

const CHANNELS: Range[] = [
  ["kind", L.CHANNEL_KIND, "u32", 0, 2, KIND],
  ["count step", L.CHANNEL_COUNT_STEP, "f32", 1e-12, WIDE / 32_768],
  ["range", L.CHANNEL_RANGE, "f32", 1e-12, WIDE],
  ["test tone", L.CHANNEL_TEST_PK, "f32", 0, WIDE],
  ["test shaft", L.CHANNEL_TEST_SHAFT, "u32", 0, 1, REFERENCE],
  ["test order", L.CHANNEL_TEST_ORDER, "u32", 1, 64],
  ["response", L.CHANNEL_RESPONSE, "u32", 0, 2, KIND],
  ["delay", L.CHANNEL_DELAY_S, "f32", -1e4, 1e4],
  ["high-pass order", L.CHANNEL_HIGH_PASS_ORDER, "u32", 0, 4, undefined, byFilters],
  ["low-pass order", L.CHANNEL_LOW_PASS_ORDER, "u32", 0, 4, undefined, byFilters],
  ["high-pass corner", L.CHANNEL_HIGH_PASS_HZ, "f32", 1e-6, 1e7, undefined, byFilters],
  ["low-pass corner", L.CHANNEL_LOW_PASS_HZ, "f32", 1e-6, 1e7, undefined, byFilters],
  ["table rows", L.CHANNEL_TABLE_COUNT, "u32", 1, U32_MAX, TABLE, responseOf(2)],
  ["table rows", L.CHANNEL_TABLE_COUNT, "u32", 0, 8, COUNT, responseOf(2)],
  ["frequency of a row", L.CHANNEL_TABLE, "f32", 0, 1e7, undefined, byTable],
  ["frequency of the second row", ROW, "f32", 0, 1e7, undefined, byTable],
  ["gain of a row", L.CHANNEL_TABLE + 4, "f32", 0, WIDE, undefined, byTable],
  ["gain of the second row", ROW + 4, "f32", 0, WIDE, undefined, byTable],
  ["phase lag of the second row", ROW + 8, "f32", -1000, 1000, undefined, byTable],
  ["health checks", L.CHANNEL_HEALTH_MASK, "u32", 0, 127, COUNT],
  ["bias low", L.CHANNEL_BIAS_LOW, "f32", -WIDE, WIDE, undefined, noChecks],
  ["bias high", L.CHANNEL_BIAS_HIGH, "f32", -WIDE, WIDE, undefined, noChecks],
  ["clipped samples", L.CHANNEL_CLIP_SAMPLES, "u32", 1, U32_MAX, undefined, clipCheck],
  ["flat line", L.CHANNEL_FLAT_PKPK, "f32", 0, WIDE],
  ["noise floor", L.CHANNEL_NOISE_RMS, "f32", 0, WIDE],
  ["bursts", L.CHANNEL_BURST_RMS, "f32", 0, WIDE],
  ["physical", L.CHANNEL_PHYSICAL_PK, "f32", 0, WIDE],
  ["broadband", L.CHANNEL_BROADBAND_RATIO, "f32", 0, WIDE],
  ["health steps", L.CHANNEL_HEALTH_STEPS, "u32", 1, STEPS],
];

const SHAFTS: Range[] = [
  ["positions", L.SHAFT_POSITIONS, "u32", 1, 255],
  ["index", L.SHAFT_INDEX, "u32", 0, 2, KIND],
  ["revolutions", L.SHAFT_REVOLUTIONS, "u32", 1, 32],
  ["lowest speed", L.SHAFT_SPEED_MIN, "f32", 1e-5, 1e4],
  ["highest speed", L.SHAFT_SPEED_MAX, "f32", 1e-5, 1e4],
  ["acceleration", L.SHAFT_ACCELERATION_MAX, "f32", 0, WIDE],
  ["time-out", L.SHAFT_TIMEOUT_TICKS, "u32", 1, 2 ** 31 - 1],
  ["lock", L.SHAFT_LOCK_REVOLUTIONS, "u32", 1, 64],
  ["edge tolerance", L.SHAFT_EDGE_TOLERANCE, "f32", 0, 0.45],
  ["valid speed", L.SHAFT_VALID_SPEED, "f32", 0, 1e4],
  ["valid hysteresis", L.SHAFT_VALID_HYSTERESIS, "f32", 0, 1e4],
  ["valid steps", L.SHAFT_VALID_STEPS, "u32", 0, STEPS],
  ["evidence", L.SHAFT_EVIDENCE, "u32", 0, 3, REFERENCE],
];

const FILTERS_OF: Range[] = [
  ["channel", L.FILTER_CHANNEL, "u32", 0, 1, REFERENCE],
  ["shaft", L.FILTER_SHAFT, "u32", 0, 1, REFERENCE],
  ["order", L.FILTER_ORDER, "u32", 1, 64],
  ["integrations", L.FILTER_INTEGRATIONS, "u32", 0, 2],
  ["bandwidth", L.FILTER_BANDWIDTH, "u32", 0, 1, KIND],
  ["pole", L.FILTER_POLE, "f32", 1e-6, 1e7],
  ["level factor", L.FILTER_LEVEL_FACTOR, "f32", 1e-12, WIDE],
];

const SECOND = L.DISPLAY_SCALE + L.SCALE_POINT_BYTES;
const twoRows = (at: number): Field[] => [
  [at + L.DISPLAY_SCALE_COUNT, "u32", 2],
  [at + L.DISPLAY_SCALE, "f32", 0],
];
const withCaution = (at: number): Field[] => [
  [at + L.DISPLAY_FLAGS, "u32", L.DISPLAY_FLAG_CAUTION],
  [at + L.DISPLAY_COUNTS_MAX, "u32", 100],
  [at + L.DISPLAY_CAUTION_COUNTS, "u32", 50],
];
const asGreatest = (at: number): Field[] => [[at + L.DISPLAY_SOURCE, "u32", 1]];
const asSubstitute = (at: number): Field[] => [[at + L.DISPLAY_SOURCE, "u32", 2]];
const withWord = (at: number): Field[] => [[at + L.DISPLAY_WORD_BITS, "u32", 12]];
const HYSTERESIS = "ERR_CONFIG_HYSTERESIS";

const DISPLAYS: Range[] = [
  ["source", L.DISPLAY_SOURCE, "u32", 0, 2, KIND],
  ["greatest of", L.DISPLAY_SOURCES, "u32", 1, 3, REFERENCE, asGreatest],
  ["substitute", L.DISPLAY_SOURCES, "u32", 0, 1, REFERENCE, asSubstitute],
  ["scale rows", L.DISPLAY_SCALE_COUNT, "u32", 1, U32_MAX, TABLE],
  ["scale rows", L.DISPLAY_SCALE_COUNT, "u32", 0, 4, COUNT],
  ["smoothing", L.DISPLAY_SMOOTHING, "f32", 1e-4, 1],
  ["step", L.DISPLAY_STEP_INVERSE, "f32", 1e-12, WIDE],
  ["top of the scale", L.DISPLAY_COUNTS_MAX, "u32", 1, 2 ** 22],
  ["hold", L.DISPLAY_HOLD_STEPS, "u32", 0, STEPS],
  ["label", L.DISPLAY_WORD_LABEL, "u32", 0, 255],
  ["SDI", L.DISPLAY_WORD_SDI, "u32", 0, 3],
  ["word bits", L.DISPLAY_WORD_BITS, "u32", 0, 18],
  ["word resolution", L.DISPLAY_WORD_INVERSE, "f32", 1e-12, WIDE, undefined, withWord],
  ["speed of a scale row", L.DISPLAY_SCALE, "f32", 0, 1e4],
  ["speed of the second scale row", SECOND, "f32", 0, 1e4, undefined, twoRows],
  ["factor of a scale row", L.DISPLAY_SCALE + 4, "f32", 0, WIDE],
  ["factor of the second scale row", SECOND + 4, "f32", 0, WIDE, undefined, twoRows],
  ["flags", L.DISPLAY_FLAGS, "u32", 0, 7, KIND],
  ["caution level", L.DISPLAY_CAUTION_COUNTS, "u32", 1, 100, undefined, withCaution],
  ["hysteresis", L.DISPLAY_HYSTERESIS_COUNTS, "u32", 0, 49, HYSTERESIS, withCaution],
  ["on-delay", L.DISPLAY_ON_STEPS, "u32", 0, STEPS, undefined, withCaution],
  ["off-delay", L.DISPLAY_OFF_STEPS, "u32", 0, STEPS, undefined, withCaution],
];

interface End {
  name: string;
  offset: number;
  kind: "u32" | "f32";
  rule: Rule;
  limit: number;
  /** The next value that is out of range; none where the field has none. */
  beyond: number | undefined;
  others: Field[];
}

/** The next f32 in a direction. */
function nextOf(value: number, isUp: boolean): number {
  const floats = new Float32Array([value]);
  const bits = new Int32Array(floats.buffer);
  if (floats[0] === 0) bits[0] = isUp ? 1 : -0x7fffffff;
  else bits[0]! += isUp === floats[0]! > 0 ? 1 : -1;
  return floats[0]!;
}

function endsOf(part: string, at: number, ranges: Range[]): End[] {
  return ranges.flatMap(([what, within, kind, least, most, rule, others]) => {
    const offset = at + within;
    const end = (value: number, isUp: boolean): End => {
      const limit = kind === "f32" ? Math.fround(value) : value;
      const next = kind === "f32" ? nextOf(limit, isUp) : limit + (isUp ? 1 : -1);
      const isThere = kind === "f32" || (next >= 0 && next <= U32_MAX);
      return {
        name: `${what} of ${part}, ${isUp ? "at most" : "at least"} ${value}`,
        offset,
        kind,
        rule: rule ?? "ERR_CONFIG_RANGE",
        limit,
        beyond: isThere ? next : undefined,
        others: others?.(at) ?? [],
      };
    };
    return [end(least, false), end(most, true)];
  });
}

const ENDS: End[] = [0, 1].flatMap((i) => [
  ...endsOf(`channel ${i}`, L.CONFIG_CHANNELS + i * L.CHANNEL_BYTES, CHANNELS),
  ...endsOf(`shaft ${i}`, L.CONFIG_SHAFTS + i * L.SHAFT_BYTES, SHAFTS),
  ...endsOf(`filter ${i}`, L.CONFIG_FILTERS + i * L.FILTER_BYTES, FILTERS_OF),
  ...endsOf(`display ${i}`, L.CONFIG_DISPLAYS + i * L.DISPLAY_BYTES, DISPLAYS),
]);

describe.each(BUILDS)("limits of a configuration, %s build", (build) => {
  const core = coreOf(build);
  /** What refuses a value in a field, if anything does: other rules may. */
  const found = (
    { offset, kind, others }: End,
    value: number,
  ): ConfigurationRefused | undefined => {
    const bytes = writtenOver([...others, [offset, kind, value]]);
    try {
      core.configure(bytes);
      return undefined;
    } catch (error) {
      if (error instanceof ConfigurationRefused) return error;
      throw error;
    }
  };

  test.each(ENDS)("[CORE-039] $name", (end) => {
    const { offset, rule, limit, beyond } = end;
    const told = { rule: STATUSES[rule], fieldOffset: offset, limit: Math.fround(limit) };
    const at = found(end, limit);
    expect(at).not.toMatchObject(told);
    if (beyond === undefined) return;
    expect(found(end, beyond)).toMatchObject({ ...told, found: Math.fround(beyond) });
  });

  test("[CORE-039] the largest f32 is out of range, not without end", () => {
    const largest = 3.4028234663852886e38;
    const at = L.CONFIG_CHANNELS + L.CHANNEL_RANGE;
    const refusal = refusalOf(core, writtenOver([[at, "f32", largest]]));
    expect(refusal.rule).toBe(STATUS.ERR_CONFIG_RANGE);
    expect(refusal.found).toBe(largest);
  });

  test("[CORE-039] an index says how many positions, and how many revolutions, it can have", () => {
    const shaft = L.CONFIG_SHAFTS;
    const told = (...fields: Field[]): number[] => {
      const { rule, fieldOffset, limit } = refusalOf(core, writtenOver(fields));
      return [rule, fieldOffset, limit];
    };
    const INDEX = STATUS.ERR_CONFIG_INDEX;
    const index = (kind: number): Field => [shaft + L.SHAFT_INDEX, "u32", kind];
    const positions = (count: number): Field => [shaft + L.SHAFT_POSITIONS, "u32", count];
    const revolutions: Field = [shaft + L.SHAFT_REVOLUTIONS, "u32", 2];
    const fast: Field = [shaft + L.SHAFT_SPEED_MIN, "f32", 100];
    expect(told(index(1), positions(3), fast)).toEqual([INDEX, shaft + L.SHAFT_POSITIONS, 4]);
    expect(told(index(2), positions(1), fast)).toEqual([INDEX, shaft + L.SHAFT_POSITIONS, 2]);
    expect(told(index(1), revolutions)).toEqual([INDEX, shaft + L.SHAFT_REVOLUTIONS, 1]);
    core.configure(writtenOver([index(1), positions(4), fast]));
    core.configure(writtenOver([index(2), positions(2), fast]));
  });

  test("[CORE-039] a geared shaft's time-out follows its edges a revolution", () => {
    // 60 positions in 2 revolutions: 12 knots a cycle, of 8 rev/s at least: 2.5 × 5/(30 × 8) s.
    const at = L.CONFIG_SHAFTS + L.SHAFT_TIMEOUT_TICKS;
    const geared: Field = [L.CONFIG_SHAFTS + L.SHAFT_REVOLUTIONS, "u32", 2];
    const least = (2.5 * 5 * 80e6) / (30 * 8);
    const refusal = refusalOf(core, writtenOver([geared, [at, "u32", Math.floor(least) - 1]]));
    expect([refusal.rule, refusal.fieldOffset]).toEqual([STATUS.ERR_CONFIG_TIMEOUT, at]);
    expect(Math.abs(refusal.limit / least - 1)).toBeLessThan(2 ** -22);
    core.configure(writtenOver([geared, [at, "u32", Math.ceil(least) + 1]]));
  });

  test("[CORE-039] an order is held against its own shaft's highest speed", () => {
    const order = L.CONFIG_FILTERS + L.FILTER_BYTES + L.FILTER_ORDER;
    const slow: Field = [L.CONFIG_SHAFTS + L.SHAFT_BYTES + L.SHAFT_SPEED_MAX, "f32", 200];
    // 32 × 200 is half of 12,800 samples a second.
    const refusal = refusalOf(core, writtenOver([slow, [order, "u32", 32]]));
    expect([refusal.rule, refusal.found, refusal.limit]).toEqual([
      STATUS.ERR_CONFIG_NYQUIST,
      6400,
      6400,
    ]);
    core.configure(writtenOver([slow, [order, "u32", 31]]));
  });
});
