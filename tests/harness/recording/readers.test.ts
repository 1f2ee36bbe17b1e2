import { chmodSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { WaveFile } from "wavefile";
import { afterAll, describe, expect, it } from "vitest";
import { openCsv } from "../../../harness/recording/csv-reader.ts";
import type { Recording } from "../../../harness/recording/recording.ts";
import { openWav } from "../../../harness/recording/wav-reader.ts";
import { InputError } from "../../../host/input-error.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline-recording-"));
afterAll(() => rmSync(folder, { recursive: true }));

function written(name: string, content: string | Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

async function samplesOf(recording: Recording): Promise<number[][]> {
  const all: number[][] = recording.channelNames.map(() => []);
  for await (const run of recording.runs()) {
    for (const [i, samples] of run.entries()) for (const value of samples) all[i]!.push(value);
  }
  if (recording.fault !== undefined) throw recording.fault;
  return all;
}

async function complaintOf(make: () => unknown): Promise<string> {
  try {
    await make();
  } catch (error) {
    if (error instanceof InputError) return error.message.replaceAll(folder, "…");
    throw error;
  }
  throw new Error("no complaint");
}

const SHAPES = ["16", "24", "32", "32f", "64"] as const;

describe("WAV reader", () => {
  it.each(SHAPES)("[REC-010] reads depth %s as the library wavefile writes it", async (depth) => {
    const isFloat = depth === "32f" || depth === "64";
    const scale = isFloat ? 1 : 2 ** (Number(depth) - 1);
    const left = [0, 0.5, -1, 0.25, -0.125].map((value) => value * scale);
    const right = [-0.5, 0, 0.75, -0.0625, 0.5].map((value) => value * scale);
    const wav = new WaveFile();
    wav.fromScratch(2, 12_800, depth, [left, right]);
    const recording = openWav(written(`depth-${depth}.wav`, wav.toBuffer()));
    expect(recording.sampleRateHz).toBe(12_800);
    expect(recording.sampleCount).toBe(5);
    expect(await samplesOf(recording)).toEqual([
      left.map((value) => value / scale),
      right.map((value) => value / scale),
    ]);
    expect(recording.notes).toEqual([]);
  });

  it("[REC-011] reads WAVE_FORMAT_EXTENSIBLE", async () => {
    const bytes = extensibleWav([1000, -2000, 3000]);
    const recording = openWav(written("extensible.wav", bytes));
    expect(await samplesOf(recording)).toEqual([[1000, -2000, 3000].map((value) => value / 32768)]);
  });

  it("[REC-012] says at which byte a file is no recording that it reads", async () => {
    const good = Buffer.from(extensibleWav([1, 2, 3]));
    const noData = good.subarray(0, 60);
    const badTail = Buffer.from(good);
    badTail[50] = 0x77;
    expect(await complaintOf(() => openWav(written("a.wav", "")))).toBe(
      "…/a.wav: byte 0: the file is empty",
    );
    expect(await complaintOf(() => openWav(written("b.wav", "RIFX1234WAVE")))).toBe(
      "…/b.wav: byte 0: no RIFF at the start",
    );
    expect(await complaintOf(() => openWav(written("c.wav", noData)))).toBe(
      "…/c.wav: byte 60: the file ends before its data chunk",
    );
    expect(await complaintOf(() => openWav(written("d.wav", badTail)))).toBe(
      "…/d.wav: byte 44: sub-format is neither whole numbers nor float",
    );
    expect(await complaintOf(() => openWav(folder))).toContain("is a folder, a file is needed");
    expect(await complaintOf(() => openWav(join(folder, "none.wav")))).toContain("no such file");
    mkdirSync(join(folder, "x"));
  });

  it("[REC-013] reads a cut data chunk as far as it goes, and says so", async () => {
    const bytes = Buffer.from(extensibleWav([1, 2, 3, 4]));
    const recording = openWav(written("cut.wav", bytes.subarray(0, bytes.length - 3)));
    expect(recording.sampleCount).toBe(2);
    let count = 0;
    for await (const run of recording.runs()) count += run[0]!.length;
    expect(count).toBe(2);
    expect(recording.fault?.message).toContain(
      `cut.wav: byte ${bytes.length - 3}: the file ends 3 bytes before its data chunk does; ` +
        "2 samples a channel stand before that",
    );
  });
});

function extensibleWav(samples: number[]): Uint8Array {
  const data = samples.length * 2;
  const bytes = Buffer.alloc(12 + 8 + 40 + 8 + data);
  bytes.write("RIFF", 0, "latin1");
  bytes.writeUInt32LE(bytes.length - 8, 4);
  bytes.write("WAVEfmt ", 8, "latin1");
  bytes.writeUInt32LE(40, 16);
  bytes.writeUInt16LE(0xfffe, 20);
  bytes.writeUInt16LE(1, 22);
  bytes.writeUInt32LE(8000, 24);
  bytes.writeUInt32LE(16_000, 28);
  bytes.writeUInt16LE(2, 32);
  bytes.writeUInt16LE(16, 34);
  bytes.writeUInt16LE(22, 36);
  bytes.writeUInt16LE(16, 38);
  bytes.writeUInt32LE(4, 40);
  Buffer.from("0100000000001000800000aa00389b71", "hex").copy(bytes, 44);
  bytes.write("data", 60, "latin1");
  bytes.writeUInt32LE(data, 64);
  samples.forEach((value, i) => bytes.writeInt16LE(value, 68 + 2 * i));
  return bytes;
}

describe("CSV reader", () => {
  it("[REC-020] reads comma, semicolon and tab, with header or without", async () => {
    const header = await openCsv(written("h.csv", "y,z\n1,2\n-3.5,4e-2\n"));
    expect(header.channelNames).toEqual(["y", "z"]);
    expect(await samplesOf(header)).toEqual([
      [1, -3.5],
      [2, Math.fround(0.04)],
    ]);
    const bare = await openCsv(written("b.csv", "1;2\r\n3;4"));
    expect(bare.channelNames).toEqual(["channel 1", "channel 2"]);
    expect(await samplesOf(bare)).toEqual([
      [1, 3],
      [2, 4],
    ]);
    const tab = await openCsv(written("t.csv", "\ufeffa\tb\n1\t2\n"));
    expect(tab.channelNames).toEqual(["a", "b"]);
  });

  it("[REC-021] takes the sample rate from a time column, which is no channel", async () => {
    const rows = Array.from({ length: 200 }, (_, i) => `${(i * 0.5).toFixed(1)},${i}`);
    const recording = await openCsv(written("ms.csv", `time [ms],a\n${rows.join("\n")}\n`));
    expect(recording.sampleRateHz).toBeCloseTo(2000, 9);
    expect(recording.channelNames).toEqual(["a"]);
    expect((await samplesOf(recording))[0]!.length).toBe(200);
  });

  it("[REC-026] says where the file's own time does not start at 0", async () => {
    const later = await openCsv(written("later.csv", "t,a\n100,1\n100.5,2\n"));
    expect(later.notes.join(" ")).toContain("time starts at 100 s");
    expect((await openCsv(written("zero.csv", "t,a\n0,1\n0.5,2\n"))).notes).toEqual([]);
  });

  it("[REC-022] counts samples that are no number and passes them on", async () => {
    const recording = await openCsv(written("nan.csv", "a,b\n1,nan\n,2\n3,Inf\n"));
    const samples = await samplesOf(recording);
    expect(samples[0]).toEqual([1, Number.NaN, 3]);
    expect(recording.notFiniteCount).toEqual([1, 2]);
  });

  it("[REC-023] keeps reading across the edges of its buffers", async () => {
    const count = 200_000;
    const rows = Array.from({ length: count }, (_, i) => `${i},${-i}`);
    const recording = await openCsv(written("long.csv", `a,b\n${rows.join("\n")}`));
    let at = 0;
    for await (const run of recording.runs()) {
      for (const value of run[0]!) {
        if (value !== at) throw new Error(`row ${at} reads ${value}`);
        at += 1;
      }
    }
    expect(at).toBe(count);
  });

  const WRONG: [title: string, text: string, complaint: string][] = [
    ["empty", "", ":1:1: the file is empty"],
    ["header only", "a,b\n", ":2:1: only a header, no samples"],
    ["ragged", "a,b\n1,2\n3\n", ":3:2: 1 columns, expected 2"],
    ["text in a number", "a,b\n1,2\n3,4x\n", ':3:2: "4x" is not a number'],
    ["NaN in the header", "a,NaN\n1,2\n", ':1:2: column 2 has no name (found "NaN")'],
    ["a name twice", "a,a\n1,2\n", ':1:2: column name "a" stands twice'],
    ["NaN in time", "t,a\n0,1\nnan,2\n", ':3:1: time: "nan" is not a number'],
    ["time that jumps", "t,a\n0,1\n1,2\n2,3\n2.5,4\n", "even steps are needed"],
    ["time that rests", "t,a\n1,1\n1,2\n", ":3:1: time does not ascend"],
  ];
  it.each(WRONG)(
    "[REC-024] complains of %s with line and column",
    async (title, text, complaint) => {
      const path = written(`wrong-${title.replaceAll(" ", "-")}.csv`, text);
      const found = await complaintOf(async () => samplesOf(await openCsv(path)));
      expect(found).toContain(complaint);
    },
  );

  it("[REC-025] says where a file may not be read", async () => {
    const path = written("locked.csv", "a\n1\n");
    chmodSync(folder, 0o755);
    chmodSync(path, 0);
    // Root reads every file: become somebody else for the length of the call.
    const isRoot = process.geteuid?.() === 0;
    if (isRoot) process.seteuid!(65_534);
    try {
      expect(await complaintOf(() => openCsv(path))).toContain("may not be read");
    } finally {
      if (isRoot) process.seteuid!(0);
    }
  });
});
