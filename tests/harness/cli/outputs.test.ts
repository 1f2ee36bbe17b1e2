// Where results go: what cannot be written, what is there already, what an interrupt leaves.
import {
  chmodSync,
  closeSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readFileSync,
  readdirSync,
  rmSync,
  truncateSync,
  writeFileSync,
  writeSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { ResultsError, writeWhole } from "../../../harness/results/case-file.ts";
import { caseIds, readSummary } from "../../../harness/results/results-folder.ts";
import { heldResults, refuseHeld } from "../../../harness/cli/held-results.ts";
import { amberline } from "../../kit/amberline-command.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { toneWav } from "../../kit/small-recording.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

let folder = "";
const path = (...names: string[]): string => join(folder, ...names);

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline out ü "));
  writeScenarios(folder, {
    low: scenarioText({ duration: "2 s" }),
    high: scenarioText({ duration: "2 s", amplitude: "3 in/s pk" }),
    long: scenarioText({ duration: "20 h" }),
  });
  writeFileSync(path("tone.wav"), toneWav(6000));
  writeFileSync(path("file"), "mine");
  writeFileSync(path("no.wasm"), "no wasm");
  writeFileSync(path("empty.wasm"), Uint8Array.of(0, 0x61, 0x73, 0x6d, 1, 0, 0, 0));
  writeFileSync(path("huge.wasm"), "");
  truncateSync(path("huge.wasm"), 2 ** 31);
  mkdirSync(path("folder.wasm"));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function replayCall(out: string): string[] {
  return ["replay", path("tone.wav"), "--speed", "20 rev/s", "--out", out];
}
function runCall(out: string): string[] {
  return ["run", path("low.scenario.yaml"), "--out", out];
}

describe("an output folder that cannot be written", () => {
  const BAD: [name: string, out: () => string, told: string][] = [
    ["is a file", () => path("file"), "is a file; the results need a folder"],
    ["lies below a file", () => path("file", "below"), "a part of the path is a file"],
    ["has no name", () => "", "the output folder has no name"],
    ["is a device", () => "/dev/null", "is a file; the results need a folder"],
    ["has too long a name", () => path("x".repeat(300)), "the name is too long"],
  ];
  it.each(BAD)("[CLI-130] because it %s: a sentence, code 2", async (_, out, told) => {
    for (const call of [runCall(out()), replayCall(out()), ["new", out()]]) {
      const { code, stdout, stderr } = await amberlineHere(call);
      expect([code, stdout]).toEqual([2, ""]);
      if (call[0] !== "new") expect(stderr).toContain(told);
      expect(stderr).not.toMatch(/\n {4}at |mistake of its own/);
    }
    expect(readFileSync(path("file"), "utf8")).toBe("mine");
  });

  it.skipIf(!existsSync("/proc/self"))(
    "[CLI-131] where the file system makes no folders it comes to an end (skipped without /proc)",
    async () => {
      for (const call of [runCall("/proc/x/y"), replayCall("/proc/x"), ["new", "/proc/x/y"]]) {
        const { code, stderr } = await amberlineHere(call);
        expect(code).toBe(2);
        expect(stderr).toMatch(/^\/proc\/x.* cannot be written \(.+\)\n$/);
      }
    },
  );

  it("[CLI-132] because this user may not: a sentence, code 2", async () => {
    mkdirSync(path("locked"));
    chmodSync(folder, 0o755);
    chmodSync(path("locked"), 0o555);
    // Root writes everywhere: become somebody else for the length of the call.
    const isRoot = process.geteuid?.() === 0;
    if (isRoot) process.seteuid!(65_534);
    try {
      for (const call of [runCall(path("locked")), replayCall(path("locked", "a"))]) {
        const { code, stderr } = await amberlineHere(call);
        expect(stderr).toMatch(/the output folder cannot be written \(permission denied\)\n$/);
        expect(code).toBe(2);
      }
    } finally {
      if (isRoot) process.seteuid!(0);
    }
  });
});

describe("a disk that refuses on the way", () => {
  it("[CLI-138] is a sentence with the file's name, and leaves no half of a file", () => {
    mkdirSync(path("taken.json"));
    expect(() => writeWhole(path("taken.json"), "{}")).toThrow(ResultsError);
    expect(() => writeWhole(path("gone", "x.json"), "{}")).toThrow(
      /x\.json: cannot be written \(there is no such file or folder\)$/,
    );
    expect(existsSync(path("taken.json.part"))).toBe(false);
  });
});

describe("a folder that holds results already", () => {
  it("[CLI-133] keeps them until a new run is done, then holds the new ones only", async () => {
    const out = path("again");
    expect((await amberlineHere(runCall(out))).code).toBe(0);
    writeFileSync(join(out, "notes.txt"), "mine");
    const before = ["run.json", "summary.json", "report.html"].map((name) =>
      readFileSync(join(out, name), "utf8"),
    );
    const held = await amberlineHere(runCall(out));
    expect([held.code, held.stderr]).toEqual([2, expect.stringContaining("--replace")]);
    const failed = await amberlineHere([...runCall(out), "--replace", "--core", path("no.wasm")]);
    expect(failed.code).toBe(3);
    const after = ["run.json", "summary.json", "report.html"].map((name) =>
      readFileSync(join(out, name), "utf8"),
    );
    expect(after).toEqual(before);
    const high = ["run", path("high.scenario.yaml"), "--replace", "--out", out];
    expect((await amberlineHere(high)).code).toBe(0);
    const { cases } = readSummary(out);
    expect(cases.map((one) => one.name)).toEqual(["high"]);
    expect(caseIds(out)).toEqual(cases.map((one) => one.id));
    expect(readFileSync(join(out, "notes.txt"), "utf8")).toBe("mine");
  });

  it("[CLI-134] an interrupted run takes away no case that an earlier one finished", async () => {
    const out = path("earlier");
    await amberlineHere(["run", path("high.scenario.yaml"), "--out", out]);
    const [earlier] = caseIds(out);
    let stop: ReturnType<typeof setInterval> | undefined;
    const call = ["run", path("low.scenario.yaml"), path("long.scenario.yaml"), "--out", out];
    call.push("--replace");
    const ended = await amberline([...call, "--jobs", "2"], {
      cwd: folder,
      onStart: (kill) => {
        stop = setInterval(() => {
          if (caseIds(out).length < 2) return;
          clearInterval(stop);
          kill("SIGINT");
        }, 50);
      },
    });
    clearInterval(stop);
    expect(ended.code).toBe(130);
    expect(caseIds(out)).toContain(earlier);
    expect(readSummary(out).cases.map((one) => one.name)).toEqual(["low"]);
  });
});

describe("results that nobody asked to replace", () => {
  const filesOf = (of: string): string[][] =>
    readdirSync(of, { recursive: true, encoding: "utf8" })
      .filter((name) => /\.\w+$/.test(name))
      .map((name) => [name, readFileSync(join(of, name), "utf8")]);

  it("[CLI-139] are kept by run, replay, measure and demo alike, whatever they are of", async () => {
    const [ofRun, ofReplay] = [path("of run"), path("of replay")];
    expect((await amberlineHere(runCall(ofRun))).code).toBe(0);
    expect((await amberlineHere(replayCall(ofReplay))).code).toBe(0);
    const before = [filesOf(ofRun), filesOf(ofReplay)];
    const calls = [runCall, replayCall, (out: string) => ["measure", "--out", out]];
    for (const call of calls) {
      for (const [out, what] of [
        [ofRun, "holds the results of a run"],
        [ofReplay, "holds the results of a replay"],
      ] as const) {
        const { code, stderr, stdout } = await amberlineHere(call(out));
        expect([code, stdout]).toEqual([2, ""]);
        expect(stderr.replace(/\s+/g, " ")).toContain(what);
        expect(stderr).toContain("--replace");
        expect(stderr.includes("--resume")).toBe(call === runCall && out === ofRun);
      }
    }
    const demo = await amberlineHere(["demo", "--only", "cable", "--out", ofRun]);
    expect([demo.code, demo.stderr]).toEqual([2, expect.stringContaining("of a run")]);
    expect([filesOf(ofRun), filesOf(ofReplay)]).toEqual(before);
    expect((await amberlineHere([...replayCall(ofReplay), "--replace"])).code).toBe(0);
  });

  it("[CLI-139] of a run that was cut off are kept too, and of a demonstration are its own", () => {
    const out = path("cut off");
    mkdirSync(join(out, "cases"), { recursive: true });
    expect(heldResults(out)).toBeUndefined();
    writeFileSync(join(out, "cases", "0123456789abcdef.json"), "{}");
    expect(heldResults(out)).toBe("a run");
    expect(() => refuseHeld(out, { isReplaced: false, allowed: "a run" })).not.toThrow();
    writeFileSync(join(out, "run.json"), JSON.stringify({ command: ["demo"] }));
    expect(heldResults(out)).toBe("a demonstration");
    expect(() => refuseHeld(out, { isReplaced: false, allowed: "a demonstration" })).not.toThrow();
    expect(() => refuseHeld(out, { isReplaced: false })).toThrow(/of a demonstration; --replace/);
  });
});

describe("an interrupt of replay", () => {
  it("[CLI-135] keeps what was replayed: a report that says so, code 130", async () => {
    // Two hours of silence at 48 kHz that take no room on the disk.
    const long = path("long.wav");
    const head = toneWav(0, 2 * 3600 * 48_000);
    head.writeUInt32LE(48_000, 24);
    const file = openSync(long, "w");
    writeSync(file, head);
    closeSync(file);
    truncateSync(long, 44 + 4 * 3600 * 48_000);
    const out = path("interrupted");
    const call = ["replay", long, "--speed", "20 rev/s", "--out", out];
    let stop: ReturnType<typeof setInterval> | undefined;
    const ended = await amberline(call, {
      cwd: folder,
      onStart: (kill) => {
        // The folder is made when all was read that says what to do; then give it time for a level.
        stop = setInterval(() => {
          if (!existsSync(out)) return;
          clearInterval(stop);
          setTimeout(() => kill("SIGINT"), 500);
        }, 20);
      },
    });
    clearInterval(stop);
    expect(ended).toMatchObject({ code: 130, stderr: "" });
    expect(ended.stdout).toContain("Interrupted: the last channels read end after");
    expect(readdirSync(out)).toEqual(["replay.json", "report.html"]);
    const { isInterrupted, sampleCount } = JSON.parse(
      readFileSync(join(out, "replay.json"), "utf8"),
    );
    expect(isInterrupted).toBe(true);
    expect(sampleCount).toBeGreaterThan(0);
    expect(sampleCount).toBeLessThan(2 * 3600 * 48_000);
  });
});

describe("a core that is none", () => {
  const CORES: [name: string, file: string, code: number, told: string][] = [
    ["no wasm", "no.wasm", 3, "no.wasm: no WebAssembly module that starts without imports: "],
    [
      "a module without the exports",
      "empty.wasm",
      3,
      'empty.wasm: a module, but no core: it lacks "',
    ],
    ["2 GB", "huge.wasm", 2, "huge.wasm: has 2147483648 bytes; a core has at most"],
    ["a folder", "folder.wasm", 2, "folder.wasm: is a folder, a file is needed"],
    ["not there", "none.wasm", 2, "none.wasm: no such file"],
  ];
  it.each(CORES)(
    "[CLI-136] %s: a sentence says how, code by whose mistake",
    async (_, file, code, told) => {
      const ended = await amberlineHere([...runCall(path("core out")), "--core", path(file)]);
      expect(ended.stderr).toContain(told);
      expect(ended.stderr).not.toMatch(/\n {4}at |mistake of its own|#exports/);
      expect([ended.code, ended.stdout]).toEqual([code, ""]);
    },
  );
});
