import { closeSync, openSync, statSync } from "node:fs";
import { fileComplaint } from "../../host/input-error.ts";

/**
 * Bytes of a file that can be read.
 *
 * Errors    InputError: absent, a folder, not readable
 */
export function openableFileBytes(path: string): number {
  const status = statSync(path, { throwIfNoEntry: false });
  if (status === undefined) throw fileComplaint(path, "there is no such file");
  if (status.isDirectory()) {
    throw fileComplaint(path, "is a folder, a file is needed");
  }
  try {
    closeSync(openSync(path, "r"));
  } catch {
    throw fileComplaint(path, "may not be read by this user");
  }
  return status.size;
}
