import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { checkFiles } from "../../../harness/cli/check.ts";
import { CallError } from "../../../harness/cli/command-errors.ts";
import { commandStart } from "../../../harness/cli/command-start.ts";
import { writeStart } from "../../../harness/cli/new.ts";
import { shellWord } from "../../../harness/cli/shell-word.ts";
import { parseScenario } from "../../../harness/scenario/scenario-reader.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { PACKAGE_ROOT } from "../../../host/package-root.ts";
import { amberline } from "../../kit/amberline-command.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";

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
    expect(text).toMatch(/fan\.monitor\.yaml:\s+the profile "my fan" is right/);
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
    expect(text).toMatch(
      /dwell\.scenario\.yaml:\s+the scenario is right, one case\n {2}Does it read\?$/,
    );
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
    expect(text).toMatch(/other\.yaml:1:1: is neither a profile .* a scenario .* nor a device/);
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

/** A text of words, so and so long. */
function words(length: number): string {
  return "many words to wrap ".repeat(length / 19 + 1).slice(0, length - 1) + "x";
}

describe("what check prints", () => {
  const NAME = "a channel or filter of a long name, forty".replace(",", "").slice(0, 40);
  const LONG: [name: string, file: string, content: string, told: string][] = [
    [
      "a profile",
      "long.monitor.yaml",
      FAN.replace("my fan", words(80))
        .replace("x: {}", `"${NAME}": {}`)
        .replace("N1:", `"${NAME}":`)
        .replace("fan: {", `"${NAME}": {`),
      "full bandwidth",
    ],
    [
      "a profile that counts samples",
      "samples.monitor.yaml",
      `monitor: counted
time: samples
channels: { x: { measures: unstated } }
shafts: { N1: { lowest speed: 0.0012345 rev/sample, highest speed: 0.0123456 rev/sample } }
filters: { fan: { bandwidth: 0.00012345 cycles/sample, caution: { level: 4 } } }
`,
      "cycles/sample",
    ],
    [
      "a scenario",
      "long.scenario.yaml",
      `question: ${words(300)}\nprofile: fan.monitor.yaml\nduration: 9 s\nspeed: 9000 r/min\n`,
      "  warning: line 4:8: speed is never below 9000 r/min;",
    ],
    [
      "a recording",
      "long.csv",
      `time,${words(200)},b\n0,1,1\n0.001,nan,2\n0.002,3,1e300\n`,
      "not finite",
    ],
    [
      "a table of recorded levels",
      "levels.csv",
      "time,level,speed,altitude\n0,1,1,1\n0.5,2,2,2\n1,3,3,3\n",
      "the table of levels can be read",
    ],
  ];
  it.each(LONG)("[CLI-077] of %s stays within 80 columns", async (_, file, content, told) => {
    const path = write(file, content);
    const { text, exitCode } = await checkFiles([path]);
    expect([exitCode, text]).toEqual([0, expect.stringContaining(told)]);
    const lines = text.split("\n").filter((line) => !line.includes(path));
    expect(lines.length).toBeGreaterThan(1);
    for (const line of lines) expect(line.length).toBeLessThanOrEqual(80);
  });

  it("[CLI-077] goes below a path that leaves no room, and breaks no path", async () => {
    const file = `${"long-".repeat(12)}.scenario.yaml`;
    write(file, "question: Why?\nprofile: fan.monitor.yaml\nduration: 9 s\nspeed: 80 rev/s\n");
    const { stdout } = await amberline(["check", file], { cwd: folder });
    expect(stdout).toBe(`${file}:\n  the scenario is right, one case\n  Why?\n`);
  });

  it("[CLI-078] warns of a speed without a number, with its place, and ends with 0", async () => {
    const fast = dwell.replace("dwell", "fast");
    write("fast.scenario.yaml", readFileSync(dwell, "utf8").replace("4800", "9000"));
    const { text, exitCode, files } = await checkFiles([fast]);
    expect([exitCode, files[0]!.isRight]).toEqual([0, true]);
    expect(files[0]!.warnings).toEqual([
      'line 4:8: speed is never below 9000 r/min; shaft "N1" has a reference from 600 r/min to ' +
        "6000 r/min in the profile: there is no number at any time",
    ]);
    expect(text.replace(/\s+/g, " ")).toContain(`warning: ${files[0]!.warnings[0]!}`);
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

  it("[CLI-084] the command tells what to do next, in words that a shell takes", async () => {
    for (const name of ["my fan", "Don's fan"]) {
      const { code, stdout } = await amberline(["new", name], { cwd: folder });
      expect(code).toBe(0);
      const next = stdout.slice(stdout.indexOf("Next:"));
      const [start, where] = [commandStart(folder), shellWord(name)];
      expect(next).toBe(`Next:\n  ${start} check ${where}\n  ${start} run ${where}\n`);
      for (const line of stdout.split("\n").filter((one) => !one.includes(start))) {
        expect(line.length).toBeLessThanOrEqual(80);
      }
    }
  });

  it("[CLI-084] in a clone those words begin with npx", async () => {
    const inside = mkdtempSync(join(PACKAGE_ROOT, "build", "new "));
    try {
      const { stdout } = await amberlineHere(["new", join(inside, "fan")]);
      expect(stdout).toMatch(
        /Next:\n {2}npx amberline check '.*fan'\n {2}npx amberline run '.*fan'\n$/,
      );
    } finally {
      rmSync(inside, { recursive: true });
    }
  });

  it("[CLI-085] what it writes shows growth with speed, and expectations that hold", async () => {
    const [, scenario] = writeStart(join(folder, "shown"));
    const text = readFileSync(scenario!, "utf8");
    const [{ channels }] = parseScenario(scenario!, text) as [Scene];
    expect(channels[0]!.components).toContainEqual(
      expect.objectContaining({
        order: 2,
        envelope: expect.objectContaining({ kind: "speed-power", power: 2, referenceRevPerS: 80 }),
      }),
    );
    const lines = text.split("\n");
    const from = lines.indexOf("# expect:");
    const until = lines.indexOf("", from);
    const bare = (at: number): void => void (lines[at] = lines[at]!.replace(/# ?/, ""));
    for (let at = from; at < until; at += 1) bare(at);
    writeFileSync(scenario!, lines.join("\n"));
    const run = await amberlineHere(["run", scenario!, "--out", join(folder, "shown", "out")]);
    expect([run.code, run.stdout]).toEqual([0, expect.stringContaining("2 cases: 2 right")]);
    // What holds for one of the cases alone finds the other one out.
    for (const key of ["caution on", "caution never"]) {
      bare(lines.findIndex((line) => line.includes(`# ${key}:`)));
    }
    writeFileSync(scenario!, lines.join("\n"));
    const again = ["--replace", "--out", join(folder, "shown", "out")];
    const judged = await amberlineHere(["run", scenario!, ...again]);
    expect([judged.code, judged.stdout]).toEqual([1, expect.stringContaining("2 WRONG")]);
    expect(judged.stdout).toMatch(/WRONG {2}first\[below the level\]\n.*caution.*38 s/);
    expect(judged.stdout).toMatch(/WRONG {2}first\[above the level\]\n.*caution/);
  });
});
