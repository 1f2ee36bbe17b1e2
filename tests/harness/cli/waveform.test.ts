import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { BENCH_CAUTIONS } from "../../../host/bench-cautions.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

let folder = "";
const path = (name: string): string => join(folder, name);
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline waveform "));
  const cases = "cases:\n  - [case, x]\n  - [one, 1]\n  - [two, 2]\n";
  writeScenarios(folder, {
    plain: scenarioText({ duration: "2 s" }),
    table: scenarioText({ duration: "2 s", more: cases }).replace("1 in/s pk", "$x in/s pk"),
    wrong: scenarioText({ amplitude: "1 furlong pk" }),
  });
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const LIMIT = ["--input-limit", "5 V pk", "--pulse-level", "2 V"];
const call = (file: string, ...args: string[]) =>
  amberlineHere(["waveform", path(`${file}.scenario.yaml`), ...args]);

describe("amberline waveform", () => {
  it("[STIM-030] writes file and side file, tells peak, rms and scale, and warns before", async () => {
    const out = path("first.wav");
    const ended = await call("plain", ...LIMIT, "--volt", "frame=2 in/s", "--out", out);
    expect(ended.code).toBe(0);
    const said = ended.stdout.replace(/\s+/g, " ");
    expect(said).toContain("1 frame: peak 0.5 V");
    expect(said).toContain("rms 0.3536 V; 1 V is 2 in/s; limit 5 V pk");
    expect(said).toMatch(/2 N1: \d+ pulses of 2 V/);
    expect(Math.max(...ended.stdout.split("\n").map((line) => line.length))).toBeLessThanOrEqual(
      Math.max(80, out.length + 20),
    );
    const warned = ended.stderr.replace(/\s+/g, " ");
    for (const one of BENCH_CAUTIONS) expect(warned.split(one).length).toBe(2);
    expect(existsSync(out)).toBe(true);
    const side = JSON.parse(readFileSync(`${out}.json`, "utf8")) as Record<string, unknown>;
    expect(side).toMatchObject({ limits: { inputV: 5, pulseV: 5 }, core: { isRight: true } });
    expect(side["events"]).toMatchObject([{ event: "reference-found", of: "shaft N1" }]);
  });

  it.each([
    ["no limit", [], "needs the limit of the input"],
    ["no pulse level", ["--input-limit", "5 V pk"], "the tachometer's pulses need a level"],
    ["a limit without its detector", ["--input-limit", "5 V"], "must name its detector"],
    ["a limit that is no voltage", ["--input-limit", "5 mm pk"], "must be in V, mV"],
    ["a channel that is not there", [...LIMIT, "--volt", "aft=1 in/s"], "of the channels frame"],
    ["another quantity", [...LIMIT, "--volt", "frame=1 g"], "the amount must be in in/s"],
    ["a pulse of no width", [...LIMIT, "--pulse-width", "1 us"], "a pulse has 234.4 us at least"],
    ["a short ramp", [...LIMIT, "--ramp", "1 ms"], "a time from 0.1 s to 600 s"],
    ["a format that is not there", [...LIMIT, "--format", "mp3"], "wav24, wav-float, csv"],
    ["a limit that is passed", [...LIMIT, "--volt", "frame=0.1 in/s"], "would reach"],
    ["no such case", [...LIMIT, "--only", "nobody"], "no case of"],
  ])("[STIM-031] %s ends with 2 and a sentence, and writes nothing", async (_what, args, said) => {
    const out = path("never.wav");
    const ended = await call("plain", ...args, "--out", out);
    expect(ended.code).toBe(2);
    expect(ended.stderr.replace(/\s+/g, " ")).toContain(said);
    expect(ended.stderr).not.toMatch(/\n\s+at /);
    expect([existsSync(out), existsSync(`${out}.json`), existsSync(`${out}.part`)]).toEqual([
      false,
      false,
      false,
    ]);
  });

  it("[STIM-032] asks which case of a table is meant", async () => {
    const out = path("case.wav");
    const many = await call("table", ...LIMIT, "--out", out);
    expect(many.code).toBe(2);
    expect(many.stderr).toContain("table[one]\n  table[two]");
    expect((await call("table", ...LIMIT, "--only", "two", "--out", out)).code).toBe(0);
  });

  it("[STIM-033] never writes over a file that is there", async () => {
    const out = path("mine.wav");
    writeFileSync(out, "mine");
    const ended = await call("plain", ...LIMIT, "--out", out);
    expect(ended.code).toBe(2);
    expect(ended.stderr).toContain("is there already; it is not written over");
    expect(readFileSync(out, "utf8")).toBe("mine");
  });

  it("[STIM-034] a mistake in the scenario is told with file, line and column", async () => {
    const ended = await call("wrong", ...LIMIT, "--out", path("wrong.wav"));
    expect(ended.code).toBe(2);
    expect(ended.stderr).toMatch(/wrong\.scenario\.yaml:\d+:\d+: .*furlong/);
  });

  it("[STIM-035] tells a machine the same as JSON, and nothing else", async () => {
    const ended = await call("plain", ...LIMIT, "--out", path("json.wav"), "--json");
    expect([ended.code, ended.stderr]).toEqual([0, ""]);
    expect(JSON.parse(ended.stdout)).toMatchObject({
      path: path("json.wav"),
      facts: { file: { sampleRateHz: 12_800, rampS: 2 } },
    });
  });

  it("[STIM-036] a folder that cannot be written is told", async () => {
    const ended = await call("plain", ...LIMIT, "--out", "/proc/none/x.wav");
    expect(ended.code).toBe(2);
    expect(ended.stderr).toContain("cannot be written");
  });
});
