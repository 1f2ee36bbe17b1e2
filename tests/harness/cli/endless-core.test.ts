// A firmware named by a user that does not come back, wherever it is called.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { CallLimit } from "../../../host/call-limit.ts";
import { Core } from "../../../host/core.ts";
import { LinkDevice } from "../../../host/link/device.ts";
import { BLOCK_FIRST_LOW } from "../../../shared/layout.ts";
import { type Ended, amberline } from "../../kit/amberline-command.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { changedCore, endlessFrom, ENDLESS, giving, growing } from "../../kit/changed-core.ts";
import { ROOT } from "../../repo/source-files.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline endless "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const path = (name: string): string => join(folder, name);
const coreWith = (name: string, body: Parameters<typeof changedCore>[1]): string => {
  writeFileSync(path(`${name}.wasm`), changedCore(name, body));
  return path(`${name}.wasm`);
};

beforeAll(() => writeScenarios(folder, { good: scenarioText({ duration: "1 s" }) }));

type Call = (core: string) => string[];
const run: Call = (core) => ["run", path("good.scenario.yaml"), "--jobs", "1", "--core", core];
const measure: Call = (core) => ["measure", path("small.monitor.yaml"), "--core", core];
const compare: Call = (core) => ["compare", "core", core, path("good.scenario.yaml")];
const target: Call = (core) => ["target", "--core", core];

const ENDLESS_CALLS: [verb: string, name: string, call: Call][] = [
  ["run", "layoutVersion", run],
  ["run", "configure", run],
  ["run", "process", run],
  ["run", "addressCounters", run],
  ["measure", "layoutVersion", measure],
  ["measure", "process", measure],
  ["compare", "layoutVersion", compare],
  ["compare", "process", compare],
  ["target", "layoutVersion", target],
];

describe("a core that does not come back", () => {
  it.each(ENDLESS_CALLS)(
    "[CLI-225] %s is given up where %s has no end, in a sentence, with 3",
    async (verb, name, call) => {
      const out = verb === "run" || verb === "measure" ? ["--out", path(`${verb} ${name}`)] : [];
      const core = coreWith(name, ENDLESS);
      const ended = await amberlineHere([...call(core), "--time-out", "2 s", ...out]);
      const said = `${ended.stdout}${ended.stderr}`.replace(/\s+/g, " ");
      expect(said).toContain("the core did not come back within 2 s: a loop in it may have no end");
      expect(said).toContain("--time-out gives it another time");
      // A call of both sides says which one it was.
      if (verb === "compare" && name === "process")
        expect(said).toContain('B failed at case "good"');
      expect(said).not.toMatch(/mistake of its own| {4}at /);
      expect(ended.code).toBe(3);
    },
  );

  it("[CLI-225] the next case is run on the same thread", async () => {
    writeScenarios(folder, { a: scenarioText(), b: scenarioText({ amplitude: "2 in/s pk" }) });
    const files = [path("a.scenario.yaml"), path("b.scenario.yaml")];
    const more = ["--jobs", "1", "--time-out", "2 s", "--out", path("two"), "--json"];
    const core = coreWith("reset", ENDLESS);
    const right = await amberlineHere(["run", ...files, "--core", core, ...more]);
    expect([right.code, right.stderr]).toEqual([0, ""]);
    // It loops from the 1.5th second on, which only the first of the cases has.
    writeScenarios(folder, { b: scenarioText({ duration: "1 s" }) });
    const { blockAddress } = new Core(changedCore("reset", ENDLESS));
    const endless = coreWith("process", endlessFrom(blockAddress + BLOCK_FIRST_LOW, 19_200));
    const ended = await amberlineHere(["run", ...files, "--core", endless, ...more, "--replace"]);
    expect(ended.code).toBe(3);
    const { failures, cases } = JSON.parse(ended.stdout) as {
      failures: { name: string; message: string }[];
      cases: { name: string; isRight: boolean }[];
    };
    expect(failures.map(({ name }) => name)).toEqual(["a"]);
    expect(failures[0]!.message).toContain("the core did not come back within 2 s");
    expect(cases.map(({ name, isRight }) => [name, isRight])).toEqual([["b", true]]);
  });

  it.each([
    ["--time-out", "2 s", "core", "--time-out goes with a core of your own or another target"],
    ["--time-out", "2 s", "results", "--time-out goes with a core of your own or another target"],
    ["--baud", "9600", "core", "--baud goes with a side serial:PATH"],
    ["--baud", "9600", "results", "--baud goes with a side serial:PATH"],
  ])(
    "[CLI-226] compare with %s %s and no side that takes it (%s)",
    async (option, value, of, told) => {
      const out = path("results");
      const kept = ["run", path("good.scenario.yaml"), "--keep-records", "--replace", "--out", out];
      expect((await amberlineHere(kept)).code).toBe(0);
      const sides = ["core", of === "core" ? "core" : out];
      const call = ["compare", ...sides, path("good.scenario.yaml")];
      const { code, stderr } = await amberlineHere([...call, option, value]);
      expect([code, stderr]).toEqual([2, expect.stringContaining(told)]);
      expect((await amberlineHere(call)).code).toBe(0);
    },
  );

  it("[CLI-226] a time-out without such a core is a wrong call", async () => {
    for (const call of [["run", path("good.scenario.yaml")], ["measure"], ["target"]]) {
      const { code, stderr } = await amberlineHere([...call, "--time-out", "2 s"]);
      expect([code, stderr]).toEqual([2, expect.stringContaining("--time-out goes with --core")]);
    }
  });
});

/** Says each bounded call before it is made, so that an interrupt can come within a certain one. */
const TOLD_CALLS = `
import { writeSync } from "node:fs";
import { Script } from "node:vm";
const { runInContext } = Script.prototype;
Script.prototype.runInContext = function (...args) {
  writeSync(1, "a bounded call\\n");
  return runInContext.apply(this, args);
};
`;

/** The process has said that it makes a call, and so long later it is in it. */
const WITHIN_MS = 500;

/** Interrupts the command within one of its bounded calls, counted from 1. */
function interruptedAt(which: number, args: string[]): Promise<Ended> {
  writeFileSync(path("told-calls.mjs"), TOLD_CALLS);
  let kill: (signal: NodeJS.Signals) => void = () => {};
  let said = "";
  return amberline(args, {
    cwd: ROOT,
    preload: [pathToFileURL(path("told-calls.mjs")).href],
    onStart: (send) => void (kill = send),
    onOutput: (text) => {
      const count = (): number => said.split("a bounded call").length - 1;
      const before = count();
      said += text;
      if (before < which && count() >= which) setTimeout(() => kill("SIGINT"), WITHIN_MS);
    },
  });
}

const INTERRUPTED: [verb: string, name: string, which: number, call: Call][] = [
  ["run", "layoutVersion", 1, run],
  ["measure", "layoutVersion", 1, measure],
  ["measure", "process", 4, measure],
  ["compare", "layoutVersion", 1, compare],
  ["compare", "process", 4, compare],
  ["target", "layoutVersion", 1, target],
  ["target", "linkStart", 2, target],
];

describe("an interrupt while a core does not come back", () => {
  it.each(INTERRUPTED)(
    "[CLI-229] ends %s in %s with 130, long before the core is given up",
    async (verb, name, which, call) => {
      const out = path(`interrupted ${verb} ${name}`);
      const more = verb === "run" || verb === "measure" ? ["--out", out] : [];
      const args = [...call(coreWith(name, ENDLESS)), ...more, "--time-out", "60 s"];
      const { code, stdout, stderr } = await interruptedAt(which, args);
      expect(`${stdout}${stderr}`).toContain("Interrupted");
      expect(`${stdout}${stderr}`).not.toMatch(/did not come back|mistake of its own| {4}at /);
      expect(code).toBe(130);
    },
  );
});

describe("a core that grows its memory", () => {
  const MEMORY_ONE_PAGE = Buffer.from([5, 4, 1, 1, 1, 1]);

  it.each([
    ["by a page", 1, "process"],
    ["by nothing", 0, "process"],
    ["by a page", 1, "addressConfiguration"],
    ["by a page", 1, "recordCount"],
    ["by a page", 1, "addressCounters"],
  ])("[CLI-230] %s (%i) in %s is told in a sentence", async (_how, pages, name) => {
    const wasm = changedCore(name, growing(pages));
    const at = wasm.indexOf(MEMORY_ONE_PAGE);
    expect(at).toBeGreaterThan(0);
    wasm[at + 5] = 16;
    writeFileSync(path("growing.wasm"), wasm);
    const call = [...run(path("growing.wasm")), "--replace", "--out", path("growing")];
    const { code, stdout, stderr } = await amberlineHere(call);
    const said = `${stdout}${stderr}`.replace(/\s+/g, " ");
    expect(said).toContain("the core grew its memory, which is one page and must stay so");
    expect(code).toBe(3);
  });
});

describe("the help of a command that takes a core", () => {
  it.each(["run", "measure", "compare", "target"])("[CLI-225] %s tells the limit", async (verb) => {
    const { stdout } = await amberlineHere([verb, "--help"]);
    expect(stdout.replace(/\s+/g, " ")).toContain(
      "does not come back from a call within 30 s, loading included, is given up; --time-out",
    );
  });
});

/** A port that nobody listens at; `take` gives the device bytes. */
function deafPort() {
  let taker: (bytes: Uint8Array) => void = () => {};
  const port = {
    open: async () => {},
    close: async () => {},
    onClosed: () => {},
    onBytes: (given: typeof taker) => void (taker = given),
    write: () => {},
  };
  return { port, take: (bytes: Uint8Array): void => taker(bytes) };
}

describe("a call with a limit", () => {
  it("[CLI-227] gives what the work gives or throws, and is as good after it was cut off", () => {
    const limit = new CallLimit(200);
    expect(limit.run(() => 7)).toBe(7);
    const own = new RangeError("own");
    expect(() =>
      limit.run(() => {
        throw own;
      }),
    ).toThrow(own);
    expect(() =>
      limit.run(() => {
        for (;;);
      }),
    ).toThrow("the core did not come back within 0.2 s");
    expect(limit.run(() => [1])).toEqual([1]);
  });

  it.each(["linkStart", "linkTake"])(
    "[CLI-227] a device on a line says that %s does not come back",
    async (name) => {
      const faults: unknown[] = [];
      const { port, take } = deafPort();
      const core = new Core(changedCore(name, ENDLESS));
      const onFault = (error: unknown): void => void faults.push(error);
      const device = new LinkDevice(core, port, { limit: new CallLimit(500), onFault });
      await device.start().catch(onFault);
      take(Uint8Array.of(0xc0));
      expect(String(faults[0])).toContain("the core did not come back within 0.5 s");
    },
  );

  it("[CLI-227] an answer without end is told at the longest that there is", async () => {
    const { port, take } = deafPort();
    const device = new LinkDevice(new Core(changedCore("linkGive", giving(7))), port);
    await device.start();
    expect(() => take(Uint8Array.of(0xc0))).toThrow("the core's answer goes on after 5274 bytes");
  });
});

describe("a core whose addresses are not in its memory", () => {
  // i32.const −1
  const NOWHERE = [0x00, 0x41, 0x7f, 0x0b];
  it.each(["addressBlock", "addressRecords", "addressActiveConfiguration"])(
    "[CLI-228] %s",
    async (name) => {
      const call = [...run(coreWith(name, NOWHERE)), "--out", path(`run ${name}`)];
      const { code, stdout, stderr } = await amberlineHere(call);
      const said = `${stdout}${stderr}`.replace(/\s+/g, " ");
      expect(said).toContain(`core gives -1 as ${name}: what stands there is not in its memory`);
      expect(code).toBe(3);
    },
  );
});
