// Records that are none, in a folder that a run kept and from a core that is held against another.
import { mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { RECORD_BYTES, RECORD_KIND } from "../../shared/layout.ts";
import { amberlineHere } from "../kit/amberline-here.ts";
import { changedCore, giving } from "../kit/changed-core.ts";
import { scenarioText, writeScenarios } from "../kit/small-scenario.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline kept "));
const [good, results, junk] = ["good.scenario.yaml", "results", "junk.wasm"].map((name) =>
  join(folder, name),
) as [string, string, string];
let records = "";
let kept = Buffer.alloc(0);

beforeAll(async () => {
  writeScenarios(folder, { good: scenarioText({ duration: "1.2 s" }) });
  const run = ["run", good, "--jobs", "1", "--keep-records", "--out", results];
  expect((await amberlineHere(run)).code).toBe(0);
  const cases = join(results, "cases");
  records = join(
    cases,
    readdirSync(cases).find((name) => name.endsWith(".records"))!,
  );
  kept = readFileSync(records);
  // A record from the first block on, before any was written.
  writeFileSync(junk, changedCore("recordCount", giving(1)));
});
beforeEach(() => {
  rmSync(records, { recursive: true, force: true });
  writeFileSync(records, kept);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const compared = async (...sides: string[]): Promise<{ code: number | null; said: string }> => {
  const { code, stdout, stderr } = await amberlineHere(["compare", ...sides, good]);
  return { code, said: `${stdout}${stderr}`.replace(/\s+/g, " ") };
};

describe("records that are none", () => {
  it.each([
    ["the first", 0],
    ["another", 2],
  ])("[BAD-015] in a folder are a broken input: the file, and %s by its number", async (_, at) => {
    const harmed = Buffer.from(kept);
    harmed[at * RECORD_BYTES + RECORD_KIND] = 254;
    writeFileSync(records, harmed);
    const byte = at * RECORD_BYTES;
    const told = `${records}: record ${at}, from byte ${byte}: kind 254 is not known`;
    for (const sides of [
      [results, "core"],
      ["core", results],
      [results, results],
    ]) {
      const { code, said } = await compared(...sides);
      expect(said).toContain(told);
      expect(said).not.toMatch(/case "good"|\b[AB] failed/);
      expect(code).toBe(2);
    }
  });

  it("[BAD-015] beyond the end of the other side, too", async () => {
    writeFileSync(records, Buffer.concat([kept, Buffer.alloc(RECORD_BYTES, 254)]));
    const { code, said } = await compared("core", results);
    const count = kept.length / RECORD_BYTES;
    expect(said).toContain(`${records}: record ${count}, from byte ${kept.length}: kind 254`);
    expect(code).toBe(2);
  });

  it("[BAD-015] a folder in the file's place", async () => {
    rmSync(records);
    mkdirSync(records);
    const { code, said } = await compared(results, "core");
    expect(said).toContain(`${records}: cannot be read (it is a folder, a file is needed)`);
    expect(code).toBe(2);
  });

  it.each([[{}], [null], [[5]]])(
    "[BAD-015] a run's note whose file is %j is left out",
    async (file) => {
      writeScenarios(folder, { other: scenarioText({ duration: "1 s" }) });
      writeFileSync(
        join(results, "run.json"),
        JSON.stringify({ cases: [{ file }, { file: "a.b" }] }),
      );
      const other = join(folder, "other.scenario.yaml");
      const { code, stderr } = await amberlineHere(["compare", results, "core", other]);
      expect(stderr.replace(/\s+/g, " ")).toMatch(/after the two sides \(a\.b\)\s*$/);
      expect(code).toBe(2);
    },
  );

  it("[BAD-016] from a core are its failure, and its side is named", async () => {
    const told = 'failed at case "good": record 0, from byte 0: kind 0 is not known';
    for (const [a, b, side] of [
      [junk, "core", "A"],
      ["core", junk, "B"],
      [results, junk, "B"],
    ] as const) {
      const { code, said } = await compared(a, b);
      expect(said).toContain(`${side} ${told}`);
      expect(code).toBe(3);
    }
  });
});
