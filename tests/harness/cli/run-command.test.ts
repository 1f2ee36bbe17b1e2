import { spawnSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { commandStart } from "../../../harness/cli/command-start.ts";
import { shellWord } from "../../../harness/cli/shell-word.ts";
import { caseIds, readCase, readSummary } from "../../../harness/results/results-folder.ts";
import type { RunInfo, Summary } from "../../../harness/results/types.ts";
import { CAUTION_SENTENCE } from "../../../host/caution-sentence.ts";
import { SOURCE_COMMAND, amberline } from "../../kit/amberline-command.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

const TITLES_MAX = 80;
let folder = "";

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline run "));
  writeScenarios(folder, {
    low: scenarioText(),
    high: scenarioText({ amplitude: "3 in/s pk" }),
    never: scenarioText({
      amplitude: "3 in/s pk",
      more: "expect:\n  caution never: [fan]\n",
    }),
    typing: scenarioText({ more: "vibraton: 3\n" }),
    long: scenarioText({ duration: "20 h" }),
  });
});
afterAll(() => {
  rmSync(folder, { recursive: true, force: true });
});

const run = (...args: string[]) => amberline(["run", ...args], { cwd: folder });
const bytesOf = (...path: string[]): string => readFileSync(join(folder, ...path), "utf8");

describe("amberline run", () => {
  it("[CLI-040] judges, leaves the folder of results, says where, and ends with 0", async () => {
    const ended = await run("low.scenario.yaml", "high.scenario.yaml", "--out", "a");
    expect(ended).toMatchObject({ code: 0, stderr: "" });
    expect(ended.stdout).toContain("2 cases: 2 right, none wrong. 8 s simulated.");
    expect(ended.stdout).toContain(`Report: ${join("a", "report.html")}`);
    const names = ["cases", "junit.xml", "report.html", "run.json", "summary.json"];
    expect(readdirSync(join(folder, "a"))).toEqual(names);
    const summary = readSummary(join(folder, "a"));
    expect(summary.cases.map((one) => one.name)).toEqual(["low", "high"]);
    const ids = summary.cases.map((one) => one.id).sort();
    expect(caseIds(join(folder, "a"))).toEqual(ids);
    const low = readCase(join(folder, "a"), summary.cases[0]!.id);
    expect(JSON.stringify(low)).not.toContain("low.scenario.yaml");
    const { cases } = JSON.parse(bytesOf("a", "run.json")) as RunInfo;
    expect(cases.map(({ name, file }) => [name, file])).toEqual([
      ["low", "low.scenario.yaml"],
      ["high", "high.scenario.yaml"],
    ]);
    expect(cases[0]!.repeat).toMatch(/ run low\.scenario\.yaml --only low --seed 1$/);
    expect(cases[0]!.elapsedS).toBeGreaterThan(0);
    const level = low.verdict.filters[0]!.trace.level.at(-1) ?? 0;
    expect(Math.abs(level - 1)).toBeLessThan(0.0004); // 0.02 % of reading + 0.0002 in/s pk
  });

  it("[CLI-055] prints the margins of few right cases beneath each", async () => {
    const ended = await run("low.scenario.yaml", "--out", "few");
    expect(ended.stdout).toMatch(
      /^\n {2}right {2}low\n {9}fan: number 2\.5 throughout; no caution\n {9}level \d\.\d\d, /,
    );
    expect(ended.stdout).toContain("of tolerance; peak 2.5 under caution\n");
  });

  it("[CLI-056] prints a command that works as pasted, from whichever folder it ran", async () => {
    const apart = mkdtempSync(join(folder, "a part's "));
    mkdirSync(join(apart, "-odd name"));
    writeScenarios(join(apart, "-odd name"), {
      "it's": scenarioText({ more: "expect:\n  caution on:\n    - { from: 1 s, until: 2 s }\n" }),
    });
    const scenario = "it's.scenario.yaml";
    for (const [cwd, call] of [
      [join(apart, "-odd name"), scenario],
      [folder, join("..", basename(folder), basename(apart), "-odd name", scenario)],
    ] as const) {
      const first = await amberline(["run", "--out", "first", "--seed", "7", "--", call], { cwd });
      expect(first.code).toBe(1);
      const lines = first.stdout.split("\n");
      const line = lines[lines.findIndex((one) => one.trim() === "Run it again:") + 1]!.trim();
      const { cases } = JSON.parse(readFileSync(join(cwd, "first", "run.json"), "utf8")) as RunInfo;
      expect(cases.map(({ repeat }) => repeat)).toEqual([line]);
      // The sources in place of what was built from them, which may be older.
      const start = commandStart(cwd);
      expect(line.startsWith(`${start} run `)).toBe(true);
      const source = line.replace(start, SOURCE_COMMAND.map(shellWord).join(" "));
      const again = spawnSync("/bin/sh", ["-c", `${source} --out again`], {
        cwd,
        encoding: "utf8",
      });
      expect(again).toMatchObject({ status: 1, stderr: "" });
      const [id] = caseIds(join(cwd, "first"));
      const read = (name: string): string =>
        readFileSync(join(cwd, name, "cases", `${id}.json`), "utf8");
      expect(read("again")).toBe(read("first"));
      rmSync(join(cwd, "first"), { recursive: true });
      rmSync(join(cwd, "again"), { recursive: true });
    }
  });

  it("[CLI-041] gives the same bytes again, whatever the number of jobs; run.json apart", async () => {
    const files = ["low.scenario.yaml", "high.scenario.yaml", "--out"];
    await run(...files, "one", "--jobs", "1");
    await run(...files, "two", "--jobs", "2");
    const list = readdirSync(join(folder, "one"), { recursive: true, encoding: "utf8" });
    expect(readdirSync(join(folder, "two"), { recursive: true, encoding: "utf8" })).toEqual(list);
    const same = list.filter((name) => /\.\w+$/.test(name) && name !== "run.json");
    expect(same).toHaveLength(5);
    for (const name of same) expect(bytesOf("one", name)).toBe(bytesOf("two", name));
  });

  it("[CLI-042] ends with 1 for a wrong verdict, and says why", async () => {
    const ended = await run("never.scenario.yaml", "low.scenario.yaml", "--out", "b");
    expect(ended).toMatchObject({ code: 1, stderr: "" });
    expect(ended.stdout).toMatch(/ {2}WRONG {2}never\n {9}\S.*\n/);
    expect(ended.stdout).toContain("2 cases: 1 right, 1 WRONG.");
    // A command to paste stands whole on its line.
    const lines = ended.stdout.split("\n").filter((line) => !/ run never\S* --only /.test(line));
    for (const line of lines) expect(line.length).toBeLessThan(TITLES_MAX + 1);
  });

  it("[CLI-062] writes no colour into a pipe, on a build server neither", async () => {
    const env = { CI: "true", TERM: "xterm-256color" };
    const args = ["run", "never.scenario.yaml", "--out", "colour"];
    const ended = await amberline(args, { cwd: folder, env });
    expect(ended.stdout).toContain("  WRONG  never");
    expect(ended.stdout).not.toContain("\u001b");
  });

  it("[CLI-043] prints one JSON with --json, and nothing else", async () => {
    const ended = await run("low.scenario.yaml", "--out", "c", "--json");
    expect(ended).toMatchObject({ code: 0, stderr: "" });
    const told = JSON.parse(ended.stdout) as Summary & { folder: string; isInterrupted: boolean };
    expect(told).toMatchObject({ folder: "c", isInterrupted: false, caseCount: 1, wrongCount: 0 });
  });

  it("[CLI-044] tells an input error by file, line and column, runs nothing, ends with 2", async () => {
    const ended = await run("low.scenario.yaml", "typing.scenario.yaml", "--out", "d");
    expect(ended).toMatchObject({ code: 2, stdout: "" });
    expect(ended.stderr).toMatch(/^typing\.scenario\.yaml:\d+:\d+: .*vibraton.*\n$/);
    expect(readdirSync(folder)).not.toContain("d");
  });

  it("[CLI-045] shows the stack with --debug only", async () => {
    const ended = await run("typing.scenario.yaml", "--debug");
    expect(ended.code).toBe(2);
    expect(ended.stderr).toMatch(/\n {4}at /);
  });

  it.each<[string, string[], string]>([
    ["a folder that is a file", ["--out", "taken"], "taken: is a file; the results need a folder"],
    ["a folder below a file", ["--out", "taken/below"], "the output folder cannot be written"],
    ["--only that finds nothing", ["--only", "zzz"], "--only zzz: no case has this in its name"],
    ["a seed that is none", ["--seed", "1.5"], "a whole number from 0 to 4294967295 is needed"],
    ["a core that is not there", ["--core", "no.wasm"], "no.wasm: no such file"],
    ["a target that is not offered", ["--target", "serial"], "Allowed choices are core"],
    ["an unknown option", ["--shards", "2"], "unknown option '--shards'"],
  ])("[CLI-046] refuses %s with code 2 and one sentence", async (_name, args, sentence) => {
    writeFileSync(join(folder, "taken"), "");
    const ended = await run("low.scenario.yaml", ...args);
    expect(ended.code).toBe(2);
    expect(ended.stdout).toBe("");
    expect(ended.stderr).toContain(sentence);
    expect(ended.stderr).not.toMatch(/\n {4}at /);
  });

  it("[CLI-047] refuses files that are not there, and a case's name that comes twice", async () => {
    expect(await run("none.scenario.yaml")).toMatchObject({
      code: 2,
      stderr: "none.scenario.yaml: no such file or folder\n",
    });
    const twin = mkdtempSync(join(folder, "twin-"));
    writeScenarios(twin, { low: scenarioText() });
    const ended = await run("low.scenario.yaml", join(twin, "low.scenario.yaml"));
    expect(ended.code).toBe(2);
    expect(ended.stderr).toContain('case "low" has the name of a case in low.scenario.yaml');
  });

  it("[CLI-048] ends with 3 where the target cannot be opened, and says how", async () => {
    writeFileSync(join(folder, "broken.wasm"), "no wasm");
    const ended = await run("low.scenario.yaml", "--core", "broken.wasm", "--out", "e");
    expect(ended.code).toBe(3);
    expect(ended.stderr).toMatch(/^the target cannot be opened: .+\n$/);
  });

  it("[CLI-049] keeps finished cases at an interrupt and ends with 130", async () => {
    let stop: ReturnType<typeof setInterval> | undefined;
    const ended = await amberline(
      ["run", "low.scenario.yaml", "long.scenario.yaml", "--out", "f", "--jobs", "2"],
      {
        cwd: folder,
        onStart: (kill) => {
          stop = setInterval(() => {
            const cases = readdirSync(folder).includes("f") ? caseIds(join(folder, "f")) : [];
            if (cases.length === 0) return;
            clearInterval(stop);
            kill("SIGINT");
          }, 50);
        },
      },
    );
    expect(ended.code).toBe(130);
    expect(ended.stdout).toContain("Interrupted: only what was finished is in the results.");
    const summary = readSummary(join(folder, "f"));
    expect(summary.cases.map((one) => one.name)).toEqual(["low"]);
    expect(bytesOf("f", "report.html")).toContain(summary.cases[0]!.id);
    expect((JSON.parse(bytesOf("f", "run.json")) as RunInfo).isInterrupted).toBe(true);
  });
});

describe("help", () => {
  it("[CLI-050] of run shows an example, the exit codes, and ends with the caution sentence", async () => {
    const ended = await run("--help");
    expect(ended.code).toBe(0);
    expect(ended.stdout).toContain("$ amberline run ");
    expect(ended.stdout).toContain("130 interrupted");
    expect(ended.stdout.trimEnd().replaceAll("\n", " ").endsWith(CAUTION_SENTENCE)).toBe(true);
    for (const line of ended.stdout.split("\n")) expect(line.length).toBeLessThan(81);
    expect(ended.stdout).not.toMatch(/\b(benign|safe|continue)\b/i);
  });

  it.each([
    ["no command", [], 2],
    ["help", ["--help"], 0],
    ["a misspelt command", ["rnu"], 2],
  ])("[CLI-051] of the program: %s", async (_name, args, code) => {
    const ended = await amberline(args, { cwd: folder });
    expect(ended.code).toBe(code);
    expect(ended.stdout + ended.stderr).toMatch(/run|--help/);
  });
});
