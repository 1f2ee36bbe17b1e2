import { describe, expect, it } from "vitest";
import * as CAPACITY from "../../shared/capacity.ts";
import * as LAYOUT from "../../shared/layout.ts";
import * as LINK from "../../shared/link.ts";
import * as STATUS from "../../shared/status.ts";
import { readProjectFile } from "./source-files.ts";

const page = readProjectFile("shared/PROTOCOL.md");

function rowsOf(pattern: RegExp): string[][] {
  return [...page.matchAll(pattern)].map((match) => match.slice(1));
}

describe("PROTOCOL.md", () => {
  it("[REPO-030] lists every status with its number, and no other", () => {
    const listed = Object.fromEntries(
      rowsOf(/^\| −(\d+) \| (ERR_\w+) \|/gm).map(([number, name]) => [name, -Number(number)]),
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
    const rows = rowsOf(/^\| (\d+) \| (?:(\d+) × )?(\d+) \| (\w+)/gm).map(
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

  it("[REPO-034] names every packet type with its number", () => {
    const packets = rowsOf(/^\| (\d) \| (\w+) \| [^|]+ \| [^|]+ \|$/gm);
    const named = Object.fromEntries(packets.map(([n, name]) => [name!.toUpperCase(), Number(n)]));
    const { PACKET_HELLO, PACKET_CONFIGURE, PACKET_FEED, PACKET_RECORDS } = LINK;
    expect(named).toEqual({
      HELLO: PACKET_HELLO,
      CONFIGURE: PACKET_CONFIGURE,
      FEED: PACKET_FEED,
      RECORDS: PACKET_RECORDS,
      COUNTERS: LINK.PACKET_COUNTERS,
      TEST: LINK.PACKET_TEST,
      RESET: LINK.PACKET_RESET,
    });
  });
});
