import { closeSync, openSync, statSync } from "node:fs";
import { fileComplaint } from "../../host/input-error.ts";
import { systemReason } from "../../host/system-error.ts";

/**
 * Bytes of a file that can be read.
 *
 * Errors    InputError: absent, a folder, not readable
 */
export function openableFileBytes(path: string): number {
  let status: ReturnType<typeof statSync>;
  try {
    status = statSync(path, { throwIfNoEntry: false });
  } catch (error) {
    throw fileComplaint(
      path,
      `cannot be opened (${systemReason((error as NodeJS.ErrnoException).code)})`,
    );
  }
  if (status === undefined) throw fileComplaint(path, "there is no such file");
  if (status.isDirectory()) {
    throw fileComplaint(path, "is a folder, a file is needed");
  }
  // A pipe would keep us waiting for a writer, and cannot be read twice.
  if (!status.isFile()) throw fileComplaint(path, "is not a regular file");
  try {
    closeSync(openSync(path, "r"));
  } catch {
    throw fileComplaint(path, "may not be read by this user");
  }
  return status.size;
}
