import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { BENCH_CAUTIONS } from "../../../host/bench-cautions.ts";
import { amberline } from "../../kit/amberline-command.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

/** What is read here of a side file and of a replay's result. */
interface SideText {
  file: { fullScaleV: number; zeroSample: number; sampleRateHz: number };
  truth: { rows: [number, string, number | null, number | null][] };
}
interface ReplayText {
  filters: { trace: { time: number[]; level: number[] } }[];
}

const RISING = "speed: [{ start: 4800 r/min }, { hold: 500 ms }, { to: 5400 r/min, over: 2 s }]";
let folder = "";
const path = (name: string): string => join(folder, name);
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline waveform "));
  const cases = "cases:\n  - [case, x]\n  - [one, 1]\n  - [two, 2]\n";
  writeScenarios(folder, {
    plain: scenarioText({ duration: "2 s" }),
    table: scenarioText({ duration: "2 s", more: cases }).replace("1 in/s pk", "$x in/s pk"),
    long: scenarioText({ duration: "300 s" }),
    rising: scenarioText({ duration: "4 s" }).replace("speed: 4800 r/min", RISING),
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
    expect(said).toContain("a ramp up of 2 s without pulses, the first moment held for 2.2 s");
    expect(said).toContain(
      "the scenario, 2 s, from sample 53760 on, its time 0, and a ramp down of 2 s",
    );
    expect(said).toContain("1 frame: peak 0.5 V");
    // A sine of 0.5 V for 4.2 s of hold and scenario; a ramp has 3/8 of its square: ∫ sin⁴.
    const rms = Math.sqrt(((0.5 ** 2 / 2) * (4.2 + (4 * 3) / 8)) / 8.2).toPrecision(4);
    expect(said).toContain(`rms ${rms} V; 1 V is 2 in/s; limit 5 V pk`);
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
    ["a hold under nothing", [...LIMIT, "--hold", "-1 s"], "a time from 0 s to 3600 s"],
    ["a hold without its unit", [...LIMIT, "--hold", "3"], "the time"],
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
      facts: { file: { sampleRateHz: 12_800, rampS: 2, holdS: 2.2, rampDownS: 2 } },
    });
  });

  it("[WAVE-088] holds as long as it is told, in whole display periods", async () => {
    const args = ["--hold", "1.23 s", "--ramp", "0.5 s", "--out", path("held.wav"), "--json"];
    const ended = await call("plain", ...LIMIT, ...args);
    expect(JSON.parse(ended.stdout)).toMatchObject({
      facts: { file: { rampS: 0.5, holdS: 1.3, zeroSample: 1.8 * 12_800, rampDownS: 0.5 } },
    });
  });

  it.each(["wav24", "wav-float", "csv"])(
    "[WAVE-089] replayed, the written %s reads the truth of its side file, hold and scenario",
    async (format) => {
      const out = path(`replayed.${format === "csv" ? "csv" : "wav"}`);
      const args = ["--volt", "frame=2 in/s", "--format", format, "--out", out];
      expect((await call("rising", ...LIMIT, ...args)).code).toBe(0);
      const side = JSON.parse(readFileSync(`${out}.json`, "utf8")) as SideText;
      rmSync(`${out}.json`);
      // A WAV's channels have numbers for names, and its full scale is one; a CSV is in volts.
      const isCsv = format === "csv";
      const profile = readFileSync(path("small.monitor.yaml"), "utf8");
      const own = path("replay.monitor.yaml");
      writeFileSync(own, isCsv ? profile : profile.replace("frame:", "channel 1:"));
      const unit = isCsv ? "2 in/s" : `${2 * side.file.fullScaleV} in/s`;
      const ended = await amberlineHere(
        ["replay", out, "--profile", own, "--tachometer", isCsv ? "N1" : "2"].concat([
          "--file-unit",
          unit,
          "--replace",
          "--out",
          path("replayed"),
          "--json",
        ]),
      );
      expect(ended.code).toBe(0);
      rmSync(out);
      const { trace } = (JSON.parse(ended.stdout) as ReplayText).filters[0]!;
      const zeroS = side.file.zeroSample / side.file.sampleRateHz;
      const read = new Map(
        trace.time.map((timeS, i) => [(timeS - zeroS).toFixed(3), trace.level[i]!]),
      );
      // A step of 24 bits, the coarsest of the three, as an amplitude.
      const rounding = (2 * side.file.fullScaleV) / 2 ** 23;
      let [held, played] = [0, 0];
      for (const [timeS, , level, tolerance] of side.truth.rows) {
        if (level === null) continue;
        const found = read.get(timeS.toFixed(3));
        expect(found, String(timeS)).toBeDefined();
        expect(Math.abs(found! - level), String(timeS)).toBeLessThanOrEqual(tolerance! + rounding);
        if (timeS < 0) held += 1;
        else played += 1;
      }
      expect(held).toBeGreaterThan(15);
      expect(played).toBeGreaterThan(25);
    },
  );

  it.each(["SIGINT", "SIGTERM"] as const)(
    "[WAVE-090] %s ends it with 130, nothing left",
    async (sign) => {
      const cwd = mkdtempSync(join(folder, "stopped "));
      const args = ["waveform", path("long.scenario.yaml"), ...LIMIT, "--out", "x.wav"];
      const ended = await amberline(args, {
        cwd,
        onStart: (kill) => {
          const timer = setInterval(() => {
            if (!existsSync(join(cwd, "x.wav.part"))) return;
            clearInterval(timer);
            kill(sign);
          }, 1);
        },
      });
      expect(ended.code).toBe(130);
      expect(ended.stderr).toContain("Interrupted; nothing was written.");
      expect(readdirSync(cwd)).toEqual([]);
    },
  );

  it("[STIM-036] a folder that cannot be written is told", async () => {
    const ended = await call("plain", ...LIMIT, "--out", "/proc/none/x.wav");
    expect(ended.code).toBe(2);
    expect(ended.stderr).toContain("cannot be written");
  });
});
