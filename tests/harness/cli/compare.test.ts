import { execFileSync } from "node:child_process";
import {
  cpSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { installedCommand } from "../../../host/installed-command.ts";
import type { CaseComparison } from "../../../harness/compare/compare.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { ptyDevice } from "../../kit/pty-device.ts";
import { isPtyHere } from "../../kit/pty-here.ts";
import { SUITE_FOLDER } from "../../kit/regression-suite.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";
import { ROOT } from "../../repo/source-files.ts";

const isHere = await isPtyHere();
let folder = "";
const path = (...names: string[]): string => join(folder, ...names);
const FILES = join(SUITE_FOLDER, "caution");
const compare = (...args: string[]) => amberlineHere(["compare", ...args]);
const run = (out: string, ...args: string[]) =>
  amberlineHere(["run", FILES, "--only", "without-delay", "--out", path(out), ...args]);

/** A firmware whose poles are a ten-thousandth slower, made from the source. */
function changedCore(): string {
  const source = path("changed");
  for (const part of ["assembly", "shared", "asconfig.json", "package.json", "tsconfig.json"]) {
    cpSync(join(ROOT, part), join(source, part), { recursive: true });
  }
  symlinkSync(join(ROOT, "node_modules"), join(source, "node_modules"), "junction");
  const tracker = join(source, "assembly", "tracker.ts");
  const text = readFileSync(tracker, "utf8");
  const changed = text.replace(
    "= exponentialOfMinus(h);",
    "= exponentialOfMinus(h) * <f32>1.0001;",
  );
  expect(changed).not.toBe(text);
  writeFileSync(tracker, changed);
  const args = [installedCommand("assemblyscript", "asc"), "--target", "release"];
  execFileSync(process.execPath, args, { cwd: source, stdio: "pipe" });
  return join(source, "build", "core", "release.wasm");
}

let core = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline compare "));
  core = changedCore();
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const DEBUG = join(ROOT, "build", "core", "debug.wasm");
const casesOf = (text: string): CaseComparison[] =>
  (JSON.parse(text) as { cases: CaseComparison[] }).cases;

describe("amberline compare", () => {
  it("[COMP-020] two builds of one firmware are identical to the bit", async () => {
    const { code, stdout } = await compare("core", DEBUG, FILES);
    expect(code).toBe(0);
    expect(stdout).toMatch(/\n24 cases: 24 identical to the bit\.\n$/);
    const out = path("comparison.json");
    const json = await compare("core", DEBUG, FILES, "--only", "chatters", "--json", "--out", out);
    expect(casesOf(json.stdout).every((one) => one.isEqual && one.compared === "bytes")).toBe(true);
    expect(readFileSync(out, "utf8")).toBe(json.stdout);
  });

  it("[COMP-021] a changed firmware is told by its first record, by ulps, and what it does", async () => {
    const args = ["core", core, FILES, "--only", "without-delay"];
    const { code, stdout } = await compare(...args);
    expect(code).toBe(1);
    const said = stdout.replace(/\s+/g, " ");
    expect(said).toMatch(/first at record 17, level fan, 1\.6 s: re \S+ and \S+ \(\d+ ulp\)/);
    expect(said).toMatch(/levels: \d+ of 59 differ, at most \d+ ulp and 0\.0\d+ %/);
    expect(said).toContain("caution: the same at every step");
    expect(Math.max(...stdout.split("\n").map((line) => line.length))).toBeLessThanOrEqual(80);
    // A step of the amplitude: 1e-4 of β moves the poles' state by 1e-4·β·(y − Z) a revolution.
    const [one] = casesOf((await compare(...args, "--json")).stdout);
    expect(one!.effects!.share!.value).toBeGreaterThan(1e-5);
    expect(one!.effects!.share!.value).toBeLessThan(1e-2);
  });

  it("[COMP-022] folders are compared by the records that their runs kept", async () => {
    expect((await run("before", "--keep-records")).code).toBe(0);
    await run("after", "--keep-records", "--core", core);
    expect(readdirSync(path("before", "cases")).filter((name) => name.endsWith(".part"))).toEqual(
      [],
    );
    const same = await compare(path("before"), "core", FILES);
    expect([same.code, same.stdout.includes("1 case: 1 identical to the bit.")]).toEqual([0, true]);
    const other = await compare(path("before"), path("after"));
    expect(other.code).toBe(1);
    expect(other.stdout).toContain("first at record 17");
  });

  it("[COMP-023] without records what the case files hold is compared, and that is said", async () => {
    expect((await run("plain")).code).toBe(0);
    expect((await run("plain again")).code).toBe(0);
    const same = await compare(path("plain"), path("plain again"));
    expect(same.code).toBe(0);
    expect(same.stdout.replace(/\s+/g, " ")).toContain("no records: not to the bit");
    const none = await compare(path("plain"), "core", FILES);
    expect(none.code).toBe(1);
    expect(none.stdout.replace(/\s+/g, " ")).toContain("run it again with --keep-records");
  });

  it("[COMP-024] other work of the same name is not compared", async () => {
    expect((await run("seed", "--keep-records", "--seed", "2")).code).toBe(0);
    const { code, stdout } = await compare(path("plain"), path("seed"));
    expect(code).toBe(1);
    expect(stdout.replace(/\s+/g, " ")).toContain("not the same work: seed differs");
  });

  it("[COMP-024] nor is a folder held against a scenario whose profile was changed since", async () => {
    mkdirSync(path("mine"));
    writeScenarios(path("mine"), { mine: scenarioText({ duration: "2 s" }) });
    const kept = ["--keep-records", "--out", path("kept")];
    expect((await amberlineHere(["run", path("mine"), ...kept])).code).toBe(0);
    const same = await compare(path("kept"), "core", path("mine"));
    expect([same.code, same.stdout]).toEqual([0, expect.stringContaining("1 identical")]);
    const profile = path("mine", "small.monitor.yaml");
    const changed = readFileSync(profile, "utf8").replace("level: 5.0", "level: 3.9");
    expect(changed).toContain("level: 3.9");
    writeFileSync(profile, changed);
    const { code, stdout } = await compare(path("kept"), "core", path("mine"));
    expect(code).toBe(1);
    expect(stdout.replace(/\s+/g, " ")).toMatch(/not the same work: settings differs, .*3\.9/);
  });

  it.skipIf(!isHere)("[COMP-028] the cautions are told once, for two ports, too", async () => {
    const [a, b] = [await ptyDevice(), await ptyDevice()];
    try {
      const ports = [`serial:${a.path}`, `serial:${b.path}`];
      const { code, stderr, stdout } = await compare(...ports, FILES, "--only", "without-delay");
      expect([code, stdout]).toEqual([0, expect.stringContaining("1 identical to the bit")]);
      expect(stderr.split("Before a port is used:")).toHaveLength(2);
    } finally {
      for (const one of [a, b]) await one.unplug();
    }
  });

  it("[COMP-025] --resume with --keep-records runs again what kept none", async () => {
    const before = readdirSync(path("plain", "cases"));
    expect(before.some((name) => name.endsWith(".records"))).toBe(false);
    expect((await run("plain", "--resume", "--keep-records")).code).toBe(0);
    expect(readdirSync(path("plain", "cases")).some((name) => name.endsWith(".records"))).toBe(
      true,
    );
  });

  it("[COMP-029] a run of files that were not named is told once, with its files", async () => {
    writeScenarios(folder, {
      own: scenarioText(),
      other: scenarioText({ amplitude: "2 in/s pk" }),
    });
    const files = [path("own.scenario.yaml"), path("other.scenario.yaml")];
    const made = await amberlineHere(["run", ...files, "--keep-records", "--out", path("of own")]);
    expect(made.code).toBe(0);
    for (const sides of [
      [path("of own"), "core"],
      ["core", path("of own")],
    ]) {
      const { code, stdout, stderr } = await compare(...sides, FILES);
      const said = stderr.replace(/\s+/g, " ");
      expect([code, stdout.includes("NOT HELD")]).toEqual([2, false]);
      expect(said).toContain("name the files that the run was of after the two sides");
      for (const name of ["own", "other"]) expect(said).toContain(`${name}.scenario.yaml`);
    }
    expect((await compare(path("of own"), "core", ...files)).code).toBe(0);
  });

  it.each([
    [["nowhere", "core"], "nowhere: no such file or folder, and no target"],
    [["", "core"], "a side without a name"],
    [["serial:/dev/x", "serial:/dev/x"], "one port carries one device"],
    [["core", "core", "--only", "no case is called so"], "there is no case to compare"],
    [["core", "core", "no/such"], "no/such: no such file or folder"],
    [["core", join(ROOT, "tests")], "no folder of results"],
    [["core", "core", FILES, "--out", "no/such/file"], "no/such/file: cannot be written"],
    [["core", "core", FILES, "--out", tmpdir()], "is a folder, a pipe or a device"],
    [["core", "core", FILES, "--out", ""], "--out needs the name of a file"],
  ])("[COMP-026] a wrong call %j ends with 2 and a sentence", async (args, said) => {
    const { code, stderr } = await compare(...args);
    expect(code).toBe(2);
    expect(stderr.replace(/\s+/g, " ")).toContain(said);
    expect(stderr).not.toMatch(/\n\s+at /);
  });

  it("[COMP-027] a target that is none ends with 3", async () => {
    const { code, stderr } = await compare("core", join(ROOT, "package.json"));
    expect(code).toBe(3);
    expect(stderr).toContain("package.json");
  });
});
