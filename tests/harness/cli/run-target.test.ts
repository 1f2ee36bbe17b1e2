import { execFileSync } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import * as LINK from "../../../shared/link.ts";
import { BENCH_CAUTIONS } from "../../../host/bench-cautions.ts";
import { encodePortFacts } from "../../../host/link/packet.ts";
import { SerialBytePort } from "../../../host/link/serial-port.ts";
import { bitComparisonRefusal } from "../../../harness/results/bit-comparison.ts";
import { caseIds, readCase, readSummary } from "../../../harness/results/results-folder.ts";
import type { CaseResult } from "../../../harness/results/types.ts";
import { amberline } from "../../kit/amberline-command.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { type PtyDevice, ptyDevice, ptyParrot } from "../../kit/pty-device.ts";
import type { Packet, Tap } from "../../kit/link-tap.ts";
import { isPtyHere } from "../../kit/pty-here.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

const isHere = await isPtyHere();
let folder = "";
const path = (...names: string[]): string => join(folder, ...names);
const NAMES = ["first", "second", "third"];
const FILES = (): string[] => NAMES.map((name) => path(`${name}.scenario.yaml`));

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline line "));
  const texts = ["1 in/s pk", "3 in/s pk", "2 in/s pk"].map((amplitude) =>
    scenarioText({ amplitude, duration: "3 s" }),
  );
  writeScenarios(folder, {
    ...Object.fromEntries(NAMES.map((name, i) => [name, texts[i]!])),
    long: scenarioText({ duration: "2 h" }),
  });
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const devices: PtyDevice[] = [];
afterEach(async () => {
  for (const one of devices.splice(0)) await one.unplug();
});
async function device(tap?: Tap, identity = "bench box 7"): Promise<PtyDevice> {
  const one = await ptyDevice(tap, { identity });
  devices.push(one);
  return one;
}

const run = (...args: string[]) => amberlineHere(["run", ...args]);
const out = (name: string): string[] => ["--out", path(name)];

/** Everything of the cases that is not bound to what carried them. */
function carriedCases(name: string): Omit<CaseResult, "id" | "target">[] {
  return readSummary(path(name)).cases.map((row) => {
    const { id: _id, target: _target, ...rest } = readCase(path(name), row.id);
    return rest;
  });
}

describe.skipIf(!isHere)("amberline run over a serial line", () => {
  it("[CLI-190] gives the core's verdicts, told as the device's, and so does its log", async () => {
    const { path: port } = await device();
    const log = path("bench.log");
    const serial = ["--target", `serial:${port}`, "--record", log, "--jobs", "4"];
    const live = await run(...FILES(), ...serial, ...out("live"), "--json");
    expect(live.code).toBe(0);
    const target = { identity: "bench box 7", layoutVersion: 1, numericsVersion: 1 };
    expect(JSON.parse(live.stdout)).toMatchObject({
      rightCount: 3,
      failures: [],
      target: { kind: "serial", ...target },
    });
    expect((await run(...FILES(), ...out("direct"))).code).toBe(0);
    expect(carriedCases("live")).toEqual(carriedCases("direct"));
    const [ids, others] = [caseIds(path("live")), caseIds(path("direct"))];
    expect(ids.filter((id) => others.includes(id))).toEqual([]);
    await devices.pop()!.unplug();
    const played = await run(...FILES(), "--target", `log:${log}`, ...out("played"));
    expect([played.code, played.stderr]).toEqual([0, ""]);
    expect(carriedCases("played")).toEqual(carriedCases("direct"));
    expect(readSummary(path("played")).target).toEqual({ kind: "log", ...target });
    expect(played.stdout).toContain("Device bench box 7 at the end of a line, from a traffic log,");
    const one = ["--only", "second", "--target", `log:${log}`];
    expect((await run(...FILES(), ...one, ...out("one"))).code).toBe(0);
  });

  it("[CLI-191] tells the bench cautions once before the first byte, and repeats its options", async () => {
    let written = "";
    let beforeFirstByte: string | undefined;
    const { path: port } = await device({
      onAnswer: () => {
        beforeFirstByte ??= written;
      },
    });
    const ending = ["--target", `serial:${port}`, "--baud", "9600", "--time-out", "20 s"];
    const args = ["run", FILES()[0]!, ...ending, ...out("cautions")];
    const { stderr } = await amberlineHere(args, (_name, text) => {
      written += text;
    });
    expect(beforeFirstByte).toBe(stderr);
    const said = stderr.replace(/\s+/g, " ");
    for (const one of BENCH_CAUTIONS) expect(said.split(one).length).toBe(2);
    expect(stderr).not.toMatch(/\b(benign|safe|continue)\b/i);
    const { cases } = JSON.parse(readFileSync(path("cautions", "run.json"), "utf8")) as {
      cases: { repeat: string }[];
    };
    expect(cases[0]!.repeat).toMatch(
      new RegExp(`--seed 1 --target serial:${port} --baud 9600 --time-out '20 s'$`),
    );
  });

  it("[CLI-194] a pulled plug ends it within 3 s with 3; what is finished stays, --resume does the rest", async () => {
    let feeds = 0;
    let pulledMs = 0;
    let configured = 0;
    const cable = await device({
      onAnswer: ({ head }: Packet) => {
        if (head.type === LINK.PACKET_CONFIGURE) configured += 1;
        if (head.type === LINK.PACKET_FEED && configured === 2) feeds += 1;
        if (feeds === 20 && pulledMs === 0) {
          pulledMs = performance.now();
          void cable.unplug();
        }
      },
    });
    const pulled = await run(...FILES(), "--target", `serial:${cable.path}`, ...out("plug"));
    const waitedMs = performance.now() - pulledMs;
    expect(pulled.code).toBe(3);
    expect(waitedMs).toBeLessThan(3000);
    expect(pulled.stdout).toMatch(/the target failed at sample 0: the port closed\s/);
    const summary = readSummary(path("plug"));
    expect(summary.cases.map(({ name }) => name)).toEqual(["first"]);
    expect(summary.failures.map(({ name, kind }) => [name, kind])).toEqual([
      ["second", "target"],
      ["third", "target"],
    ]);
    expect(summary.failures[1]!.message).toContain('the target was lost at case "second"');
    const kept = readFileSync(path("plug", "cases", `${summary.cases[0]!.id}.json`));
    let configuredAgain = 0;
    const other = await device({
      onAnswer: ({ head }) => {
        if (head.type === LINK.PACKET_CONFIGURE) configuredAgain += 1;
      },
    });
    const again = ["--target", `serial:${other.path}`, ...out("plug"), "--resume"];
    const resumed = await run(...FILES(), ...again);
    expect(resumed.code).toBe(0);
    expect(configuredAgain).toBe(2);
    expect(resumed.stdout).toContain("1 case was in the folder already and not run again.");
    expect(readSummary(path("plug")).rightCount).toBe(3);
    expect(readFileSync(path("plug", "cases", `${summary.cases[0]!.id}.json`))).toEqual(kept);
  });

  it("[CLI-196] another numerics version is told, and refuses a comparison bit by bit", async () => {
    const body = { at: LINK.HELLO_ANSWER_NUMERICS, is: 7 };
    const { path: port } = await device(changed(1, (hello) => (hello[body.at] = body.is)));
    const args = [FILES()[0]!, "--target", `serial:${port}`, ...out("numerics")];
    const { code, stdout } = await run(...args);
    expect(code).toBe(0);
    expect(stdout.replace(/\s+/g, " ")).toContain(
      "numerics 7, seed 1. Numerics version 7 against 1: the bits of records may differ where " +
        "both are right, so they are not compared bit by bit",
    );
    const [live, own] = [{ numericsVersion: 7 }, { numericsVersion: 1 }];
    expect(bitComparisonRefusal(live, own)).toBeDefined();
    expect(bitComparisonRefusal(own, own)).toBeUndefined();
  });

  it("[CLI-197] an interrupt keeps what is finished and ends with 130", async () => {
    let configured = 0;
    let stop: (signal: NodeJS.Signals) => void = () => {};
    const { path: port } = await device({
      onAnswer: ({ head }) => {
        if (head.type === LINK.PACKET_CONFIGURE) configured += 1;
        if (head.type !== LINK.PACKET_FEED || configured !== 2) return;
        // Once: a second interrupt ends the command at once.
        stop("SIGINT");
        configured += 1;
      },
    });
    const files = [FILES()[0]!, path("long.scenario.yaml")];
    const args = ["run", ...files, "--target", `serial:${port}`, ...out("interrupted")];
    const onStart = (kill: typeof stop): void => {
      stop = kill;
    };
    const ended = await amberline(args, { cwd: folder, onStart });
    expect(ended.code).toBe(130);
    expect(ended.stdout).toContain("Interrupted: only what was finished is in the results.");
    expect(readSummary(path("interrupted")).cases.map(({ name }) => name)).toEqual(["first"]);
  });
});

const changed = (type: number, change: (body: Uint8Array) => void): Tap => ({
  onSent: ({ head, body }) => {
    if (head.type === (type | LINK.PACKET_ANSWER)) change(body);
  },
});

function restarting(): Tap & { core?: PtyDevice["core"] } {
  let feeds = 0;
  const tap: Tap & { core?: PtyDevice["core"] } = {
    onAnswer: ({ head }) => {
      if (head.type !== LINK.PACKET_FEED) return;
      feeds += 1;
      const facts = { creditBytes: 8192, clockHz: 0, identity: "bench box 7" };
      if (feeds === 30) tap.core!.linkStart(encodePortFacts(facts));
    },
  };
  return tap;
}

const FAILING: [name: string, words: RegExp, start: () => Promise<string>][] = [
  ["no such port", /there is no such port/, async () => path("ttyNone")],
  [
    "a busy port",
    /the port is busy; close the other program/,
    async () => {
      const { path: port } = await device();
      const other = new SerialBytePort(port);
      devices.unshift({ path: port, core: devices[0]!.core, unplug: () => other.close() });
      await other.open();
      return port;
    },
  ],
  [
    "a wrong baud rate",
    /no packet among them: set the same baud rate/,
    async () => {
      devices.push(await ptyParrot(Uint8Array.of(0xf8, 0x7e, 0, 0xc0, 0x1c, 0xe0)));
      return devices.at(-1)!.path;
    },
  ],
  [
    "no answer",
    /the device does not answer \(asked (once|\d+ times) in [\d.]+ s\)/,
    async () => {
      devices.push(await ptyParrot(new Uint8Array(0)));
      return devices.at(-1)!.path;
    },
  ],
  [
    "another protocol",
    /speaks protocol 9 and layout 1, this host 1 and 1/,
    async () => (await device(changed(1, (body) => (body[LINK.HELLO_ANSWER_PROTOCOL] = 9)))).path,
  ],
  [
    "another layout",
    /speaks protocol 1 and layout 8, this host 1 and 1/,
    async () => (await device(changed(1, (body) => (body[LINK.HELLO_ANSWER_LAYOUT] = 8)))).path,
  ],
  [
    "a missing capability",
    /cannot do what is asked: samples as f32/,
    async () => (await device(changed(1, (body) => (body[LINK.HELLO_ANSWER_FORMATS] = 2)))).path,
  ],
  [
    "another echo",
    /holds another configuration than was sent, from byte 84 on/,
    async () => (await device(changed(2, (body) => (body[100]! ^= 1)))).path,
  ],
  [
    "a reset in the middle",
    /started anew in the middle and knows nothing of this run.*\(the first block not known/,
    async () => {
      const tap = restarting();
      const one = await device(tap);
      tap.core = one.core;
      return one.path;
    },
  ],
];

describe.skipIf(!isHere)("a target that fails", () => {
  it.each(FAILING)("[CLI-193] %s is a sentence and code 3", async (name, words, start) => {
    const port = await start();
    const ending = ["--target", `serial:${port}`, "--time-out", "800 ms", ...out(`f ${name}`)];
    const { code, stdout, stderr } = await run(FILES()[0]!, ...ending);
    const said = `${stdout}${stderr}`.replace(/\s+/g, " ");
    expect(said).toMatch(words);
    expect(code).toBe(3);
    expect(said).not.toMatch(/ at .*:\d+:\d+\)|mistake of its own/);
  });

  it("[CLI-193] a log cut short, and one of another run, are each a sentence and code 3", async () => {
    const { path: port } = await device();
    const log = path("whole.log");
    const serial = ["--target", `serial:${port}`, "--record", log];
    await run(FILES()[0]!, FILES()[1]!, ...serial, ...out("whole"));
    const whole = readFileSync(log);
    const second = whole.indexOf("second");
    writeFileSync(path("cut.log"), whole.subarray(0, second + 9000));
    const cut = ["--target", `log:${path("cut.log")}`, ...out("cut")];
    const ended = await run(FILES()[0]!, FILES()[1]!, ...cut);
    expect(ended.code).toBe(3);
    const said = ended.stdout.replace(/\s+/g, " ");
    expect(said).toContain(`the traffic log was cut short: it ends at byte ${second + 9000}`);
    expect(readSummary(path("cut")).rightCount).toBe(1);
    const other = await run(FILES()[2]!, "--target", `log:${log}`, ...out("other"));
    expect(other.code).toBe(3);
    expect(other.stdout.replace(/\s+/g, " ")).toContain('holds nothing of case "third"');
    const seed = ["--seed", "2", "--only", "first", "--target", `log:${log}`];
    writeScenarios(folder, { first: scenarioText({ amplitude: "4 in/s pk", duration: "3 s" }) });
    const changedRun = await run(FILES()[0]!, ...seed, ...out("changed"));
    expect(changedRun.code).toBe(3);
    expect(changedRun.stdout.replace(/\s+/g, " ")).toMatch(
      /packet \d+ of .* is another than the log/,
    );
  });
});

const WRONG: [name: string, args: () => string[], words: string][] = [
  ["serial without a path", () => ["--target", "serial:"], "Allowed choices are core, serial:PATH"],
  [
    "baud for the core",
    () => ["--baud", "9600"],
    "--baud goes with --target serial, not with core",
  ],
  ["a log of the core", () => ["--record", "x"], "--record goes with --target serial"],
  [
    "a core for a port",
    () => ["--target", "serial:/x", "--core", "y"],
    "--core goes with --target",
  ],
  ["a baud of 5", () => ["--target", "serial:/x", "--baud", "5"], "a whole number from 300 to"],
  ["a bare time-out", () => ["--time-out", "5"], "the time-out"],
  ["a time-out of a day", () => ["--time-out", "24 h"], "a time from 100 ms to 1 h"],
  ["a log that is not there", () => ["--target", "log:/none"], "/none: no such file"],
  ["another file as a log", () => ["--target", `log:${FILES()[0]!}`], "is no traffic log"],
  ["a log that is a folder", () => ["--target", `log:${folder}`], "is a folder, a file is needed"],
  [
    "a log in no folder",
    () => ["--target", "serial:/x", "--record", path("none", "x")],
    "cannot be written (there is no such file or folder)",
  ],
  [
    "a log without a name",
    () => ["--target", "serial:/x", "--record", ""],
    "--record needs the name of a file",
  ],
  ["a resume of nothing", () => ["--resume"], "--resume needs --out"],
  [
    "a log over one's own file",
    () => ["--target", "serial:/x", "--record", FILES()[0]!],
    "is there, and no traffic log; it is not written over",
  ],
];

describe("a wrong call", () => {
  it.skipIf(process.platform === "win32")(
    "[CLI-192] a pipe as a log is refused and not waited for",
    async () => {
      const pipe = path("pipe");
      execFileSync("mkfifo", [pipe]);
      const read = await run(FILES()[0]!, "--target", `log:${pipe}`);
      expect([read.code, read.stderr]).toEqual([2, `${pipe}: is not a regular file\n`]);
      const written = await run(FILES()[0]!, "--target", "serial:/x", "--record", pipe);
      expect([written.code, written.stderr]).toEqual([2, expect.stringContaining("a pipe or a")]);
    },
  );

  it.each(WRONG)("[CLI-192] %s is a sentence and code 2", async (_name, args, words) => {
    const { code, stdout, stderr } = await run(FILES()[0]!, ...args());
    expect(stderr).toContain(words);
    expect([code, stdout]).toEqual([2, ""]);
    expect(existsSync(path("first.scenario.yaml"))).toBe(true);
  });
});

describe("amberline run --resume", () => {
  it("[CLI-195] runs only what is not there, whole, and gives the same folder", async () => {
    expect((await run(...FILES(), ...out("resume"))).code).toBe(0);
    const bytesOf = (id: string): string =>
      readFileSync(path("resume", "cases", `${id}.json`), "utf8");
    const ids = caseIds(path("resume"));
    const whole = ids.map(bytesOf);
    const summary = readFileSync(path("resume", "summary.json"), "utf8");
    writeFileSync(path("resume", "cases", `${ids[0]!}.json`), whole[0]!.slice(0, 500));
    rmSync(path("resume", "cases", `${ids[1]!}.json`));
    const { code, stdout } = await run(...FILES(), ...out("resume"), "--resume", "--json");
    expect([code, JSON.parse(stdout)]).toMatchObject([0, { resumedCount: 1, rightCount: 3 }]);
    expect(caseIds(path("resume")).map(bytesOf)).toEqual(whole);
    expect(readFileSync(path("resume", "summary.json"), "utf8")).toBe(summary);
    const all = await run(...FILES(), ...out("resume"), "--resume");
    expect(all.stdout).toContain("3 cases were in the folder already and not run again.");
  });
});
