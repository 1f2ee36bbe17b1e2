// The files that the repo rules read: what git tracks or would track, never build output.
import { execFileSync } from "node:child_process";
import { existsSync, readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

/** Absolute path of the project's root. */
export const ROOT = dirname(dirname(dirname(fileURLToPath(import.meta.url))));

/** Paths relative to the root, forward slashes, of all files that belong to the project. */
export function projectFiles(): string[] {
  const listed = execFileSync("git", ["ls-files", "-co", "--exclude-standard"], {
    cwd: ROOT,
    encoding: "utf8",
  });
  return listed
    .split("\n")
    .filter((path) => path !== "" && existsSync(join(ROOT, path)))
    .sort();
}

export function readProjectFile(path: string): string {
  return readFileSync(join(ROOT, path), "utf8");
}
