// Folders for results: made, and tried, before the work begins.
import { existsSync, mkdirSync, rmSync, statSync, writeFileSync } from "node:fs";
import { dirname, join, resolve } from "node:path";
import { systemReason } from "../../host/system-error.ts";
import { ResultsError } from "./case-file.ts";

/**
 * Makes a folder and those above it.
 *
 * Node's own recursive call does not come to an end in file systems that say "no such folder" where
 * they mean "not here", as /proc does.
 */
export function makeFolder(folder: string): void {
  const missing: string[] = [];
  for (let at = resolve(folder); !existsSync(at); at = dirname(at)) missing.push(at);
  for (const one of missing.toReversed()) {
    try {
      mkdirSync(one);
    } catch (error) {
      // Another process may have made it meanwhile.
      if (!existsSync(one)) throw error;
    }
  }
}

/** An error of the file system while results are written, as a sentence. */
export function unwritable(folder: string, error: unknown): ResultsError {
  const { code } = error as NodeJS.ErrnoException;
  return new ResultsError(`${folder}: the output folder cannot be written (${systemReason(code)})`);
}

/**
 * Makes a folder for results, with folders inside it, and writes to each once.
 *
 * Errors    ResultsError where it is a file or cannot be written
 */
export function prepareOutput(folder: string, inside: readonly string[] = []): void {
  if (folder === "") throw new ResultsError("the output folder has no name");
  try {
    if (statSync(folder, { throwIfNoEntry: false })?.isDirectory() === false) {
      throw new ResultsError(`${folder}: is a file; the results need a folder`);
    }
    for (const one of [folder, ...inside.map((name) => join(folder, name))]) {
      makeFolder(one);
      // An access right may stand where the file system refuses all the same: write once.
      const trial = join(one, `.trial-${process.pid}`);
      writeFileSync(trial, "");
      rmSync(trial);
    }
  } catch (error) {
    throw error instanceof ResultsError ? error : unwritable(folder, error);
  }
}
