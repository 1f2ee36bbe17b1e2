// Every reader against seeded harm to a good example: it ends well or says what is wrong.
import { spawn } from "node:child_process";
import { createRequire } from "node:module";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { describe, expect, it } from "vitest";
import { TEST_SEED } from "../kit/seed.ts";
import { ROOT } from "../repo/source-files.ts";
import { bitTurned, harmed } from "./mutate.ts";
import { READERS } from "./readers.ts";

/** All where asked for; else a seeded part. */
const COUNT = process.env["AMBERLINE_ALL_TESTS"] === "1" ? 300 : 25;
/** No input here takes a second; this long without the next one is a hang. */
const HANG_MS = 90_000;
const HEAP_MB = 256;
const GROWN_MB_MAX = 256;
const LOADER = pathToFileURL(createRequire(import.meta.url).resolve("tsx")).href;
const FUZZ = join(ROOT, "tests", "bad-input", "fuzz.ts");

interface Fuzzed {
  count: number;
  bad: { seed: number; said: string }[];
  codes: Record<string, number>;
  grownMb: number;
}

/** Runs the fuzz in a process of its own; rejects where it hangs or dies, with how to repeat it. */
function fuzzed(name: string, firstSeed: number, count: number): Promise<Fuzzed> {
  const args = [`--max-old-space-size=${HEAP_MB}`, "--import", LOADER, FUZZ];
  const child = spawn(process.execPath, [...args, name, String(firstSeed), String(count)], {
    cwd: ROOT,
    stdio: ["ignore", "pipe", "pipe"],
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
      timer = setTimeout(hung, HANG_MS);
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
      if (done !== "") resolve(JSON.parse(done) as Fuzzed);
      else reject(new Error(`${why}; repeat: ${repeat(name, at)}\n${errors}`));
    });
  });
}

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
      // Harm that nothing notices, or that nothing survives, would try no reader.
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

  it("[BAD-012] an exception that is no complaint is found, and a hang would be", async () => {
    await expect(fuzzed("no such reader", 1, 1)).rejects.toThrow(
      'ended early; repeat: npx tsx tests/bad-input/fuzz.ts "no such reader" 1 1',
    );
  });
});
