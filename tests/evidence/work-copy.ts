// A copy of the project in which the firmware is another one: counted, or changed. Tests run in it as
// they run here; node_modules is shared.
import { type SpawnSyncReturns, spawnSync } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { installedCommand } from "../../host/installed-command.ts";
import { ROOT } from "../repo/source-files.ts";

const COPIED = [
  "assembly",
  "host",
  "harness",
  "shared",
  "tests",
  "build",
  "asconfig.json",
  "package.json",
  "tsconfig.json",
  "DEVELOPERS.md",
  "README.md",
];

export class WorkCopy {
  readonly folder = mkdtempSync(join(tmpdir(), "amberline-copy-"));

  constructor() {
    for (const name of COPIED) {
      cpSync(join(ROOT, name), join(this.folder, name), { recursive: true });
    }
    // The built-in firmware is then the scalar one, which is what is counted and changed.
    rmSync(join(this.folder, "build", "core", "simd.wasm"), { force: true });
    symlinkSync(join(ROOT, "node_modules"), join(this.folder, "node_modules"), "junction");
  }

  /** Puts a file in the copy. */
  put(path: string, text: string | Uint8Array): void {
    mkdirSync(dirname(join(this.folder, path)), { recursive: true });
    writeFileSync(join(this.folder, path), text);
  }

  /** Builds the firmware of the copy. Errors: throws what the compiler said. */
  build(targets: readonly string[], more: readonly string[] = []): void {
    const asc = installedCommand("assemblyscript", "asc");
    for (const target of targets) {
      const done = this.#node([asc, "--target", target, ...more]);
      if (done.status !== 0) throw new Error(done.stderr);
    }
  }

  /** Runs tests of the copy; what they say is handed through where `isLoud`. */
  test(paths: readonly string[], options: TestOptions): SpawnSyncReturns<string> {
    const vitest = installedCommand("vitest", "vitest");
    const config = options.config ?? "tests/vitest.config.ts";
    const bail = options.isFirstEnough === true ? ["--bail", "1"] : [];
    const args = [vitest, "run", "--config", config, ...bail, ...paths];
    return this.#node(args, options.env, options.isLoud, options.timeoutMs);
  }

  remove(): void {
    rmSync(this.folder, { recursive: true, force: true });
  }

  #node(
    args: readonly string[],
    env: Record<string, string> = {},
    isLoud = false,
    timeout?: number,
  ): SpawnSyncReturns<string> {
    return spawnSync(process.execPath, args, {
      cwd: this.folder,
      encoding: "utf8",
      env: { ...process.env, NO_COLOR: "1", ...env },
      stdio: isLoud ? "inherit" : "pipe",
      killSignal: "SIGKILL",
      ...(timeout === undefined ? {} : { timeout }),
    });
  }
}

export interface TestOptions {
  config?: string;
  env?: Record<string, string>;
  isLoud?: boolean;
  /** The first test that fails ends the run. */
  isFirstEnough?: boolean;
  timeoutMs?: number;
}
