// Adapters of a user's own that give what they must not, leave something open, or throw beside a call.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { amberline } from "../../kit/amberline-command.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { ANALOG_BOX, ANALOG_DEVICE, BOX_PROFILE } from "../../kit/simulated-box.ts";
import { ROOT } from "../../repo/source-files.ts";

let folder = "";
const path = (name: string): string => join(folder, name);
const from = (file: string): string => JSON.stringify(pathToFileURL(file).href);

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline adapter "));
  writeFileSync(path("plain.monitor.yaml"), BOX_PROFILE);
  writeFileSync(
    path("step.scenario.yaml"),
    "question: What is shown?\nprofile: plain.monitor.yaml\nduration: 6 s\nspeed: 2400 r/min\n" +
      "vibration:\n  - { order: 1, amplitude: 0.8 in/s pk }\n",
  );
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** The worked example's box, with some of what it gives in other words. */
function box(name: string, changes: string, beside = ""): string {
  writeFileSync(
    path(`${name}.mjs`),
    `import { boxWith } from ${from(ANALOG_BOX)};\n${beside}\nconst made = boxWith({});\n` +
      `const box = { facts: () => made.facts(), play: (...a) => made.play(...a), ` +
      `close: () => made.close(), ${changes} };\nexport const makeLevelBox = () => box;\n`,
  );
  return path(`${name}.mjs`);
}

/** The worked example's device, with some of what it gives in other words. */
function device(name: string, changes: string): string {
  const ascii = join(ROOT, "harness", "adapter", "examples", "ascii-lines.mjs");
  const methods = ["open", "configure", "feed", "finish", "reset", "close"];
  const calls = methods.map((one) => `${one}: (...a) => made.${one}(...a)`).join(", ");
  writeFileSync(
    path(`${name}.mjs`),
    `import * as ascii from ${from(ascii)};\nconst made = ascii.makeTarget();\n` +
      `export const makeTarget = () => ({ ${calls}, ${changes} });\n`,
  );
  return path(`${name}.mjs`);
}

const call = (module: string, isBox = true): string[] => [
  "run",
  path("step.scenario.yaml"),
  "--target",
  `module:${module}`,
  ...(isBox ? ["--device", ANALOG_DEVICE] : []),
  "--replace",
  "--out",
  path("out"),
];

describe("an adapter that gives what it must not", () => {
  const readings = (change: string): string =>
    `play: async (...a) => (await made.play(...a)).map((one, i) => i === 3 ? ${change} : one)`;

  it.each([
    ["facts", "facts: async () => ({ name: 'a' })", "facts(): identity must be text, not nothing"],
    [
      "nan",
      readings("{ ...one, shown: NaN }"),
      "play(): reading 4: shown must be a number, not NaN",
    ],
    ["text", readings("{ ...one, timeS: '1' }"), "play(): reading 4: timeS must be a number"],
    ["back", readings("{ ...one, timeS: 0 }"), "play(): reading 4: timeS is 0, before the 0."],
    ["missing", readings("undefined"), "play(): reading 4 must be an object with timeS"],
    ["speed", readings("{ ...one, isValid: true, speedRevPerS: NaN }"), "speedRevPerS must be a"],
  ])("[ADAPT-010] a box: %s", async (name, changes, said) => {
    const module = box(name, changes);
    const { code, stdout, stderr } = await amberlineHere(call(module));
    const all = (stdout + stderr).replace(/\s+/g, " ");
    expect(all).toContain(`${name}.mjs: `);
    expect(all).toContain(said);
    expect(all).not.toMatch(/ at .*:\d+:\d+|mistake of its own/);
    expect(code).toBe(3);
  });

  it.each([
    ["open", "open: async () => ({ identity: 'a' })", "open(): sampleFormats must be a list"],
    ["configure", "configure: async () => undefined", "configure() must be an object with bytes"],
    ["feed", "feed: async () => 'x'", 'feed() must be bytes (a Uint8Array), not the text "x"'],
    [
      "finish",
      "finish: async () => ({ records: new Uint8Array(0), counters: { blocks: NaN } })",
      "finish(): counters: blocks must be a whole number, 0 or more, not NaN",
    ],
    [
      "abort",
      "feed: async () => { throw new DOMException('lost', 'AbortError'); }",
      "the target failed at sample 0: it aborted: lost",
    ],
  ])("[ADAPT-011] a whole device: %s", async (name, changes, said) => {
    const { code, stdout, stderr } = await amberlineHere(call(device(name, changes), false));
    const all = (stdout + stderr).replace(/\s+/g, " ");
    expect(all).toContain(said);
    if (name !== "abort") expect(all).toContain(`${name}.mjs: ${said}`);
    expect(all).not.toMatch(/ at .*:\d+:\d+|mistake of its own|Interrupted/);
    expect(code).toBe(3);
  });
});

describe("an adapter that does not end", () => {
  it.each([
    ["a timer", "setInterval(() => {}, 1000);"],
    ["a server", "import { createServer } from 'node:net';\ncreateServer().listen(0);"],
  ])("[ADAPT-020] %s left open does not keep the command up", async (name, beside) => {
    const module = box(name.replace(" ", "-"), "", beside);
    const { code, stdout, stderr } = await amberline(call(module), { cwd: folder });
    expect(stdout).toContain("1 case: 1 right, none wrong.");
    expect(stderr).toContain("The adapter left something open (a timer, a port)");
    expect(code).toBe(0);
  });

  it("[ADAPT-020] what closes in time is not told", async () => {
    const module = box("closes", "", "setTimeout(() => {}, 50);");
    const { code, stderr } = await amberline(call(module), { cwd: folder });
    expect(stderr).not.toContain("left something open");
    expect(code).toBe(0);
  });

  it("[ADAPT-021] one that throws when the run has ended is a sentence, with 3", async () => {
    const late = "close: async () => void setTimeout(() => { throw new Error('late'); }, 200)";
    const { code, stdout, stderr } = await amberline(call(box("late", late)), { cwd: folder });
    expect(stdout).toContain("1 case: 1 right");
    expect(stderr).toContain("The adapter threw when the run had ended: late");
    expect(stderr).not.toMatch(/\n\s+at /);
    expect(code).toBe(3);
  });
});
