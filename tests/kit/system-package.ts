// Tests that need a program of the system: skipped in one line where it is missing, and an error where
// AMBERLINE_ALL_TESTS=1 says that nothing may be left out.
import { findCommand } from "../../host/board/tools.ts";

/**
 * Path of a command of a Debian package, or undefined after telling what is skipped.
 *
 * Errors    throws where the command is missing and AMBERLINE_ALL_TESTS=1
 */
export function systemCommand(command: string, packageName: string): string | undefined {
  const path = findCommand(command);
  if (path !== undefined) return path;
  const line = `needs ${command} (Debian package ${packageName})`;
  if (process.env["AMBERLINE_ALL_TESTS"] === "1") throw new Error(line);
  process.stdout.write(`skipped: ${line}\n`);
  return undefined;
}
