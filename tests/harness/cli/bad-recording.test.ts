// Recordings and tables that a tired or hostile user may hand over, through the real command line.
import { mkdirSync, mkdtempSync, readFileSync, rmSync, truncateSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { REFUSED } from "../../bad-input/recording-kinds.ts";
import { toneRows, toneWav } from "../../kit/small-recording.ts";
import { writeScenarios } from "../../kit/small-scenario.ts";

let folder = "";
const rows = toneRows(6000);
const csv = `${rows.join("\n")}\n`;
const wav = toneWav(6000);
const TWO_GIB = 2 ** 31;

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline bad 中 "));
  writeScenarios(folder, {});
  writeFileSync(join(folder, "good.csv"), csv);
  writeFileSync(join(folder, "good.wav"), wav);
  for (const name of ["folder.csv", "folder.wav"]) mkdirSync(join(folder, name));
  for (const name of ["huge.csv", "huge.wav"]) {
    writeFileSync(join(folder, name), "");
    truncateSync(join(folder, name), TWO_GIB);
  }
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const path = (name: string): string => join(folder, name);
function written(name: string, content: string | Uint8Array): string {
  writeFileSync(path(name), content);
  return path(name);
}
/** The CSV with one of its lines, counted from 1, as given. */
const withLine = (line: number, text: string): string => csv.replace(rows[line - 1]!, text);
const replay = (file: string, ...more: string[]) =>
  amberlineHere([
    "replay",
    file,
    "--speed",
    "20 rev/s",
    "--out",
    path("out"),
    "--replace",
    ...more,
  ]);

type Row = [name: string, file: string, content: string | Uint8Array | undefined, told: string];

const BROKEN: Row[] = [
  ["a WAV that was cut", "cut.wav", wav.subarray(0, 44 + 9001), ": byte 9045: the file ends 2999 "],
  ["text in a number", "text.csv", withLine(5002, "2.5000,4x,1"), ':5002:2: "4x" is not a number'],
  ["ragged rows", "ragged.csv", withLine(5002, "2.5000,1"), ":5002:3: 2 columns, expected 3"],
  ["NaN in a time", "nan-time.csv", withLine(5002, "nan,1,1"), ':5002:1: time: "nan" is not a num'],
  [
    "a jump of the time",
    "jump.csv",
    withLine(5002, "2.6000,1,1"),
    ":5002:1: time steps by 201.0 s",
  ],
  ["a late open quote", "late.csv", withLine(5002, '"2.5000,1,1'), ":5002:1: a quotation mark is"],
  ["a late wrong byte", "byte.csv", `${csv}1,\u00001,1\n`, ":6002:3: is no text: a zero byte"],
];

describe("a recording that breaks on the way", () => {
  it.each(BROKEN)(
    "[CLI-111] %s: code 2 and its place, with the report of what stands before",
    async (name, file, content, told) => {
      const broken = written(file, content!);
      const out = path(`out ${name}`);
      const { code, stdout, stderr } = await replay(broken, "--out", out);
      expect(code).toBe(2);
      expect(stderr.startsWith(broken)).toBe(true);
      expect(stderr).toContain(told);
      const { sampleCount, fault, filters } = JSON.parse(
        readFileSync(join(out, "replay.json"), "utf8"),
      );
      // 9001 bytes of two a sample; 5,000 rows lie before line 5,002, all 6,000 before 6,002.
      expect(sampleCount).toBe(file === "cut.wav" ? 4500 : file === "byte.csv" ? 6000 : 5000);
      expect(fault).toContain(told);
      expect(filters[0].computedCount).toBeGreaterThan(10);
      expect(readFileSync(join(out, "report.html"), "utf8")).toContain("stands before a fault");
      expect(stdout).toContain("Only what stands before a fault was read");
    },
  );

  it("[CLI-112] a stretch that ends before the fault is not touched by it", async () => {
    for (const file of [
      written("early.csv", withLine(5002, "2.5000,4x,1")),
      written("early.wav", wav.subarray(0, 44 + 9001)),
    ]) {
      const { code, stderr } = await replay(file, "--until", "2 s", "--out", path("early"));
      expect([code, stderr]).toEqual([0, ""]);
    }
  });

  it("[CLI-113] NaN and empty cells among the samples are counted and dropped", async () => {
    const file = written(
      "nan.csv",
      withLine(5002, "2.5000,nan,1").replace(rows[5100]!, "2.5495,,1"),
    );
    const { code, stdout } = await replay(file, "--channel", "a");
    expect(code).toBe(0);
    expect(stdout).toContain('2 samples of "a" were no number and were dropped');
  });

  it.each([
    ["lines that end in CR LF", csv.replaceAll("\n", "\r\n")],
    ["a byte order mark", `\ufeff${csv}`],
    ["no line end at the end", csv.trimEnd()],
    ["empty lines at the end", `${csv}\n\n`],
  ])("[CLI-114] takes %s as the same recording", async (name, content) => {
    const levels: number[] = [];
    for (const file of [path("good.csv"), written(`${name}.csv`, content)]) {
      const { code, stdout } = await replay(file, "--json");
      expect(code).toBe(0);
      levels.push(JSON.parse(stdout).filters[0].median);
    }
    expect(levels[1]).toBe(levels[0]);
    expect(levels[0]).toBeCloseTo(3, 2);
  });

  it("[CLI-115] a WAV that was written as a stream ends where the file does, and says so", async () => {
    const stream = Buffer.from(wav);
    stream.writeUInt32LE(0xffffffff, 40);
    const { code, stdout } = await replay(written("stream.wav", stream));
    expect(code).toBe(0);
    expect(stdout).toContain("does not say how long it is: 6000 samples");
  });
});

describe("check of a recording", () => {
  it("[CLI-120] says channels, rate, samples, length and what is not finite", async () => {
    const file = written("checked.csv", withLine(5002, "2.5000,nan,1"));
    const { code, stdout } = await amberlineHere(["check", file, path("good.wav")]);
    expect(code).toBe(0);
    expect(stdout.replaceAll(folder, "…")).toBe(
      `…/checked.csv: the recording can be read
  sample rate     2000 Hz
  samples         6000 a channel, 3 s
  channels        2
    "a"  −3 to 3, 1 not finite
    "tach"  −1 to 1
…/good.wav: the recording can be read
  sample rate     2000 Hz
  samples         6000 a channel, 3 s
  channels        1
    "channel 1"  −0.25 to 0.25
`,
    );
  });

  it("[CLI-121] knows a table of levels by its columns", async () => {
    const table = written(
      "crew.csv",
      "time [s],level,speed [r/min]\n0,1,4000\n0.5,2,4000\n1,1,4000\n",
    );
    const { stdout } = await amberlineHere(["check", table, "--json"]);
    const [{ kind, levels }] = JSON.parse(stdout).files;
    expect(kind).toBe("levels");
    expect(levels).toMatchObject({ rowCount: 3, periodS: 0.5, durationS: 1.5, greatestLevel: 2 });
    expect([levels.hasSpeed, levels.hasAltitude]).toEqual([true, false]);
  });

  it("[CLI-122] tells every bad one with its place and ends with 2", async () => {
    const files = [...REFUSED, ...BROKEN].filter(
      ([, file]) => !/^(folder|nothing|sound)/.test(file),
    );
    for (const [, file, content] of files) if (content !== undefined) written(file, content);
    const paths = files.map(([, file]) => path(file));
    const { code, stdout, stderr } = await amberlineHere(["check", path("good.csv"), ...paths]);
    expect([code, stderr]).toEqual([2, ""]);
    expect(stdout).toContain("good.csv: the recording can be read");
    for (const [, , , told] of files) expect(stdout).toContain(told);
  });

  it("[CLI-123] a file that does not say its rate is right, and says so", async () => {
    const file = written("bare.csv", "a,b\n1,2\n3,4\n");
    const { code, stdout } = await amberlineHere(["check", file]);
    expect(code).toBe(0);
    expect(stdout).toContain("sample rate     not known; --rate of replay states it");
    expect(stdout).toContain("samples         2 a channel\n");
  });
});
