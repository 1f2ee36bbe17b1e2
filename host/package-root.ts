// Where the package lies, whether its sources run or what was built from them.
import { existsSync, readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

/** The folder of amberline's own package.json, found upward from `start`. */
export function findPackageRoot(start: string): string {
  for (let folder = start; ; folder = dirname(folder)) {
    const manifestPath = join(folder, "package.json");
    if (existsSync(manifestPath)) {
      const { name } = JSON.parse(readFileSync(manifestPath, "utf8")) as { name?: string };
      if (name === "amberline") return folder;
    }
    if (dirname(folder) === folder) throw new Error(`no package root above ${start}`);
  }
}

export const PACKAGE_ROOT = findPackageRoot(dirname(fileURLToPath(import.meta.url)));

/** Version as package.json states it. */
export function packageVersion(): string {
  const text = readFileSync(join(PACKAGE_ROOT, "package.json"), "utf8");
  return (JSON.parse(text) as { version: string }).version;
}

/** The built firmware, scalar: the file by whose bytes the built-in firmware is known. */
export function releaseCorePath(): string {
  return join(PACKAGE_ROOT, "build", "core", "release.wasm");
}

/** The same with SIMD. */
export function simdCorePath(): string {
  return join(PACKAGE_ROOT, "build", "core", "simd.wasm");
}
