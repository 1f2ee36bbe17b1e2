// A core that is named on the command line.
import { existsSync } from "node:fs";
import { openableFileBytes } from "../recording/openable-file.ts";
import { CallError } from "./command-errors.ts";

/** Ten times what the built-in debug build takes; a recording where a core is meant is told. */
const CORE_BYTES_MAX = 4 * 1024 * 1024;

/** A core that is not there or no file is a mistake in the call, not a target that fails. */
export function checkCoreFile(path: string): void {
  if (path === "") throw new CallError("--core needs the name of a file");
  if (!existsSync(path)) throw new CallError(`${path}: no such file`);
  const bytes = openableFileBytes(path);
  if (bytes > CORE_BYTES_MAX) {
    throw new CallError(`${path}: has ${bytes} bytes; a core has at most ${CORE_BYTES_MAX}`);
  }
}
