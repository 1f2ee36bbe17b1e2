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
    expect(listed.filter((path) => /\.ts$|^tests\/|^assembly\//.test(path))).toEqual([]);
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
    expect(ran.stderr).toBe("");
    expect(ran.status).toBe(0);
  });
});
