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
const bomb = ["a: &a [x, x, x, x, x, x, x, x, x]"];
for (const [i, name] of ["b", "c", "d", "e", "f", "g", "h", "i"].entries()) {
  const before = "abcdefgh"[i]!;
  bomb.push(`${name}: &${name} [${Array(9).fill(`*${before}`).join(", ")}]`);
}

type Content = string | Uint8Array;

const WRONG: [name: string, content: Content, place: string, sentence: string][] = [
  ["an unknown key", `${good}vibraton: 3\n`, ":8:1", 'unknown key "vibraton" (did you mean "vib'],
  ["a missing unit", good.replace("4 s", "4"), ":4:11", "duration needs a unit (s, ms,"],
  ["a wrong unit", good.replace("1 in/s pk", "1 kg pk"), ":7:28", '"1 kg pk" is a mass'],
  ["a missing detector", good.replace("1 in/s pk", "1 in/s"), ":7:28", "pk"],
  ["text in a number", good.replace("4 s", "four s"), ":4:11", 'found "four s"'],
  ["not a number", good.replace("4 s", ".nan s"), ":4:11", 'found ".nan s"'],
  ["infinity", good.replace("4 s", "1e400 s"), ":4:11", 'found "1e400 s"'],
  ["a negative time", good.replace("4 s", "-4 s"), ":4:11", 'must be > 0 s, found "-4 s"'],
  ["years", good.replace("4 s", "1e12 s"), ":4:11", 'must be <= 1000 h, found "1e12 s"'],
  ["an order out of range", good.replace("order: 1,", "order: 1e9,"), ":7:14", "must be <= 1000"],
  ["fields at odds", `${good}channels: { frame: {} }\n`, ":6:1", "vibration contradicts channels"],
  ["a key twice", `${good}duration: 5 s\n`, ":8:1", "is not valid YAML: Map keys must be unique"],
  ["a tab", "question: x\n\tprofile: y\n", ":2:1", "is not valid YAML: "],
  ["two documents", `${good}---\n${good}`, ":8:1", "a second document starts here"],
  ["an empty file", "", ":1:1", "must hold a map of keys and values"],
  ["a list", "- 1\n", ":1:1", "must hold a map of keys and values"],
  ["an alias bomb", `${bomb.join("\n")}\n${good}`, ":3:", "uses more than 100 aliases"],
  [
    "Latin-1",
    Buffer.from(good.replace("read", "r\u00e9ad"), "latin1"),
    ":2:28",
    "byte 0xe9 stands",
  ],
  ["UTF-16", Buffer.from(`\ufeff${good}`, "utf16le"), ":1:1", "but in UTF-16"],
  ["a zero byte", good.replace("read", "re\0ad"), ":2:29", "a zero byte stands here"],
  [
    "no such profile",
    good.replace("small.", "none."),
    ":3:10",
    '"none.monitor.yaml" does not exist',
  ],
  ["a folder as profile", good.replace("small.", "folder."), ":3:10", "is a folder"],
  ["2 GB as profile", good.replace("small.", "huge."), ":3:10", "has at most 4 MiB"],
];

describe("a scenario that is wrong", () => {
  it.each(WRONG)(
    "[CLI-101] %s: file, line and column in a sentence, code 2, nothing run",
    async (name, content, place, sentence) => {
      const path = join(folder, `${name.replace(/\W+/g, "-")}.scenario.yaml`);
      writeFileSync(path, content);
      const out = join(folder, "out");
      for (const call of [
        ["run", path, "--out", out],
        ["check", path],
      ]) {
        const { code, stdout, stderr } = await amberlineHere(call);
        const told = call[0] === "run" ? stderr : stdout;
        expect(code).toBe(2);
        expect(told).toContain(`${path}${place}`);
        expect(told).toContain(sentence);
        expect(told).not.toMatch(/\n {4}at |mistake of its own/);
      }
    },
  );

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

  const CALLS: [name: string, args: string[], sentence: string][] = [
    ["a pattern that meets nothing", ["run", "none*.scenario.yaml"], "no file here ends in"],
    ["a file without a name", ["run", ""], "a file without a name was asked for"],
    ["a scenario that is no file", ["check", "none.scenario.yaml"], "no such file or folder"],
    ["no files", ["run"], "missing required argument 'files'"],
    ["no number of jobs", ["run", "x", "--jobs"], "argument missing"],
    ["no jobs", ["run", "x", "--jobs", "0"], "a whole number from 1 to 256 is needed"],
    ["a scene that is none", ["demo", "--only", "zzz"], "--only zzz: no case has this in its name"],
    ["an argument too many", ["demo", "more"], "too many arguments"],
    ["a path that names a device", ["new", "/dev/null"], "is a file; a folder is expected"],
    ["a new folder without a name", ["new", ""], "the folder has no name"],
  ];
  it.each(CALLS)("[CLI-106] refuses %s in a sentence, code 2", async (_, args, sentence) => {
    const { code, stdout, stderr } = await amberlineHere(args);
    expect(code).toBe(2);
    expect(stdout).toBe("");
    expect(stderr).toContain(sentence);
    expect(stderr).not.toMatch(/\n {4}at |mistake of its own/);
  });
});
