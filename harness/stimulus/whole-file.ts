// A file that comes into being whole, and never in the place of one that is there.
import { existsSync, linkSync, renameSync, rmSync } from "node:fs";
import { ResultsError } from "../results/case-file.ts";

/** File systems that know no second name for a file say one of these. */
const NO_LINKS = new Set(["EPERM", "ENOTSUP", "EOPNOTSUPP", "ENOSYS", "EMLINK"]);

/** Errors: ResultsError where one of the files is there. */
export function refuseExisting(paths: readonly string[]): void {
  for (const path of paths) {
    if (existsSync(path)) {
      throw new ResultsError(`${path}: is there already; it is not written over`);
    }
  }
}

/**
 * Gives a finished part its name.
 *
 * Errors    ResultsError where a file of this name has come meanwhile; of the file system
 */
export function publish(part: string, path: string): void {
  try {
    // Unlike a renaming, a second name is refused where there is one.
    linkSync(part, path);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === "EEXIST") refuseExisting([path]);
    if (code === undefined || !NO_LINKS.has(code)) throw error;
    refuseExisting([path]);
    renameSync(part, path);
    return;
  }
  rmSync(part);
}
