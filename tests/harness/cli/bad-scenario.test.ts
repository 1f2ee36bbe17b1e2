// Scenarios and profiles that a tired or hostile user may hand over, through the real command line.
import {
  chmodSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  rmSync,
  symlinkSync,
  truncateSync,
  writeFileSync,
} from "node:fs";
import { execFileSync } from "node:child_process";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

let folder = "";
const TWO_GIB = 2 ** 31;

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline bad ü "));
  writeScenarios(folder, { good: scenarioText() });
  writeFileSync(join(folder, "huge.monitor.yaml"), "");
  truncateSync(join(folder, "huge.monitor.yaml"), TWO_GIB);
  mkdirSync(join(folder, "folder.monitor.yaml"));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const good = scenarioText();

describe("a scenario that is wrong", () => {
  it("[CLI-107] a profile where a scenario is meant, and the other way round, is told as such", async () => {
    const scenario = join(folder, "good.scenario.yaml");
    const profile = join(folder, "small.monitor.yaml");
    const table = join(folder, "levels.csv");
    writeFileSync(table, "time,level\n0,1\n1,2\n");
    const run = await amberlineHere(["run", profile]);
    expect(run.stderr).toContain(`${profile}:1:1: is a profile (monitor: …), a scenario`);
    const out = join(folder, "swapped");
    const call = ["replay", table, "--levels", "--profile", scenario, "--out", out];
    const replay = await amberlineHere(call);
    expect(replay.stderr).toContain(`${scenario}:1:1: is a scenario (question: …), a profile`);
    expect([run.code, replay.code]).toEqual([2, 2]);
  });

  it("[CLI-102] says of every file what is wrong, and runs none of the good ones", async () => {
    const [one, two] = ["one", "two"].map((name) => join(folder, `${name}.scenario.yaml`));
    writeFileSync(one!, `${good}vibraton: 3\n`);
    writeFileSync(two!, good.replace("4 s", "4"));
    const out = join(folder, "none run");
    const goodPath = join(folder, "good.scenario.yaml");
    const { code, stderr } = await amberlineHere(["run", goodPath, one!, two!, "--out", out]);
    expect(code).toBe(2);
    expect(stderr.split("\n").map((line) => line.replace(folder, "…"))).toEqual([
      expect.stringMatching(/^….one\.scenario\.yaml:8:1: unknown key/),
      expect.stringMatching(/^….two\.scenario\.yaml:4:11: duration needs a unit/),
      "",
    ]);
    expect(existsSync(out)).toBe(false);
  });

  it.each([
    ["lines that end in CR LF", good.replaceAll("\n", "\r\n")],
    ["a byte order mark", `\ufeff${good}`],
  ])("[CLI-103] takes %s", async (name, content) => {
    const path = join(folder, `${name} 中.scenario.yaml`);
    writeFileSync(path, content);
    const { code, stdout } = await amberlineHere(["check", path]);
    expect(stdout).toContain("the scenario is right, one case");
    expect(code).toBe(0);
  });

  it("[CLI-104] a file that may not be read is told, whoever runs the test", async () => {
    const path = join(folder, "locked.scenario.yaml");
    writeFileSync(path, good);
    chmodSync(folder, 0o755);
    chmodSync(path, 0);
    // Root reads every file: become somebody else for the length of the call.
    const isRoot = process.geteuid?.() === 0;
    if (isRoot) process.seteuid!(65_534);
    try {
      const { code, stderr } = await amberlineHere(["run", path]);
      expect(stderr).toBe(`${path}: cannot be read: permission denied\n`);
      expect(code).toBe(2);
    } finally {
      if (isRoot) process.seteuid!(0);
      rmSync(path);
    }
  });

  it.skipIf(process.platform === "win32")(
    "[CLI-108] a pipe, a loop of links, a folder that may not be searched (no such on Windows)",
    async () => {
      const inside = mkdtempSync(join(folder, "odd "));
      for (const name of ["a.scenario.yaml", "b.csv", "c.wav"]) {
        execFileSync("mkfifo", [join(inside, name)]);
      }
      symlinkSync(join(inside, "l.csv"), join(inside, "l.csv"));
      const fine = join(inside, "fine.scenario.yaml");
      writeFileSync(fine, good);
      const closed = join(inside, "closed");
      mkdirSync(closed);
      chmodSync(closed, 0);
      const out = join(folder, "odd out");
      mkdirSync(out);
      chmodSync(out, 0o777);
      chmodSync(inside, 0o755);
      const CALLS = [
        [["run", join(inside, "a.scenario.yaml")], "is not a regular file"],
        [["run", fine, "--core", join(inside, "b.csv")], "is not a regular file"],
        [["replay", join(inside, "b.csv"), "--speed", "1 Hz"], "is not a regular file"],
        [["replay", join(inside, "c.wav"), "--speed", "1 Hz"], "is not a regular file"],
        [["replay", join(inside, "l.csv"), "--speed", "1 Hz"], "links lead in a circle"],
        [["run", join(inside, "l.csv")], "links lead in a circle"],
        [["run", inside], "closed: this folder cannot be looked through (permission denied)"],
      ] as const;
      const isRoot = process.geteuid?.() === 0;
      if (isRoot) process.seteuid!(65_534);
      try {
        for (const [call, sentence] of CALLS) {
          const { code, stderr } = await amberlineHere([...call, "--out", out]);
          expect(stderr).toContain(sentence);
          expect(code).toBe(2);
        }
      } finally {
        if (isRoot) process.seteuid!(0);
        chmodSync(closed, 0o755);
      }
    },
  );

  it("[CLI-105] lets no text from a file steer the terminal in a complaint", async () => {
    const path = join(folder, "steer.scenario.yaml");
    writeFileSync(path, `${good}"\\e]0;title\\a\\e[2J": 1\n`);
    for (const call of ["run", "check"]) {
      const { code, stdout, stderr } = await amberlineHere([call, path]);
      expect(code).toBe(2);
      expect(stdout + stderr).toContain("unknown key");
      expect(stdout + stderr).not.toMatch(/(?!\n)\p{Cc}/u);
    }
  });
});
