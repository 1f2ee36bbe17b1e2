// Help and cautions: what stands where.
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { CAUTION_SENTENCE } from "../../../host/caution-sentence.ts";
import { makeProgram } from "../../../harness/cli/program.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { toneWav } from "../../kit/small-recording.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

const COLUMNS = 80;

let folder = "";
const path = (...names: string[]): string => join(folder, ...names);
const commands = makeProgram().commands.map((one) => one.name());

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline help "));
  writeScenarios(folder, {
    low: scenarioText({ duration: "2 s" }),
    never: scenarioText({ duration: "2 s", more: "expect: { caution on: [{}] }\n" }),
  });
  writeFileSync(path("tone.wav"), toneWav(6000));
  writeFileSync(path("cut.wav"), toneWav(6000).subarray(0, 9000));
  writeFileSync(path("levels.csv"), "time,level\n0,1\n0.5,6\n1,6\n1.5,6\n2,1\n2.5,1\n3,1\n");
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function helpOf(command: string): Promise<string> {
  const { stdout } = await amberlineHere(command === "" ? ["--help"] : [command, "--help"]);
  return stdout;
}

describe("help", () => {
  it("[CLI-170] knows every command", () => {
    expect(commands).toEqual([
      "demo",
      "run",
      "merge",
      "replay",
      "check",
      "new",
      "target",
      "waveform",
      "compare",
      "measure",
    ]);
  });

  it.each(["", ...commands])("[CLI-170] of %j breaks its text where it has to", async (command) => {
    const paragraphs = (await helpOf(command)).split("\n\n");
    const description = paragraphs[1]!.split("\n");
    expect(description.join(" ")).toMatch(/^\w.{30,}/);
    for (const [i, line] of description.slice(1).entries()) {
      const before = description[i]!;
      expect(before.length).toBeLessThanOrEqual(COLUMNS);
      expect(before.length + 1 + line.split(" ")[0]!.length).toBeGreaterThan(COLUMNS);
    }
  });

  it.each(["", ...commands, "help"])("[CLI-170] of %j stays within 80 columns", async (command) => {
    const lines = (await helpOf(command)).split("\n");
    expect(lines.length).toBeGreaterThan(5);
    for (const line of lines) expect(line.length).toBeLessThanOrEqual(COLUMNS);
  });

  it("[CLI-171] shows the caution sentence where waveforms become numbers", async () => {
    const showing: string[] = [];
    for (const command of commands) {
      const help = (await helpOf(command)).replaceAll("\n", " ");
      if (help.includes(CAUTION_SENTENCE)) showing.push(command);
    }
    const numbers = ["replay", "target", "waveform", "compare", "measure"];
    expect(showing).toEqual(["demo", "run", "merge", ...numbers]);
  });
});

const replay = (file: string): string[] => ["replay", path(file), "--speed", "20 rev/s"];
const REPORTS: [what: string, call: () => string[], code: number][] = [
  ["a run that is right", () => ["run", path("low.scenario.yaml")], 0],
  ["a run that is wrong", () => ["run", path("never.scenario.yaml")], 1],
  ["a replay", () => replay("tone.wav"), 0],
  ["a replay of a broken file", () => replay("cut.wav"), 2],
  [
    "recorded levels",
    () => ["replay", path("levels.csv"), "--levels", "--profile", path("small.monitor.yaml")],
    0,
  ],
  ["the demonstration", () => ["demo", "--only", "healthy"], 0],
];

describe("cautions", () => {
  it.each(REPORTS)(
    "[CLI-172] the report of %s ends with the sentence, on paper and off",
    async (what, call, code) => {
      const out = path(what);
      const ended = await amberlineHere([...call(), "--out", out]);
      expect(ended.code).toBe(code);
      expect(existsSync(join(out, "report.html"))).toBe(true);
      const page = readFileSync(join(out, "report.html"), "utf8");
      // What is read: the body without its scripts.
      const body = page
        .slice(page.indexOf("<body"))
        .replace(/<script[\s\S]*?<\/script>/g, "")
        .replace(/<[^>]*>/g, " ")
        .replace(/\s+/g, " ")
        .trim();
      expect(body.endsWith(CAUTION_SENTENCE)).toBe(true);
      // What is printed: the box at the foot of each page.
      const [, foot] = /@page\s*\{([\s\S]*?)\n\s*\}\s*\n/.exec(page) ?? [];
      expect(foot).toContain(`@bottom-left { content: "${CAUTION_SENTENCE}"`);
    },
  );
});
