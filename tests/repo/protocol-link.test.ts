// The page's section on the link against the contract and against what the code sends.
import { describe, expect, it } from "vitest";
import * as LINK from "../../shared/link.ts";
import { VirtualClock } from "../../host/link/clock.ts";
import { LinkClient } from "../../host/link/client.ts";
import { LinkDevice } from "../../host/link/device.ts";
import { memoryLine } from "../../host/link/memory-port.ts";
import type { BytePort } from "../../host/link/port.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import { writeBlock } from "../../harness/target/block-bytes.ts";
import { answerOf } from "../assembly/kit/link-line.ts";
import { loadCore } from "../kit/play-scene.ts";
import { monitorProfile } from "../kit/scene-builder.ts";
import { readProjectFile } from "./source-files.ts";

const page = readProjectFile("shared/PROTOCOL.md");
const section = page.split(/^## /m).find((part) => part.startsWith("Frames on a serial link"))!;

/** The types, which the page's first table names by their packets. */
const TYPES = [
  "HELLO",
  "CONFIGURE",
  "FEED",
  "RECORDS",
  "COUNTERS",
  "TEST",
  "RESET",
  "FAULT",
] as const;

/** Bytes of the line as the page writes them: sixteen a row. */
function hexOf(title: string, bytes: readonly number[]): string {
  const rows: string[] = [];
  for (let at = 0; at < bytes.length; at += 16) {
    const row = bytes.slice(at, at + 16).map((byte) => byte.toString(16).padStart(2, "0"));
    rows.push(row.join(" "));
  }
  return [`${title}, ${bytes.length} bytes`, ...rows].join("\n");
}

/** A block of four samples 0, 1, −1, 0.5 and one edge at tick 6,250. */
function smallBlock(): Uint8Array {
  const memory = new ArrayBuffer(256);
  const views = {
    words: new Uint32Array(memory),
    floats: new Float32Array(memory),
    halves: new Int16Array(memory),
  };
  const batch = {
    firstSample: 0,
    sampleCount: 4,
    samples: [Float32Array.from([0, 1, -1, 0.5])],
    edges: [Float64Array.from([6250])],
    inputs: [],
  };
  const cut = { sampleFrom: 0, sampleCount: 4, edgeFrom: [0], edgeCount: [1], inputs: 0 };
  return new Uint8Array(memory.slice(0, writeBlock(views, 0, batch, cut, 6250)));
}

/** Two exchanges of host and device, as they are on the line. */
async function exchanges(): Promise<string[]> {
  const clock = new VirtualClock();
  const line = memoryLine({ clock });
  const identity = "0123456789abcdef";
  await new LinkDevice(loadCore(), line.device, { creditBytes: 8192, identity }).start();
  const seen: number[][] = [];
  const port: BytePort = {
    ...line.host,
    open: () => line.host.open(),
    close: () => line.host.close(),
    onClosed: (take) => line.host.onClosed(take),
    write(bytes) {
      seen.push([...bytes]);
      line.host.write(bytes);
    },
    onBytes: (take) =>
      line.host.onBytes((bytes) => {
        seen.push([...bytes]);
        take(bytes);
      }),
  };
  const client = new LinkClient({ port, clock, session: 0xdbc0, firstSequence: 1 });
  const work = async (): Promise<void> => {
    await client.open(new AbortController().signal);
    await client.configure(configurationBytes(monitorProfile()));
    await client.feed([{ bytes: smallBlock(), firstSample: 0, bringsRecords: false }]);
  };
  await clock.run(work(), 1e4);
  const [hello, greeting, , , feed, taken] = seen as [number[], number[], 0, 0, number[], number[]];
  return [
    `${hexOf("hello, host to device", hello)}\n\n${hexOf("hello, device to host", greeting)}`,
    `${hexOf("feed, host to device", feed)}\n\n${hexOf("feed, device to host", taken)}`,
  ];
}

describe("PROTOCOL.md, the link", () => {
  it("[LINK-110] holds two whole exchanges as the code sends them, byte for byte", async () => {
    const fenced = [...section.matchAll(/^```\n([^`]*?)\n```$/gm)].map((match) => match[1]);
    expect(fenced.filter((text) => text?.includes("host to device"))).toEqual(await exchanges());
  });

  it("[LINK-110] every line of them reads by RFC 1055 and zlib's own CRC-32", () => {
    const runs = [
      ...section.matchAll(/^\w+, (?:host|device) to \w+, (\d+) bytes\n((?:[0-9a-f]{2}[ \n])+)/gm),
    ];
    const packets = runs.map(([, count, hex]) => {
      const bytes = [...Buffer.from(hex!.replaceAll(/\s/g, ""), "hex")];
      expect(bytes.length).toBe(Number(count));
      const { type, sequence, expected, body } = answerOf(bytes);
      return [type, sequence, expected, body.byteLength];
    });
    expect(packets).toEqual([
      [0x01, 1, 0, LINK.HELLO_BYTES],
      [0x81, 1, 2, LINK.HELLO_ANSWER_BYTES],
      [0x03, 3, 0, 84],
      [0x83, 3, 4, LINK.FEED_ANSWER_BYTES],
    ]);
  });

  it("[LINK-111] states every number of the link by its name, and no other", () => {
    const rows = section.matchAll(/^\| ([\d,]+|0x[0-9a-f]+) \| ([A-Z][A-Z0-9_]+) \|/gm);
    const listed = [...rows].map((row) => [row[2]!, Number(row[1]!.replaceAll(",", ""))] as const);
    const types = new Set<string>(TYPES.map((name) => `PACKET_${name}`));
    const numbers = Object.entries(LINK).filter(([name]) => !types.has(name));
    expect(Object.fromEntries(listed)).toEqual(Object.fromEntries(numbers));
    expect(listed.length).toBe(numbers.length);
  });

  it("[REPO-034] names every packet type with its number", () => {
    const packets = [...section.matchAll(/^\| (\d) \| (\w+) \| [^|]+ \| [^|]+ \|$/gm)];
    const named = packets.map(([, number, name]) => [name!.toUpperCase(), Number(number)]);
    const numbers: Record<string, number> = { ...LINK };
    const types = TYPES.map((name) => [name, numbers[`PACKET_${name}`]]);
    expect(named).toEqual(types);
  });
});
