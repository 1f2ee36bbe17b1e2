// What every command offers: help that fits a terminal, JSON that parses, exit codes, no stack.
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { CAUTION_SENTENCE } from "../../../host/caution-sentence.ts";
import { amberline } from "../../kit/amberline-command.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { toneWav } from "../../kit/small-recording.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

const COLUMNS = 80;
const COMMANDS = ["demo", "run", "replay", "check", "new", "target"];

let folder = "";
const path = (...names: string[]): string => join(folder, ...names);

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline surface "));
  writeScenarios(folder, {
    low: scenarioText({ duration: "2 s" }),
    never: scenarioText({
      duration: "4 s",
      amplitude: "3 in/s pk",
      more: "expect:\n  caution never: [fan]\n",
    }),
    typing: scenarioText({ more: "vibraton: 3\n" }),
  });
  writeFileSync(path("tone.wav"), toneWav(6000));
  writeFileSync(path("cut.wav"), toneWav(6000).subarray(0, 9000));
  writeFileSync(path("levels.csv"), "time,level\n0,1\n0.5,6\n1,6\n1.5,6\n2,1\n2.5,1\n3,1\n");
  writeFileSync(path("no.wasm"), "no wasm");
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe("help", () => {
  it.each(["", ...COMMANDS])("[CLI-160] of %j: an example, within 80 columns", async (command) => {
    const call = command === "" ? ["--help"] : [command, "--help"];
    const { code, stdout, stderr } = await amberlineHere(call);
    expect([code, stderr]).toEqual([0, ""]);
    expect(stdout).toMatch(/\nExample:\n {2}\$ amberline \w+/);
    for (const line of stdout.split("\n")) expect(line.length).toBeLessThanOrEqual(COLUMNS);
    expect(stdout).not.toMatch(/\b(benign|safe|continue)\b/i);
  });

  it.each(["run", "replay", "demo"])(
    "[CLI-161] of %s tells the exit codes and ends with the caution sentence",
    async (command) => {
      const { stdout } = await amberlineHere([command, "--help"]);
      expect(stdout.trimEnd().replaceAll("\n", " ").endsWith(CAUTION_SENTENCE)).toBe(true);
      expect(stdout).toMatch(/Ends with 0 [\s\S]* 2 [\s\S]* 3 the target failed, 130 interrupted/);
    },
  );
});

type Call = () => string[];
const out = (name: string): string[] => ["--replace", "--out", path(name)];
const replay = (file: string): string[] => ["replay", path(file), "--speed", "20 rev/s"];
function levels(): string[] {
  const profile = ["--profile", path("small.monitor.yaml")];
  return ["replay", path("levels.csv"), "--levels", ...profile, ...out("levels")];
}

const JSON_CALLS: [name: string, call: Call, keys: string[]][] = [
  ["run", () => ["run", path("low.scenario.yaml"), ...out("run")], ["folder", "cases", "failures"]],
  ["check", () => ["check", path("low.scenario.yaml"), path("tone.wav")], ["files"]],
  ["replay", () => [...replay("tone.wav"), ...out("tone")], ["folder", "filters", "isInterrupted"]],
  ["replay --levels", levels, ["folder", "cautions", "levelSetting"]],
  ["demo", () => ["demo", "--only", "healthy", ...out("demo")], ["folder", "cases", "seed"]],
  ["new", () => ["new", path("start")], ["files"]],
];

describe("--json", () => {
  it.each(JSON_CALLS)("[CLI-162] of %s prints one JSON and nothing else", async (_, call, keys) => {
    const { code, stdout, stderr } = await amberlineHere([...call(), "--json"]);
    expect([code, stderr]).toEqual([0, ""]);
    expect(Object.keys(JSON.parse(stdout))).toEqual(expect.arrayContaining(keys));
  });

  it("[CLI-163] of a call that is wrong prints the sentence apart from the JSON", async () => {
    const wrong = await amberlineHere([...replay("cut.wav"), ...out("cut"), "--json"]);
    expect(wrong.code).toBe(2);
    expect(JSON.parse(wrong.stdout).fault).toContain(
      "cut.wav: byte 9000: the file ends 3044 bytes",
    );
    expect(wrong.stderr).toContain("cut.wav: byte 9000: the file ends 3044 bytes before");
    const none = await amberlineHere(["run", path("typing.scenario.yaml"), "--json"]);
    expect([none.code, none.stdout]).toEqual([2, ""]);
  });
});

const CODES: [code: number, name: string, call: Call][] = [
  [0, "all right", () => ["run", path("low.scenario.yaml"), ...out("0")]],
  [1, "a wrong verdict", () => ["run", path("never.scenario.yaml"), ...out("1")]],
  [2, "a wrong scenario", () => ["run", path("typing.scenario.yaml"), ...out("2")]],
  [3, "a target that fails", () => [...CODES[0]![2](), "--core", path("no.wasm")]],
  [0, "a check that is right", () => ["check", path("low.scenario.yaml")]],
  [2, "a check that is wrong", () => ["check", path("typing.scenario.yaml")]],
  [0, "a replay", () => [...replay("tone.wav"), ...out("3")]],
  [2, "a replay of a broken file", () => [...replay("cut.wav"), ...out("4")]],
  [0, "recorded levels", levels],
  [0, "new files", () => ["new", path("fresh")]],
  [2, "files in the way", () => ["new", path("fresh")]],
  [2, "an option that is none", () => ["check", "--shards", "2", "x"]],
  [2, "a command that is none", () => ["judge"]],
  [0, "the version", () => ["--version"]],
];

describe("exit codes", () => {
  it.each(CODES)("[CLI-164] %i: %s", async (code, _, call) => {
    const ended = await amberlineHere(call());
    expect(ended.code).toBe(code);
    expect(ended.stdout + ended.stderr).not.toMatch(/\n {4}at |mistake of its own/);
  });

  it("[CLI-165] 0, 1, 2, 3 of a process of its own, and a stack with --debug alone", async () => {
    for (const [code, , call] of CODES.slice(0, 4)) {
      expect((await amberline(call(), { cwd: folder })).code).toBe(code);
    }
    const wrong = ["run", path("typing.scenario.yaml")];
    expect((await amberlineHere(wrong)).stderr).not.toMatch(/\n {4}at /);
    expect((await amberlineHere([...wrong, "--debug"])).stderr).toMatch(/\n {4}at /);
  });

  it("[CLI-166] a report of a broken file shows what is wrong as text", () => {
    const page = readFileSync(path("4", "report.html"), "utf8");
    expect(page).toContain("stands before a fault");
    expect(page).toContain(CAUTION_SENTENCE);
  });
});
