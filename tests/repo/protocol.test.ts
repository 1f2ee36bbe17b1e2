import { describe, expect, it } from "vitest";
import * as LIMITS from "../../host/profile/firmware-limits.ts";
import * as CAPACITY from "../../shared/capacity.ts";
import * as LAYOUT from "../../shared/layout.ts";
import * as LINK from "../../shared/link.ts";
import * as STATUS from "../../shared/status.ts";
import * as UNITS from "../../shared/units.ts";
import { readProjectFile } from "./source-files.ts";

const page = readProjectFile("shared/PROTOCOL.md");

/** What stands under a heading, up to the next. */
function section(title: string): string {
  const found = page.split(/^## /m).find((part) => part.startsWith(title));
  if (found === undefined) throw new Error(`no section ${title}`);
  return found;
}

function rowsOf(title: string, pattern: RegExp): string[][] {
  return [...section(title).matchAll(pattern)].map((match) => match.slice(1));
}

/** Numbers of a contract whose names begin alike. */
function numbersOf(contract: object, start: string): Record<string, number> {
  return Object.fromEntries(
    Object.entries(contract).filter(([name]) => name.startsWith(start)),
  ) as Record<string, number>;
}

/** Rows `| number | NAME | …` of a section, by name. */
function namedRows(title: string, start: string): Record<string, number> {
  const rows = rowsOf(title, new RegExp(`^\\| (\\d+) \\| (${start}\\w+) \\|`, "gm"));
  return Object.fromEntries(rows.map(([number, name]) => [name!, Number(number)]));
}

describe("PROTOCOL.md", () => {
  it("[REPO-030] lists every status with its number, and no other", () => {
    const listed = Object.fromEntries(
      rowsOf("Statuses", /^\| −(\d+) \| (ERR_\w+) \|/gm).map(([number, name]) => [
        name,
        -Number(number),
      ]),
    );
    const { OK, ...errors } = STATUS;
    expect(OK).toBe(0);
    expect(listed).toEqual(errors);
  });

  it("[REPO-031] never uses a status number twice", () => {
    const numbers = Object.values(STATUS);
    expect(new Set(numbers).size).toBe(numbers.length);
  });

  it("[REPO-032] lays out the configuration as the contract does", () => {
    const rows = rowsOf("Configuration", /^\| (\d+) \| (?:(\d+) × )?(\d+) \| (\w+)/gm).map(
      ([from, count, bytes]) => [Number(from), Number(count ?? "1") * Number(bytes)] as const,
    );
    const { CONFIG_GLOBAL, CONFIG_CHANNELS, CONFIG_SHAFTS, CONFIG_FILTERS, CONFIG_DISPLAYS } =
      LAYOUT;
    const starts = [CONFIG_GLOBAL, CONFIG_CHANNELS, CONFIG_SHAFTS, CONFIG_FILTERS, CONFIG_DISPLAYS];
    expect(rows.map(([from]) => from)).toEqual(starts);
    let end = 0;
    for (const [from, bytes] of rows) {
      expect(from).toBe(end);
      end = from + bytes;
    }
    expect(end).toBe(LAYOUT.CONFIG_BYTES);
    expect(LAYOUT.CONFIG_SHAFTS - LAYOUT.CONFIG_CHANNELS).toBe(
      CAPACITY.CHANNELS_MAX * LAYOUT.CHANNEL_BYTES,
    );
  });

  it("[REPO-033] holds the largest block, and frames hold it, too", () => {
    const { BLOCK_SAMPLES_MAX, CHANNELS_MAX, BLOCK_EDGES_MAX, SHAFTS_MAX } = CAPACITY;
    const largest =
      LAYOUT.BLOCK_HEADER_BYTES +
      4 * BLOCK_SAMPLES_MAX * CHANNELS_MAX +
      4 * BLOCK_EDGES_MAX * SHAFTS_MAX;
    expect(LAYOUT.BLOCK_BYTES_MAX).toBe(largest);
    expect(LINK.PACKET_BODY_MAX).toBe(largest);
    expect(page).toContain(`at most ${largest.toLocaleString("en")} bytes`);
  });

  it("[REPO-035] lists every event and every reason of a loss with its number, and no other", () => {
    expect(namedRows("Events", "EVENT_")).toEqual(numbersOf(UNITS, "EVENT_"));
    expect(namedRows("Events", "LOST_")).toEqual(numbersOf(UNITS, "LOST_"));
  });

  it("[REPO-036] lists every flag and status bit of a record", () => {
    const [flags, bits] = section("Record, ").split("| status bit |");
    const listed = (text = ""): number[] =>
      [...text.matchAll(/^\| (\d+) \| [^|]+ \|$/gm)].map((row) => Number(row[1]));
    expect(listed(flags)).toEqual(Object.values(numbersOf(LAYOUT, "FLAG_")));
    expect(listed(bits)).toEqual(Object.values(numbersOf(LAYOUT, "STATUS_")));
  });

  it("[REPO-037] lists every counter at its place", () => {
    const rows = rowsOf("Counters", /^\| (\d+) \| (\d) \| /gm).map((row) => row.map(Number));
    const words = rows.flatMap(([from, count]) =>
      Array.from({ length: count! }, (_, i) => from! + 4 * i),
    );
    expect(words).toEqual(words.map((_, i) => 4 * i));
    const firsts = numbersOf(LAYOUT, "COUNTER_");
    const { COUNTER_SAMPLES_HIGH, ...named } = firsts;
    expect(COUNTER_SAMPLES_HIGH).toBe(8);
    expect(rows.map(([from]) => from)).toEqual(Object.values(named));
    expect(section("Counters")).toContain(`${LAYOUT.COUNTERS_BYTES} bytes`);
  });

  it("[REPO-038] tells the limits that the host refuses by", () => {
    const limits = section("Configuration");
    const whole = (value: number): string => value.toLocaleString("en");
    const { TICKS_PER_SAMPLE_MAX, DISPLAY_SAMPLES_MIN, KNOTS_PER_SAMPLE_MAX } = LIMITS;
    expect(limits).toContain(`ticks per sample 1 … ${whole(TICKS_PER_SAMPLE_MAX)} |`);
    expect(limits).toContain(`| display period | ${DISPLAY_SAMPLES_MIN} … 2²⁴ samples |`);
    expect(limits).toContain(`| at most ${KNOTS_PER_SAMPLE_MAX} a sample at the highest speed |`);
    const { CHANNELS_MAX, SHAFTS_MAX, FILTERS_MAX, POOL_SAMPLES, POOL_MARGIN_SAMPLES } = CAPACITY;
    const counts = `1 to ${CHANNELS_MAX} channels, 1 to ${SHAFTS_MAX} shafts, 1 to ${FILTERS_MAX}`;
    expect(limits).toContain(counts);
    expect(limits).toContain(`at most ${whole(POOL_SAMPLES)} ÷ channels − ${POOL_MARGIN_SAMPLES}`);
    const { POSITIONS_MAX, GEAR_REVOLUTIONS_MAX } = CAPACITY;
    expect(limits).toContain(
      `1 … ${POSITIONS_MAX}, 1 … ${GEAR_REVOLUTIONS_MAX}, 1 … ${LIMITS.LOCK_REVOLUTIONS_MAX} |`,
    );
    expect(limits).toContain(`1 … ${CAPACITY.ORDER_MAX}; order × highest speed`);
  });
});
