// The regression suite's files and cases, for the tests that run it in this process.
import { readdirSync } from "node:fs";
import { join, relative } from "node:path";
import type { Scene } from "../../harness/scene/scene.ts";
import { readScenarioFile } from "../../harness/scenario/scenario-reader.ts";
import { ROOT } from "../repo/source-files.ts";

export const SUITE_FOLDER = join(ROOT, "harness", "scenarios");

/** Paths of the suite's scenario files, relative to its folder, forward slashes. */
export function suiteFiles(): string[] {
  return readdirSync(SUITE_FOLDER, { recursive: true, encoding: "utf8" })
    .filter((path) => path.endsWith(".scenario.yaml"))
    .map((path) => relative(SUITE_FOLDER, join(SUITE_FOLDER, path)).replaceAll("\\", "/"))
    .toSorted();
}

/** The cases of one of its files. */
export function suiteCases(file: string): Scene[] {
  return readScenarioFile(join(SUITE_FOLDER, file), { root: SUITE_FOLDER });
}
