// A file that a command is asked to write: tried before the work begins.
import { closeSync, openSync, rmSync, statSync } from "node:fs";
import { systemReason } from "../../host/system-error.ts";
import { CallError } from "./command-errors.ts";

/** Errors: CallError where it has no name, is no file, or its place cannot be written to. */
export function checkOutputFile(option: string, path: string): void {
  if (path === "") throw new CallError(`--${option} needs the name of a file`);
  try {
    const before = statSync(path, { throwIfNoEntry: false });
    if (before !== undefined && !before.isFile()) {
      throw new CallError(`${path}: is a folder, a pipe or a device; --${option} needs a file`);
    }
    // An access right may stand where the file system refuses all the same: open once.
    closeSync(openSync(path, "a"));
    if (before === undefined) rmSync(path);
  } catch (error) {
    if (error instanceof CallError) throw error;
    const reason = systemReason((error as NodeJS.ErrnoException).code);
    throw new CallError(`${path}: cannot be written (${reason})`, { cause: error });
  }
}
