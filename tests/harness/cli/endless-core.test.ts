// A firmware named by a user that does not come back, wherever it is called.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { CallLimit } from "../../../host/call-limit.ts";
import { Core } from "../../../host/core.ts";
import { LinkDevice } from "../../../host/link/device.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { changedCore, ENDLESS, giving } from "../../kit/changed-core.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline endless "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const path = (name: string): string => join(folder, name);
const coreWith = (name: string, body: readonly number[]): string => {
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
    const endless = coreWith("process", ENDLESS);
    const ended = await amberlineHere(["run", ...files, "--core", endless, ...more, "--replace"]);
    expect(ended.code).toBe(3);
    const { failures } = JSON.parse(ended.stdout) as { failures: { name: string }[] };
    expect(failures.map(({ name }) => name)).toEqual(["a", "b"]);
  });

  it("[CLI-226] a time-out without such a core is a wrong call", async () => {
    for (const call of [["run", path("good.scenario.yaml")], ["measure"], ["target"]]) {
      const { code, stderr } = await amberlineHere([...call, "--time-out", "2 s"]);
      expect([code, stderr]).toEqual([2, expect.stringContaining("--time-out goes with --core")]);
    }
  });
});

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
      let take: (bytes: Uint8Array) => void = () => {};
      const port = {
        open: async () => {},
        close: async () => {},
        onClosed: () => {},
        onBytes: (taker: typeof take) => void (take = taker),
        write: () => {},
      };
      const core = new Core(changedCore(name, ENDLESS));
      const onFault = (error: unknown): void => void faults.push(error);
      const device = new LinkDevice(core, port, { limit: new CallLimit(500), onFault });
      await device.start().catch(onFault);
      take(Uint8Array.of(0xc0));
      expect(String(faults[0])).toContain("the core did not come back within 0.5 s");
    },
  );

  it("[CLI-227] an answer without end is told at the longest that there is", async () => {
    let take: (bytes: Uint8Array) => void = () => {};
    const port = {
      open: async () => {},
      close: async () => {},
      onClosed: () => {},
      onBytes: (taker: typeof take) => void (take = taker),
      write: () => {},
    };
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
