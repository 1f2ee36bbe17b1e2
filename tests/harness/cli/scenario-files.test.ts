import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, relative } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { CallError } from "../../../harness/cli/command-errors.ts";
import { findFiles, shownPath } from "../../../harness/cli/scenario-files.ts";

const SUFFIXES = [".scenario.yaml"];
let folder = "";

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline files (1) "));
  mkdirSync(join(folder, "deep", "deeper"), { recursive: true });
  mkdirSync(join(folder, "node_modules"));
  const names = [
    "b.scenario.yaml",
    "a.scenario.yaml",
    "a.monitor.yaml",
    "deep/c.scenario.yaml",
    "deep/deeper/a1.scenario.yaml",
    "node_modules/n.scenario.yaml",
  ];
  for (const name of names) writeFileSync(join(folder, name), "");
});
afterAll(() => {
  rmSync(folder, { recursive: true });
});

function found(...args: string[]): string[] {
  const paths = args.map((one) => join(folder, one));
  return findFiles(paths, SUFFIXES).map((path) => relative(folder, path).replaceAll("\\", "/"));
}

describe("files of a call", () => {
  it.each<[string, string[], string[]]>([
    ["a file", ["b.scenario.yaml"], ["b.scenario.yaml"]],
    ["a file of any name", ["a.monitor.yaml"], ["a.monitor.yaml"]],
    [
      "a folder, searched through",
      ["."],
      [
        "a.scenario.yaml",
        "b.scenario.yaml",
        "deep/c.scenario.yaml",
        "deep/deeper/a1.scenario.yaml",
      ],
    ],
    ["a star within a folder", ["*.scenario.yaml"], ["a.scenario.yaml", "b.scenario.yaml"]],
    ["a question mark", ["deep/?.scenario.yaml"], ["deep/c.scenario.yaml"]],
    ["two stars", ["**/a*.yaml"], ["a.scenario.yaml", "deep/deeper/a1.scenario.yaml"]],
    [
      "each file once, in the order of the call",
      ["b.scenario.yaml", "*.scenario.yaml"],
      ["b.scenario.yaml", "a.scenario.yaml"],
    ],
  ])("[CLI-010] takes %s", (_name, args, files) => {
    expect(found(...args)).toEqual(files);
  });

  it.each(["missing.scenario.yaml", "missing/*.yaml", "deep/z*.yaml", "node_modules/nothing"])(
    "[CLI-011] refuses what names nothing: %s",
    (arg) => {
      expect(() => found(arg)).toThrow(CallError);
    },
  );

  it("[CLI-012] shows a path below the working folder from there, another as it was named", () => {
    expect(shownPath(join(process.cwd(), "x", "y.scenario.yaml"))).toBe("x/y.scenario.yaml");
    expect(shownPath(join("x", "..", "y.scenario.yaml"))).toBe("y.scenario.yaml");
    expect(shownPath(join(folder, "a.scenario.yaml"))).toBe(join(folder, "a.scenario.yaml"));
    expect(shownPath("../a.scenario.yaml")).toBe("../a.scenario.yaml");
    expect(shownPath("-a.scenario.yaml")).toBe("./-a.scenario.yaml");
  });
});
