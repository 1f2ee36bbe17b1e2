// Every reader against seeded harm to a good example: it ends well or says what is wrong.
import { spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { describe, expect, it } from "vitest";
import { TEST_SEED } from "../kit/seed.ts";
import { ROOT } from "../repo/source-files.ts";
import { bitTurned, harmed } from "./mutate.ts";
import { isPlanted, PLANT_GOOD } from "./planted.ts";
import { ownMistake } from "./own-mistake.ts";
import { READERS } from "./readers.ts";

/** All where asked for; else a seeded part. */
const COUNT = process.env["AMBERLINE_ALL_TESTS"] === "1" ? 300 : 25;
/** No input here takes a second; this long without the next one is a hang. */
const HANG_MS = 90_000;
const HEAP_MB = 256;
const GROWN_MB_MAX = 256;
const LOADER = pathToFileURL(createRequire(import.meta.url).resolve("tsx")).href;
const FUZZ = join(ROOT, "tests", "bad-input", "fuzz.ts");

interface Bounds {
  /** From one input to the next; the start of the process has HANG_MS. */
  hangMs?: number;
  heapMb?: number;
  grownMb?: number;
}

interface Fuzzed {
  count: number;
  bad: { seed: number; said: string }[];
  codes: Record<string, number>;
  grownMb: number;
}

/** Runs the fuzz in a process of its own; rejects where it hangs or dies, with how to repeat it. */
function fuzzed(
  name: string,
  firstSeed: number,
  count: number,
  { hangMs = HANG_MS, heapMb = HEAP_MB, grownMb = GROWN_MB_MAX }: Bounds = {},
): Promise<Fuzzed> {
  const args = [`--max-old-space-size=${heapMb}`, "--import", LOADER, FUZZ];
  // Its own, since a process that is killed leaves what it wrote.
  const temporary = mkdtempSync(join(tmpdir(), "amberline fuzz "));
  const numbers = [firstSeed, count, grownMb].map(String);
  const child = spawn(process.execPath, [...args, name, ...numbers], {
    cwd: ROOT,
    stdio: ["ignore", "pipe", "pipe"],
    env: { ...process.env, TMPDIR: temporary, TEMP: temporary, TMP: temporary },
  });
  return new Promise((resolve, reject) => {
    let [at, left, done, errors] = [`${firstSeed}`, "", "", ""];
    let why = "ended early";
    const hung = (): void => {
      why = "hung";
      child.kill("SIGKILL");
    };
    let timer = setTimeout(hung, HANG_MS);
    child.stderr.on("data", (piece: Buffer) => {
      errors = (errors + piece.toString()).slice(-2000);
    });
    child.stdout.on("data", (piece: Buffer) => {
      clearTimeout(timer);
      timer = setTimeout(hung, hangMs);
      const lines = (left + piece.toString()).split("\n");
      left = lines.pop()!;
      for (const line of lines) {
        if (line.startsWith("at ")) at = line.slice(3);
        if (line.startsWith("done ")) done = line.slice(5);
      }
    });
    child.on("error", reject);
    child.on("close", () => {
      clearTimeout(timer);
      rmSync(temporary, { recursive: true, force: true });
      if (done !== "") resolve(JSON.parse(done) as Fuzzed);
      else reject(new Error(`${why}; repeat: ${repeat(name, at)}\n${errors}`));
    });
  });
}

const PLANT_COUNT = 20;

/** Faults that one input brings, and what the fuzz says of it. */
const PLANTS: { name: string; bounds?: Bounds; told: RegExp }[] = [
  { name: "exception", told: /TypeError: planted: .*\n +at / },
  { name: "hang", bounds: { hangMs: 10_000 }, told: /^hung; repeat: / },
  { name: "answer that never comes", told: /^ended early; repeat: / },
  {
    name: "endless heap",
    bounds: { heapMb: 64, grownMb: 2000 },
    told: /JavaScript heap out of mem/,
  },
  { name: "endless buffers", told: /memory is beyond its bound/ },
];

/** Faults that keep a reader from reading. */
const UNREAD: [name: string, told: string][] = [
  [
    "refusal of all but the first",
    "after the harm, the good example is not taken: code 2 in place of 0",
  ],
  ["other sentence", 'with "the profile is right"'],
  ["other code", "code 0 in place of 1"],
];

const nothing = undefined as unknown as { x: unknown };
const detached = (): Uint8Array => {
  const bytes = new Uint8Array(8);
  structuredClone(bytes.buffer, { transfer: [bytes.buffer] });
  return bytes;
};
const endless = (): number => 1 + endless();
const circle: { own?: unknown } = {};
circle.own = circle;

/** Mistakes of a program, made here so that it is this engine that words them. */
const ENGINE_SAYS: Record<string, () => unknown> = {
  "a field of undefined": () => nothing.x,
  "a field of undefined set": () => (nothing.x = 1),
  "no function": () => (JSON as unknown as { y: () => void }).y(),
  "no iterable": () => [...(5 as unknown as number[])],
  "a detached buffer": () => detached().set([1]),
  "a detached buffer's view": () => new DataView(detached().buffer).getUint8(0),
  "a typed array's length": () => new Uint8Array(-1),
  "a typed array's offset": () => new Float32Array(new ArrayBuffer(8), 2),
  "an array's length": () => ([].length = -1),
  "an array set past its end": () => new Uint8Array(2).set([1, 2, 3]),
  "a view's bounds": () => new DataView(new ArrayBuffer(2)).getUint32(0),
  "a view's place": () => new DataView(new ArrayBuffer(2), 3),
  "a string's length": () => "x".repeat(2 ** 30),
  "a count below 0": () => "x".repeat(-1),
  "digits out of range": () => (1).toFixed(101),
  "precision out of range": () => (1).toPrecision(0),
  "a time that is none": () => new Date(Number.NaN).toISOString(),
  "nothing to reduce": () => ([] as number[]).reduce((a, b) => a + b),
  "calls without end": () => endless(),
  "a circle as JSON": () => JSON.stringify(circle),
  "JSON that ends": () => JSON.parse("{") as unknown,
  "JSON that is none": () => JSON.parse("x") as unknown,
  "null as an object": () => Object.keys(null as unknown as object),
  "a whole number of none": () => BigInt(1.5),
  "a buffer of no type": () => Buffer.from(5 as unknown as string),
  "a buffer's offset": () => Buffer.alloc(2).readUInt32LE(0),
  "a path of no type": () => join(5 as unknown as string),
};

const repeat = (name: string, seed: number | string): string =>
  `npx tsx tests/bad-input/fuzz.ts ${JSON.stringify(name)} ${seed} 1`;

describe("harm to a good file or line", () => {
  it.each(Object.keys(READERS))(
    "[BAD-010] %s: told or taken, no stack, no hang, bounded memory",
    { timeout: 1_200_000 },
    async (name) => {
      const { count, bad, codes, grownMb } = await fuzzed(name, TEST_SEED % 2 ** 31, COUNT);
      const said = bad.map((one) => `${repeat(name, one.seed)}\n${one.said}`);
      expect(said).toEqual([]);
      expect(count).toBe(COUNT);
      expect(grownMb).toBeLessThan(GROWN_MB_MAX);
      if (name.startsWith("frames")) return;
      // Harm that nothing notices would try no reader.
      const told = (codes["2"] ?? 0) + (codes["3"] ?? 0) + (codes["1"] ?? 0);
      expect(told).toBeGreaterThan(0);
    },
  );

  it("[BAD-011] the same seed does the same harm, another one another", () => {
    const good = Buffer.from("time,level\n0,1\n1,2\n2,2.5\n3,4\n");
    const all = Array.from({ length: 100 }, (_, seed) => harmed(good, seed).toString("latin1"));
    expect(harmed(good, 7).toString("latin1")).toBe(all[7]);
    expect(new Set(all).size).toBeGreaterThan(80);
    expect(Buffer.compare(bitTurned(good, 3), good)).not.toBe(0);
  });

  it.each(PLANTS)(
    "[BAD-012] a planted $name is found, with the command that repeats it",
    { timeout: 300_000 },
    async ({ name, bounds, told }) => {
      const bytes = Array.from({ length: PLANT_COUNT }, (_, i) => harmed(PLANT_GOOD, i + 1));
      const found = await fuzzed(name, 1, PLANT_COUNT, bounds).then(
        ({ bad }) => bad.map(({ seed, said }) => `${repeat(name, seed)}\n${said}`)[0] ?? "nothing",
        (error: unknown) => (error as Error).message,
      );
      // The first seed that does what the fault waits for.
      const seed = bytes.findIndex(isPlanted) + 1;
      expect(seed).toBeGreaterThan(1);
      expect(found).toContain(repeat(name, seed));
      expect(found).toMatch(told);
    },
  );

  it.each(Object.keys(ENGINE_SAYS))(
    "[BAD-014] the engine's own sentence of %s is found",
    (what) => {
      let said = "";
      try {
        ENGINE_SAYS[what]!();
      } catch (error) {
        said = (error as Error).message;
      }
      expect(said).not.toBe("");
      // As a command tells it, and as a terminal breaks it.
      expect(ownMistake(`the target failed at open: ${said}`)).toBeDefined();
      expect(
        ownMistake(`the target failed at open: ${said.replaceAll(" ", "\n    ")}`),
      ).toBeDefined();
    },
  );

  it.each([
    "the core did not come back within 5 s: a loop in it may have no end",
    "the target failed at sample 0: memory access out of bounds",
    "x.csv:1:1: this time is too far off: -1e+308",
    "case.json: not a whole JSON file",
    "the profile is not one of a set; the type is not known",
  ])("[BAD-014] a sentence about the input or the target is none: %s", (said) => {
    expect(ownMistake(said)).toBeUndefined();
  });

  it.each(UNREAD)(
    "[BAD-013] a reader with a planted %s cannot pass",
    { timeout: 300_000 },
    async (name, told) => {
      await expect(fuzzed(name, 1, 5)).rejects.toThrow(told);
    },
  );

  it(
    "[BAD-012] a planted stack in what a command says is found",
    { timeout: 300_000 },
    async () => {
      const { bad } = await fuzzed("stack", 1, 5);
      expect(bad[0]?.said).toMatch(/\n {4}at /);
    },
  );

  it("[BAD-012] a stack is told from a sentence that a narrow terminal breaks at a word", () => {
    expect(ownMistake("warning: the scenario ends\n    at 55 s\n")).toBeUndefined();
    expect(ownMistake("x\n    at b (file:///a.js:1:2)\n")).toMatch(/at b/);
    expect(ownMistake("x\n    at async /a/b.ts:10:20")).toMatch(/b\.ts/);
    expect(ownMistake("x\n    at node:internal/main/run:5:7\n")).toMatch(/internal/);
  });
});
