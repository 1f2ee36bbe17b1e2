import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { checkFiles } from "../../../harness/cli/check.ts";
import { CallError } from "../../../harness/cli/command-errors.ts";
import { writeStart } from "../../../harness/cli/new.ts";
import { amberline } from "../../kit/amberline-command.ts";

const folder = mkdtempSync(join(tmpdir(), "check here "));
afterAll(() => rmSync(folder, { recursive: true }));

function write(name: string, text: string): string {
  const path = join(folder, name);
  writeFileSync(path, text);
  return path;
}

const FAN = `monitor: my fan
channels: { x: {} }
shafts: { N1: { highest speed: 6000 r/min } }
filters:
  fan: { caution: { level: 4, off-delay: 10 s, procedure wait: 10 s } }
`;
const fan = write("fan.monitor.yaml", FAN);
const wrong = write("wrong.monitor.yaml", FAN.replace("level: 4", "level: 4.05"));
const dwell = write(
  "dwell.scenario.yaml",
  "question: Does it read?\nprofile: fan.monitor.yaml\nduration: 9 s\nspeed: 4800 r/min\n",
);

describe("check", () => {
  it("[CLI-070] says what a profile implies, with the warning on the procedure's wait", async () => {
    const { text, exitCode } = await checkFiles([fan]);
    expect(exitCode).toBe(0);
    expect(text).toMatch(/fan\.monitor\.yaml: the profile "my fan" is right/);
    for (const name of ["settles to 1 % in", "latency", "lowest speed", "number below level"]) {
      expect(text).toContain(name);
    }
    expect(text).toMatch(/warning: fan: the caution may need 10\.\d s to clear, longer than the/);
  });

  it("[CLI-071] states the figures at the speed that is asked for", async () => {
    const { text } = await checkFiles([fan], { speedRevPerS: 80 });
    // τ = 0.643594253/(2π·0.5 Hz) = 0.20486 s; 6.638352 τ + 2/80 s = 1.385 s.
    expect(text).toMatch(/settles to 1 % in\s+1\.38 s\n|settles to 1 % in\s+1\.39 s\n/);
    expect(text).not.toContain("at 600 r/min");
  });

  it("[CLI-072] checks every file though one is wrong, and ends with 2", async () => {
    const { text, exitCode, files } = await checkFiles([wrong, fan, dwell]);
    expect(exitCode).toBe(2);
    expect(files.map((file) => file.isRight)).toEqual([false, true, true]);
    expect(text).toContain("wrong.monitor.yaml:5:28: level must be a whole count");
    expect(text).toContain("dwell.scenario.yaml: the scenario is right, one case: Does it read?");
  });

  it("[CLI-073] JSON holds the same, and what never happens is null", async () => {
    const stuck = write("stuck.monitor.yaml", FAN.replace("level: 4", "level: 4, hysteresis: 3"));
    const { text } = await checkFiles([stuck, wrong, dwell], { json: true });
    const { files } = JSON.parse(text);
    expect(files[0].implied.filters[0].atSpeeds[0].caution.clearsS).toBeNull();
    expect(files[1].complaints[0]).toMatchObject({ line: 5, column: 28 });
    expect(files[2].cases[0]).toMatchObject({ name: "dwell", durationS: 9 });
  });

  it("[CLI-074] a file that is neither, a folder and a missing file are plain complaints", async () => {
    const other = write("other.yaml", "a: 1\n");
    const { text, exitCode } = await checkFiles([other, folder, join(folder, "none.yaml")]);
    expect(exitCode).toBe(2);
    expect(text).toMatch(/other\.yaml:1:1: is neither a profile .* nor a scenario/);
    expect(text).toMatch(/is a folder; a file is expected/);
    expect(text).toMatch(/none\.yaml: does not exist/);
  });

  it("[CLI-075] the command looks through folders and ends with 2 where a file is wrong", async () => {
    const { code, stdout, stderr } = await amberline(["check", folder], { cwd: folder });
    expect(code).toBe(2);
    expect(stderr).toBe("");
    expect(stdout).toContain('the profile "my fan" is right');
    expect(stdout).toContain("level must be a whole count of the display step");
    expect(stdout).not.toMatch(/^ {4}at .*:\d+:\d+/mu);
  });

  it("[CLI-076] a speed without a unit is told what is allowed", async () => {
    const call = ["check", "--speed", "4800", fan];
    const { code, stderr } = await amberline(call, { cwd: folder });
    expect(code).toBe(2);
    expect(stderr).toMatch(/the speed needs a unit \(r\/min, rev\/s\)/);
  });
});

describe("new", () => {
  it("[CLI-080] writes a profile and a scenario that are right as they stand", async () => {
    const start = join(folder, "start here");
    const written = writeStart(start);
    expect(readdirSync(start).toSorted()).toEqual([
      "fan.monitor.yaml",
      "first.scenario.yaml",
      "schemas",
    ]);
    const { text, exitCode } = await checkFiles(written.slice(0, 2));
    expect(text).toContain("the scenario is right, 2 cases");
    expect(exitCode).toBe(0);
  });

  it("[CLI-081] what it writes is commented and names the schemas beside it", () => {
    const start = join(folder, "commented");
    for (const path of writeStart(start).slice(0, 2)) {
      const text = readFileSync(path, "utf8");
      const [, schema] = /\$schema=\.\/(\S+)/u.exec(text) ?? [];
      expect(() => JSON.parse(readFileSync(join(start, schema!), "utf8"))).not.toThrow();
      expect(text.split("\n").filter((line) => line.includes("#")).length).toBeGreaterThan(5);
    }
  });

  it("[CLI-082] overwrites nothing, and then writes nothing", () => {
    const start = join(folder, "taken");
    writeStart(start);
    rmSync(join(start, "first.scenario.yaml"));
    writeFileSync(join(start, "fan.monitor.yaml"), "mine");
    expect(() => writeStart(start)).toThrow(
      /fan\.monitor\.yaml.*already there; nothing was written/,
    );
    expect(readFileSync(join(start, "fan.monitor.yaml"), "utf8")).toBe("mine");
    expect(readdirSync(start)).not.toContain("first.scenario.yaml");
  });

  it("[CLI-083] a file in place of the folder is a plain complaint", () => {
    expect(() => writeStart(fan)).toThrow(CallError);
    expect(() => writeStart(join(fan, "below"))).toThrow(/cannot be written/);
  });

  it("[CLI-084] the command tells what to do next", async () => {
    const { code, stdout } = await amberline(["new", "my fan"], { cwd: folder });
    expect(code).toBe(0);
    expect(stdout).toMatch(/Next:\n {2}amberline check "my fan"\n {2}amberline run "my fan"/);
  });
});
