// The golden set of the numerics: what the firmware answers to the whole suite, to the bit. Made anew
// by `npx tsx tests/kit/golden-set.ts`: then NUMERICS_VERSION moves, and the commit says why.
import { createHash } from "node:crypto";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { NUMERICS_VERSION } from "../../shared/layout.ts";
import { ROOT } from "../repo/source-files.ts";
import { type Build, type Played, playScene } from "./play-scene.ts";
import { suiteCases, suiteFiles } from "./regression-suite.ts";

const PATH = join(ROOT, "tests", "harness", "scenarios", "golden.json");

export interface GoldenSet {
  numericsVersion: number;
  /** By file of the suite: SHA-256 over all its cases, first 16 hex digits. */
  digests: Record<string, string>;
}

export function goldenSet(): GoldenSet {
  return JSON.parse(readFileSync(PATH, "utf8")) as GoldenSet;
}

/** Digest of what came back for a file's cases: all records, all counters. */
export function digestOf(cases: readonly Played[]): string {
  const hash = createHash("sha256");
  for (const { records, counters } of cases) {
    hash.update(records);
    hash.update(JSON.stringify(counters));
  }
  return hash.digest("hex").slice(0, 16);
}

export async function digestOfFile(file: string, build: Build): Promise<string> {
  const cases: Played[] = [];
  for (const scene of suiteCases(file)) cases.push(await playScene(scene, { build }));
  return digestOf(cases);
}

if (process.argv[1] === import.meta.filename) {
  const digests: Record<string, string> = {};
  for (const file of suiteFiles()) digests[file] = await digestOfFile(file, "release");
  const before = goldenSet();
  const moved = Object.keys(digests).filter((file) => {
    const known = before.digests[file];
    return known !== undefined && known !== digests[file];
  });
  // New files may come; what is known changes only with the version.
  if (moved.length > 0 && before.numericsVersion === NUMERICS_VERSION) {
    throw new Error(`NUMERICS_VERSION has not moved, and these have: ${moved.join(", ")}`);
  }
  const made: GoldenSet = { numericsVersion: NUMERICS_VERSION, digests };
  writeFileSync(PATH, `${JSON.stringify(made, undefined, 2)}\n`);
}
