// The files of a folder of results, to be compared with another's.
import { readFileSync, readdirSync, statSync } from "node:fs";
import { join } from "node:path";
import { expect } from "vitest";

/** Every file but run.json, which holds times and paths, by its path in the folder. */
function filesOf(root: string): Map<string, string> {
  const names = readdirSync(root, { recursive: true, encoding: "utf8" });
  const files = names.filter((name) => statSync(join(root, name)).isFile() && name !== "run.json");
  return new Map(files.map((name) => [name, readFileSync(join(root, name), "latin1")] as const));
}

/** Two folders hold the same results, byte for byte. */
export function expectSameResults(one: string, other: string): void {
  const [a, b] = [filesOf(one), filesOf(other)];
  expect([...b.keys()].toSorted()).toEqual([...a.keys()].toSorted());
  for (const [name, bytes] of a) expect(b.get(name) === bytes, name).toBe(true);
  expect(a.size).toBeGreaterThan(3);
}
