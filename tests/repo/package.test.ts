// The package as a user gets it: packed, installed into a folder whose path has a space, and used.
import { execFileSync, spawnSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { isPosixBoardHere } from "../kit/board-tools.ts";
import { ROOT } from "./source-files.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline package "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** npm's own script, so that no shell is needed on any system. */
function npmScript(): string {
  const given = process.env["npm_execpath"];
  if (given !== undefined && given.endsWith(".js")) return given;
  const beside = join(
    process.execPath,
    "..",
    "..",
    "lib",
    "node_modules",
    "npm",
    "bin",
    "npm-cli.js",
  );
  return existsSync(beside)
    ? beside
    : join(process.execPath, "..", "node_modules", "npm", "bin", "npm-cli.js");
}

function npm(args: string[], cwd: string): string {
  return execFileSync(process.execPath, [npmScript(), ...args], {
    cwd,
    encoding: "utf8",
    stdio: "pipe",
  });
}

function amberline(args: string[]): { status: number | null; stdout: string; stderr: string } {
  const bin = join(folder, "node_modules", "amberline", "build", "harness", "cli", "amberline.js");
  return spawnSync(process.execPath, [bin, ...args], { cwd: folder, encoding: "utf8" });
}

describe("the package", () => {
  let listed: string[] = [];

  beforeAll(() => {
    const [packed] = JSON.parse(
      npm(["pack", "--json", "--ignore-scripts", "--pack-destination", folder], ROOT),
    ) as { filename: string; files: { path: string }[] }[];
    listed = packed!.files.map((file) => file.path);
    writeFileSync(join(folder, "package.json"), '{ "name": "user", "private": true }\n');
    npm(["install", "--no-audit", "--no-fund", "--prefer-offline", packed!.filename], folder);
  });

  it("[REPO-040] holds built wasm, JavaScript, schemas and scenarios, and no sources or tests", () => {
    expect(listed).toContain("build/core/release.wasm");
    expect(listed).toContain("build/harness/cli/amberline.js");
    expect(listed.some((path) => path.endsWith(".schema.json"))).toBe(true);
    expect(listed.some((path) => path.endsWith(".scenario.yaml"))).toBe(true);
    expect(listed).toContain("build/core/board.wasm");
    expect(listed).toContain("host/board/mps2-an386/memory.ld");
    const sources = listed.filter((path) => /\.ts$|^tests\/|^assembly\//.test(path));
    // What a user's own adapter is written against, and nothing more.
    expect(sources.filter((path) => !path.endsWith(".d.ts"))).toEqual([]);
    expect(sources.toSorted()).toEqual([
      "build/harness/adapter/adapter.d.ts",
      "build/harness/target/target.d.ts",
      "build/host/profile/types.d.ts",
      "build/host/record-types.d.ts",
    ]);
  });

  it("[ADAPT-030] a user's TypeScript sees what an adapter must give", () => {
    const shown = (reading: string, mark: string): string =>
      `import type { AdapterModule, LevelBox, Reading, Stimulus } from "amberline/adapter";
class Box implements LevelBox {
  async facts() { return { name: "Box", identity: "no. 1", clock: "own" as const }; }
  async play(stimulus: Stimulus, _signal: AbortSignal): Promise<Reading[]> {
    const filter = stimulus.profile.filters[0]!.name;
    ${mark}
    return [${reading}];
  }
  async close() {}
}
export const makeLevelBox: NonNullable<AdapterModule["makeLevelBox"]> = () => new Box();
`;
    const right = "{ timeS: 1, filter, shown: 2, isCaution: false }";
    const wrong = '{ timeS: "1", filter, shown: 2 }';
    writeFileSync(join(folder, "right.mts"), shown(right, ""));
    writeFileSync(join(folder, "told.mts"), shown(wrong, "// @ts-expect-error a time is a number"));
    writeFileSync(join(folder, "wrong.mts"), shown(wrong, ""));
    const tsc = join(ROOT, "node_modules", "typescript", "bin", "tsc");
    const options = ["--noEmit", "--strict", "--module", "nodenext", "--target", "es2023"];
    const compiled = (names: string[]) =>
      spawnSync(
        process.execPath,
        [tsc, ...options, "--lib", "es2023,dom", "--skipLibCheck", "false", ...names],
        { cwd: folder, encoding: "utf8" },
      );
    expect(compiled(["right.mts", "told.mts"])).toMatchObject({ stdout: "", status: 0 });
    const { stdout, status } = compiled(["wrong.mts"]);
    expect(stdout).toMatch(/wrong\.mts\(\d+,\d+\): error TS2322/);
    expect(status).not.toBe(0);
  });

  it("[REPO-041] writes, checks and runs a scenario in a folder whose path has a space", () => {
    mkdirSync(join(folder, "my work"));
    const written = amberline(["new", "my work"]);
    expect(written.stderr).toBe("");
    expect(written.status).toBe(0);
    const checked = amberline(["check", "my work"]);
    expect(checked.stderr).toBe("");
    expect(checked.status).toBe(0);
    const ran = amberline(["run", "my work", "--out", "results here"]);
    expect(ran.stderr).toBe("");
    expect(ran.status).toBe(0);
    const report = readFileSync(join(folder, "results here", "report.html"), "utf8");
    expect(report).toContain("Every number and every caution was right.");
  });

  it.skipIf(!isPosixBoardHere())("[REPO-042] builds and runs the C on this machine", () => {
    const ran = amberline(["run", "my work", "--target", "board:posix", "--out", "in C"]);
    // How far it is, and no more.
    for (const line of ran.stderr.trimEnd().split("\n")) expect(line).toMatch(/simulated|^$/);
    expect(ran.status).toBe(0);
  });
});
