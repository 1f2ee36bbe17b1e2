// Files named on the command line: a file, a folder (searched through), or a pattern with * ? **.
import { type Dirent, readdirSync, statSync } from "node:fs";
import { isAbsolute, join, relative, sep } from "node:path";
import { systemReason } from "../../host/system-error.ts";
import { CallError } from "./command-errors.ts";

const SKIPPED_FOLDERS = new Set(["node_modules", ".git"]);

function entriesOf(folder: string): Dirent[] {
  try {
    return readdirSync(folder, { withFileTypes: true });
  } catch (error) {
    const reason = systemReason((error as NodeJS.ErrnoException).code);
    throw new CallError(`${folder}: this folder cannot be looked through (${reason})`);
  }
}

function filesUnder(folder: string, isWanted: (path: string) => boolean): string[] {
  const found: string[] = [];
  for (const entry of entriesOf(folder === "" ? "." : folder)) {
    const path = join(folder, entry.name);
    if (entry.isDirectory() && !SKIPPED_FOLDERS.has(entry.name)) {
      found.push(...filesUnder(path, isWanted));
    } else if (!entry.isDirectory() && isWanted(path)) found.push(path);
  }
  return found;
}

const slashed = (path: string): string => path.split(sep).join("/");

/** A pattern as a regular expression over a path with forward slashes. */
function patternExpression(pattern: string): RegExp {
  const body = pattern
    .replace(/[.+^${}()|\\]/g, "\\$&")
    .replaceAll("**/", "\u0001")
    .replaceAll("**", "\u0002")
    .replaceAll("*", "[^/]*")
    .replaceAll("?", "[^/]")
    .replaceAll("\u0001", "(?:[^/]+/)*")
    .replaceAll("\u0002", ".*");
  return new RegExp(`^${body}$`);
}

function matches(pattern: string): string[] {
  const parts = slashed(pattern).replace(/^\.\//, "").split("/");
  const firstWild = parts.findIndex((part) => /[*?]/.test(part));
  const base = parts.slice(0, firstWild).join("/");
  if (base !== "" && statSync(base, { throwIfNoEntry: false })?.isDirectory() !== true) return [];
  const expression = patternExpression(parts.join("/"));
  return filesUnder(base, (path) => expression.test(slashed(path)));
}

/**
 * The files that the arguments name, each once, in the order of the arguments, sorted within one.
 *
 * Shape     in a folder only names that end in one of `suffixes` count, of those that a pattern
 *           meets only what ends in one of `patternSuffixes`; a file is taken as it is
 * Errors    CallError where an argument names nothing
 */
export function findFiles(
  args: readonly string[],
  suffixes: readonly string[],
  patternSuffixes = suffixes,
): string[] {
  const endsIn = (ends: readonly string[]) => (path: string) =>
    ends.some((end) => path.endsWith(end));
  const all = new Set<string>();
  for (const arg of args) {
    if (arg === "") throw new CallError("a file without a name was asked for");
    const kind = statSync(arg, { throwIfNoEntry: false });
    let found: string[];
    if (kind?.isDirectory() === true) found = filesUnder(arg, endsIn(suffixes));
    else if (kind !== undefined) found = [arg];
    else if (/[*?]/.test(arg)) found = matches(arg).filter(endsIn(patternSuffixes));
    else throw new CallError(`${arg}: no such file or folder`);
    if (found.length === 0) {
      throw new CallError(`${arg}: no file here ends in ${suffixes.join(", ")}`);
    }
    for (const path of found.sort()) all.add(path);
  }
  return [...all];
}

/**
 * A path as a command takes it in the working folder: below it as it stands there, else as it was
 * named; never like an option.
 */
export function shownPath(path: string): string {
  const inside = relative(process.cwd(), path);
  const isInside = !inside.startsWith("..") && !isAbsolute(inside);
  const shown = isInside ? slashed(inside) : path;
  return shown.startsWith("-") ? `./${shown}` : shown;
}
