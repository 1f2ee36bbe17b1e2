import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { PACKAGE_ROOT, packageVersion } from "../../../host/package-root.ts";
import { amberline } from "../../kit/amberline-command.ts";

/** Makes a process look as if its Node were another one. */
function pretendNode(version: string): string {
  const value = `{ ...process.versions, node: "${version}" }`;
  const code =
    `Object.defineProperty(process, "versions", { value: ${value} });` +
    `Object.defineProperty(process, "version", { value: "v${version}" });`;
  return `data:text/javascript,${encodeURIComponent(code)}`;
}

describe("the command's start", () => {
  it.each(["18.20.4", "20.18.3", "12.0.0"])(
    "[CLI-001] tells Node %s in one sentence that it is too old, with code 2",
    async (version) => {
      const ended = await amberline(["demo"], {
        cwd: PACKAGE_ROOT,
        preload: [pretendNode(version)],
      });
      expect(ended).toEqual({
        code: 2,
        stdout: "",
        stderr: `amberline needs Node 20.19 or later; this is v${version}.\n`,
      });
    },
  );

  it.each(["20.19.0", "22.0.0"])("[CLI-002] starts on Node %s", async (version) => {
    const preload = [pretendNode(version)];
    const ended = await amberline(["--version"], { cwd: PACKAGE_ROOT, preload });
    expect(ended).toMatchObject({ code: 0, stdout: `${packageVersion()}\n` });
  });

  it("[CLI-004] says at once on a terminal that it is at work, before it reads the rest", async () => {
    const terminal = `data:text/javascript,${encodeURIComponent("process.stderr.isTTY = true;")}`;
    const start = (preload: string[], ...args: string[]) =>
      amberline(args, { cwd: PACKAGE_ROOT, preload });
    const told = "Reading the program and the scenarios …\n";
    const missing = "none.yaml: no such file or folder\n";
    expect((await start([terminal], "run", "none.yaml")).stderr).toBe(told + missing);
    expect((await start([], "run", "none.yaml")).stderr).toBe(missing);
    expect((await start([terminal], "run", "none.yaml", "--json")).stderr).toBe(missing);
    expect((await start([terminal], "demo", "--help")).stderr).toBe("");
    const code = readFileSync(join(PACKAGE_ROOT, "harness", "cli", "amberline.ts"), "utf8");
    expect(code.indexOf("Reading the program")).toBeLessThan(
      code.indexOf('import("./program.ts")'),
    );
  });

  it("[CLI-003] its first file holds no syntax that an old Node cannot read", () => {
    const path = join(PACKAGE_ROOT, "harness", "cli", "amberline.ts");
    const code = readFileSync(path, "utf8").replace(/\/\/.*/g, "");
    expect(code).not.toMatch(/\?\?|\?\.|\bawait\b|\basync\b|^import\s|^export\s|#\w+\(|\d_\d/m);
  });
});
