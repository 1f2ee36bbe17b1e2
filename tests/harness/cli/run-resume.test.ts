import { mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

let folder = "";
const path = (...names: string[]): string => join(folder, ...names);
const file = (name: string): string => path(`${name}.scenario.yaml`);
const OUT = (): string => path("held");
const run = (...args: string[]) => amberlineHere(["run", ...args, "--out", OUT()]);
const resume = (...args: string[]) => run(...args, "--resume", "--json");

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "amberline resume "));
  writeScenarios(folder, {
    one: scenarioText({ duration: "3 s" }),
    two: scenarioText({ amplitude: "2 in/s pk", duration: "3 s" }),
    other: scenarioText({ amplitude: "3 in/s pk", duration: "3 s" }),
  });
  expect((await run(file("one"), file("two"))).code).toBe(0);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Every byte that the folder holds, by file. */
function held(): Record<string, string> {
  return Object.fromEntries(
    readdirSync(OUT(), { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile())
      .map(({ parentPath, name }) => [name, readFileSync(join(parentPath, name), "latin1")]),
  );
}

describe("amberline run --resume with another call", () => {
  it.each<[string, () => string[], string]>([
    ["fewer files", () => [file("one")], '1 finished case ("two") that this call does not have'],
    [
      "fewer cases by --only",
      () => [file("one"), file("two"), "--only", "two"],
      '1 finished case ("one") that this call does not have',
    ],
    ["other files", () => [file("other")], "2 finished cases ("],
    [
      "another seed",
      () => [file("one"), file("two"), "--seed", "2"],
      "of another seed than this call's",
    ],
    [
      "another target",
      () => [
        file("one"),
        file("two"),
        "--target",
        "module:harness/adapter/examples/ascii-lines.mjs",
      ],
      "of another target than this call's",
    ],
  ])("[CLI-198] %s is refused in one sentence, and nothing is lost", async (_name, args, words) => {
    const before = held();
    const { code, stdout, stderr } = await resume(...args());
    expect([code, stdout]).toEqual([2, ""]);
    expect(stderr).toContain(words);
    expect(stderr).toContain("the same call as before goes on, --out names another folder");
    expect(held()).toEqual(before);
  });

  it("[CLI-199] more files, and a case changed since, go on; only what is new is run", async () => {
    const files = [file("one"), file("two"), file("other")];
    const more = await resume(...files);
    expect([more.code, JSON.parse(more.stdout)]).toMatchObject([
      0,
      { resumedCount: 2, rightCount: 3 },
    ]);
    writeScenarios(folder, { two: scenarioText({ amplitude: "1.5 in/s pk", duration: "3 s" }) });
    const changed = await resume(...files);
    expect([changed.code, JSON.parse(changed.stdout)]).toMatchObject([
      0,
      { resumedCount: 2, rightCount: 3 },
    ]);
    expect(readdirSync(path("held", "cases"))).toHaveLength(3);
  });
});
