// Boxes behind adapters: the worked examples as they are, and boxes that are not what they promise.
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { BENCH_CAUTIONS } from "../../../host/bench-cautions.ts";
import { readCase, readSummary } from "../../../harness/results/results-folder.ts";
import type { BoxVerdict } from "../../../harness/judge/types.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { BOX_PROFILE } from "../../kit/simulated-box.ts";
import { SUITE_FOLDER } from "../../kit/regression-suite.ts";
import { ROOT } from "../../repo/source-files.ts";

const EXAMPLES = join(ROOT, "harness", "adapter", "examples");
const ANALOG = join(EXAMPLES, "analog-levels.mjs");
const DEVICE = join(EXAMPLES, "analog-box.device.yaml");

let folder = "";
const path = (...names: string[]): string => join(folder, ...names);

const step = (amplitudes: [string, string], duration = "16 s", speed = "2400 r/min"): string => `
question: Does the box follow a step?
profile: plain.monitor.yaml
duration: ${duration}
speed: ${speed}
vibration:
  - order: 1
    steps:
      - { at: 0 s, amplitude: ${amplitudes[0]} }
      - { at: 6 s, amplitude: ${amplitudes[1]} }
`;

/** A module in the folder that gives the example's box with other settings. */
function boxModule(name: string, settings: string): string {
  const file = path(`${name}.mjs`);
  const from = JSON.stringify(pathToFileURL(ANALOG).href);
  writeFileSync(
    file,
    `import { boxWith } from ${from};\nexport const makeLevelBox = () => boxWith(${settings});\n`,
  );
  return file;
}

/** The example's device file with lines replaced. */
function deviceFile(name: string, changes: Record<string, string>): string {
  let text = readFileSync(DEVICE, "utf8");
  for (const [key, value] of Object.entries(changes)) {
    const changed = text.replace(new RegExp(`^${key}:.*$`, "m"), `${key}: ${value}`);
    expect(changed, key).not.toBe(text);
    text = changed;
  }
  const file = path(`${name}.device.yaml`);
  writeFileSync(file, text);
  return file;
}

let runs = 0;
async function box(module: string, device: string, scenario = "step") {
  runs += 1;
  const out = path(`out ${runs}`);
  const args = ["run", path(`${scenario}.scenario.yaml`), "--target", `module:${module}`];
  const ended = await amberlineHere([...args, "--device", device, "--out", out]);
  const summary = ended.code === 2 ? undefined : readSummary(out);
  const row = summary?.cases[0];
  const verdict = row === undefined ? undefined : readCase(out, row.id).verdict;
  return { ...ended, out, row, verdict, box: verdict?.box as BoxVerdict };
}

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline box "));
  mkdirSync(folder, { recursive: true });
  writeFileSync(path("plain.monitor.yaml"), BOX_PROFILE);
  writeFileSync(path("step.scenario.yaml"), step(["0.8 in/s pk", "2.4 in/s pk"]));
  writeFileSync(path("rest.scenario.yaml"), step(["1 in/s pk", "1 in/s pk"], "8 s", "0 r/min"));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe("an adapter that gives a whole target", () => {
  it("[BOX-020] a device with another protocol is judged as the core, bit for bit", async () => {
    const files = join(SUITE_FOLDER, "board");
    const target = `module:${join(EXAMPLES, "ascii-lines.mjs")}`;
    const args = ["run", files, "--only", "caution", "--keep-records"];
    const live = await amberlineHere([...args, "--target", target, "--out", path("ascii")]);
    expect(live.code).toBe(0);
    const said = live.stderr.replace(/\s+/g, " ");
    for (const one of BENCH_CAUTIONS) expect(said.split(one).length).toBe(2);
    const compared = await amberlineHere(["compare", path("ascii"), "core", files]);
    expect(compared.stdout).toMatch(/\d+ cases: \d+ identical to the bit\.\n$/);
  });
});

describe("a box that shows numbers", () => {
  it("[BOX-030] the example is inside its own specification, its drift within what is told", async () => {
    const { code, stdout, box: found, verdict, out } = await box(ANALOG, DEVICE);
    expect(code).toBe(0);
    expect(stdout).toContain("1 case: 1 right, none wrong.");
    expect(found).toMatchObject({ decision: "inside", outside: 0, guardBand: 0 });
    expect(found.inside).toBeGreaterThan(90);
    expect(Math.abs(found.clocks[0]!.driftPpm - 80)).toBeLessThanOrEqual(
      found.clocks[0]!.driftUncertaintyPpm,
    );
    expect(verdict!.checks.map(({ check }) => check)).toEqual([
      "level",
      "shown",
      "events",
      "speed",
    ]);
    const report = readFileSync(join(out, "report.html"), "utf8");
    expect(report).toContain("against its own specification");
    expect(report).toContain("✓ inside");
    expect(report).not.toMatch(/\b(benign|safe|continue)\b/i);
  });

  it("[BOX-031] a drift of 500 ppm is found within what is told, and times are put right", async () => {
    const { code, box: found } = await box(boxModule("drifts", "{ drift: 500e-6 }"), DEVICE);
    expect(code).toBe(0);
    expect(Math.abs(found.clocks[0]!.driftPpm - 500)).toBeLessThanOrEqual(
      found.clocks[0]!.driftUncertaintyPpm,
    );
  });

  const TIGHT = { latency: "{ from: 100 ms, to: 140 ms }" };
  const HOST = '{ clock: "host", drift: 0, offsetS: 0, latencyS: ';
  it.each([
    ["twice its accuracy off", "{ gain: 1.1 }", {}, "level"],
    ["of a slower filter", "{ bandwidthHz: 0.5 }", TIGHT, "level"],
    ["of a quicker filter", "{ bandwidthHz: 3 }", TIGHT, "level"],
    ["later than it may be", `${HOST} 0.6 }`, {}, "level"],
    ["earlier than it may be", `${HOST} 0.12 }`, { latency: "{ from: 1 s, to: 2 s }" }, "level"],
    ["of a coarser step", "{ displayStep: 0.25 }", {}, "shown"],
    ["renewed less often", "{ updateRateHz: 3 }", {}, "events"],
  ] as const)("[BOX-032] a box that is %s is told", async (name, settings, changes, check) => {
    const file = name.replaceAll(" ", "-");
    const { code, verdict, row, stdout } = await box(
      boxModule(file, settings),
      deviceFile(file, changes),
    );
    expect(verdict!.checks.find((one) => one.check === check)!.isRight).toBe(false);
    expect([code, row!.decision]).toEqual([1, "outside"]);
    expect(stdout).toContain("OUTSIDE  step");
  });

  it("[BOX-033] what lies within the guard band is told as such, and decided by the rule", async () => {
    const module = boxModule("near", "{ gain: 1.045 }");
    const accuracy = "{ of reading: 3 %, plus: 0.13 }";
    const guarded = await box(module, deviceFile("guarded", { accuracy }));
    expect(guarded.code).toBe(1);
    expect(guarded.row!.decision).toBe("within the guard band");
    expect(guarded.stdout).toContain("GUARD BAND  step");
    expect(guarded.stdout).toContain("none wrong, 1 WITHIN THE GUARD BAND");
    expect(readFileSync(join(guarded.out, "junit.xml"), "utf8")).toContain(
      'type="within the guard band"',
    );
    expect(readFileSync(join(guarded.out, "report.html"), "utf8")).toContain(
      "◑ within the guard band",
    );
    const decision = "{ rule: simple acceptance }";
    const simple = await box(module, deviceFile("simple", { accuracy, decision }));
    expect([simple.code, simple.row!.decision]).toEqual([0, "inside"]);
  });

  it("[BOX-034] of an unknown filter settled stretches are judged, and the rest is said", async () => {
    const unknown = deviceFile("unknown", { filter: "unknown" });
    const right = await box(ANALOG, unknown);
    expect(right.code).toBe(0);
    expect(right.box.notJudged).toBeGreaterThan(20);
    expect(right.box.inside).toBeGreaterThan(20);
    expect(right.box.notes.join(" ")).toContain("% of the readings were not judged");
    const slow = await box(boxModule("slow", `${HOST} 0.12, bandwidthHz: 0.2 }`), unknown);
    expect(slow.code).toBe(1);
    expect(slow.row!.decision).toBe("outside");
  });

  it("[BOX-035] the built-in core is judged by a device's specification, too", async () => {
    const args = ["run", path("step.scenario.yaml"), "--device", DEVICE, "--out", path("core")];
    const { code, stderr } = await amberlineHere(args);
    // Nothing goes to a port, so nothing is said of one.
    expect([code, stderr]).toEqual([0, ""]);
    const { cases } = readSummary(path("core"));
    const { verdict } = readCase(path("core"), cases[0]!.id);
    expect(verdict.box).toMatchObject({ decision: "inside", outside: 0 });
    const caution = verdict.checks.find(({ check }) => check === "caution")!;
    expect(caution).toMatchObject({ isRight: true });
    expect(caution.judgedCount).toBeGreaterThan(20);
    expect(verdict.events.map(({ name }) => name)).toEqual(["caution-on"]);
  });
});

describe("what a run says of a box", () => {
  it("[BOX-085] where nothing could be judged says so everywhere, and ends with 1", async () => {
    writeFileSync(path("short.scenario.yaml"), step(["1 in/s pk", "1 in/s pk"], "1 s"));
    const { code, stdout, row, out } = await box(ANALOG, DEVICE, "short");
    expect([code, row!.decision, row!.isRight]).toEqual([1, "not judged", false]);
    expect(stdout).toContain("NOT JUDGED  short");
    expect(stdout).toContain("1 case: 0 right, none wrong, 1 NOT JUDGED.");
    expect(stdout).not.toContain("  right");
    const longest = Math.max(
      ...stdout
        .split("\n")
        .filter((line) => !/npx amberline run|^Report/.test(line))
        .map((line) => line.length),
    );
    expect(longest).toBeLessThanOrEqual(80);
    expect(readFileSync(join(out, "junit.xml"), "utf8")).toContain('type="not judged"');
    const report = readFileSync(join(out, "report.html"), "utf8");
    expect(report).toContain("○ not judged");
    expect(report).toContain("1 of 1 not judged.");
    expect(report).not.toMatch(/verdicts wrong|Every reading/);
  });

  it("[BOX-086] shows when the caution had to come, and each check's own decision", async () => {
    const out = path("caution told");
    const args = ["run", path("step.scenario.yaml"), "--device", DEVICE, "--out", out];
    expect((await amberlineHere(args)).code).toBe(0);
    const report = readFileSync(join(out, "report.html"), "utf8");
    expect(report).toContain("When the caution must come and go");
    expect(report).toContain("Surely allowed, s");
    expect(report).toContain("times ± ");
  });
});

describe("a run on a box that is gone on with", () => {
  it("[BOX-036] takes over what was judged by the same device file, and by no other", async () => {
    const args = ["run", path("step.scenario.yaml"), "--target", `module:${ANALOG}`];
    const out = ["--out", path("gone on with"), "--resume"];
    const again = (device: string) => amberlineHere([...args, "--device", device, ...out]);
    expect((await again(DEVICE)).stdout).not.toContain("in the folder already");
    expect((await again(DEVICE)).stdout).toContain("1 case was in the folder already");
    const other = deviceFile("other", { settling: "2.5 s" });
    expect((await again(other)).stdout).not.toContain("in the folder already");
  });
});

describe("an adapter that cannot be used", () => {
  const module = (name: string, text: string): string => {
    writeFileSync(path(`${name}.mjs`), text);
    return path(`${name}.mjs`);
  };
  const BOX = (body: string): string =>
    `export const makeLevelBox = () => ({ async facts() { return { name: "a", identity: "b", ` +
    `clock: "own" }; }, ${body}, async close() {} });`;

  it.each([
    ["is not there", undefined, 2, "no such file; a module is expected"],
    ["cannot be read", "export const = 1;", 2, "cannot be loaded"],
    ["throws when it is loaded", "throw new Error('no bus');", 2, "cannot be loaded: no bus"],
    ["exports neither", "export const a = 1;", 2, "must export either makeTarget or makeLevelBox"],
    [
      "gives half a target",
      "export const makeTarget = () => ({ open() {} });",
      2,
      "has no configure",
    ],
    [
      "fails to open",
      "export const makeLevelBox = () => { throw new Error('no cable'); };",
      3,
      "no cable",
    ],
    [
      "throws while it plays",
      BOX("async play() { throw new Error('gone'); }"),
      3,
      "the target failed at play(): gone",
    ],
    ["reads nothing back", BOX("async play() { return []; }"), 3, "play() gave no reading at all"],
    [
      "gives no list",
      BOX("async play() { return 7; }"),
      3,
      "gives-no-list.mjs: play() must give a list of readings, not 7",
    ],
    [
      "gives a time that is none",
      BOX("async play() { return [{ timeS: NaN, filter: 'fan', shown: 1 }]; }"),
      3,
      "play(): reading 1: timeS must be a number, not NaN",
    ],
    [
      "names another number",
      BOX("async play() { return [{ timeS: 1, filter: 'x', shown: 1 }]; }"),
      3,
      'reading 1: filter must be one of fan, as the profile has them, not the text "x"',
    ],
    [
      "shows no burst",
      BOX("async play() { return [{ timeS: 1, filter: 'fan', shown: 1 }]; }"),
      3,
      "is not seen",
    ],
    [
      "never comes back",
      BOX("play() { return new Promise(() => {}); }"),
      3,
      "has not come back from play() within 0.5 s",
    ],
  ])("[BOX-040] a module that %s is told", async (name, text, code, said) => {
    const file = text === undefined ? path("none.mjs") : module(name.replaceAll(" ", "-"), text);
    const args = ["run", path("step.scenario.yaml"), "--target", `module:${file}`];
    const more = ["--device", DEVICE, "--time-out", "500 ms", "--replace", "--out", path("bad")];
    const ended = await amberlineHere([...args, ...more]);
    expect(ended.code).toBe(code);
    expect((ended.stderr + ended.stdout).replace(/\s+/g, " ")).toContain(said);
    expect(ended.stderr).not.toMatch(/\n\s+at /);
  });

  it("[BOX-041] numbers without a device file, and records of numbers, are wrong calls", async () => {
    const args = ["run", path("step.scenario.yaml"), "--target", `module:${ANALOG}`];
    const bare = await amberlineHere([...args, "--out", path("bare")]);
    expect([bare.code, bare.stderr.includes("--device FILE")]).toEqual([2, true]);
    const kept = await amberlineHere([...args, "--device", DEVICE, "--keep-records"]);
    expect([kept.code, kept.stderr.includes("are no records")]).toEqual([2, true]);
  });

  it("[BOX-042] a scenario in which every shaft stands at an end is told, and costs no other case", async () => {
    const { code, stdout } = await box(ANALOG, DEVICE, "rest");
    expect(code).toBe(2);
    expect(stdout.replace(/\s+/g, " ")).toContain("does not turn fast enough at the beginning");
  });

  it("[BOX-043] mistakes in a device file are told with line and column", async () => {
    const wrong = deviceFile("wrong", {
      latency: "{ from: 1 s, to: 250 ms }",
      accuracy: "{ of reading: 0 %, plus: 0 }",
      filter: "guess",
    });
    const { code, stderr } = await amberlineHere([
      "run",
      path("step.scenario.yaml"),
      "--device",
      wrong,
    ]);
    expect(code).toBe(2);
    expect(stderr).toMatch(/wrong\.device\.yaml:\d+:\d+: filter/);
    const checked = await amberlineHere(["check", DEVICE]);
    expect(checked.stdout.replace(/\s+/g, " ")).toContain(
      'the device "Simulated analog box" is right',
    );
  });
});
