import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { commandStart } from "../../../harness/cli/command-start.ts";
import { PACKAGE_ROOT } from "../../../host/package-root.ts";

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline start "));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe("the words that start the program", () => {
  it("[CLI-087] are those of npx in a clone, and below it", () => {
    expect(commandStart(PACKAGE_ROOT)).toBe("npx amberline");
    expect(commandStart(join(PACKAGE_ROOT, "harness", "scenarios"))).toBe("npx amberline");
  });

  it("[CLI-088] are those of npx where the package is installed, and below it", () => {
    const project = join(folder, "project");
    mkdirSync(join(project, "node_modules", ".bin"), { recursive: true });
    mkdirSync(join(project, "deep"));
    writeFileSync(join(project, "node_modules", ".bin", "amberline"), "");
    expect(commandStart(project)).toBe("npx amberline");
    expect(commandStart(join(project, "deep"))).toBe("npx amberline");
  });

  it("[CLI-089] name the built command where npx would not find it", () => {
    const other = join(folder, "other");
    mkdirSync(other);
    writeFileSync(join(other, "package.json"), "{}");
    const built = join(PACKAGE_ROOT, "build", "harness", "cli", "amberline.js");
    for (const one of [folder, other]) {
      expect(commandStart(one)).toMatch(/^node ('?)\/.*\/build\/harness\/cli\/amberline\.js\1$/);
      expect(commandStart(one)).toContain(built);
    }
  });
});
