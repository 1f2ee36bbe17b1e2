// How this program is started again from a folder: what a report prints must work as it is pasted.
import { existsSync, realpathSync } from "node:fs";
import { dirname, join, relative, resolve } from "node:path";
import { PACKAGE_ROOT } from "../../host/package-root.ts";
import { shellWord } from "./shell-word.ts";

const BUILT = join("build", "harness", "cli", "amberline.js");

function* upward(folder: string): Generator<string> {
  for (let at = resolve(folder); ; at = dirname(at)) {
    yield at;
    if (dirname(at) === at) return;
  }
}

/** Whether npx finds the command there: in the package's own folder, or where it is installed. */
function isFoundByNpx(folder: string): boolean {
  for (const at of upward(folder)) {
    if (existsSync(join(at, "node_modules", ".bin", "amberline"))) return true;
    const isProject = existsSync(join(at, "package.json")) || existsSync(join(at, "node_modules"));
    if (isProject) return realpathSync(at) === realpathSync(PACKAGE_ROOT);
  }
  return false;
}

/**
 * The words that start this program from a folder, ready for a shell.
 *
 * Shape     "npx amberline" where npx finds it, else node with the built command's path
 */
export function commandStart(folder: string = process.cwd()): string {
  if (isFoundByNpx(folder)) return "npx amberline";
  const built = join(PACKAGE_ROOT, BUILT);
  const inside = relative(folder, built);
  return `node ${shellWord(inside.startsWith("..") ? built : inside)}`;
}
