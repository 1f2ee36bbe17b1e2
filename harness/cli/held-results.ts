// What a folder holds already: nothing that was worked for is replaced without being asked to.
import { existsSync, readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { CallError } from "./command-errors.ts";

type Held = "a run" | "a demonstration" | "a replay" | "a measurement";

/** Whether a run's own note says that it was the demonstration's; not where it cannot be read. */
function isDemonstration(path: string): boolean {
  try {
    const { command } = JSON.parse(readFileSync(path, "utf8")) as { command?: unknown };
    return Array.isArray(command) && command[0] === "demo";
  } catch {
    return false;
  }
}

/** What the results in a folder are of; undefined where there are none. */
export function heldResults(folder: string): Held | undefined {
  const note = join(folder, "run.json");
  if (existsSync(note)) return isDemonstration(note) ? "a demonstration" : "a run";
  try {
    // A run that was cut off has cases and no note.
    if (readdirSync(join(folder, "cases")).some((name) => name.endsWith(".json"))) return "a run";
  } catch {
    // No such folder: whether it can be made is found when it is.
  }
  if (existsSync(join(folder, "replay.json"))) return "a replay";
  return existsSync(join(folder, "measure.json")) ? "a measurement" : undefined;
}

export interface Replacing {
  /** Whatever is there was asked to be replaced. */
  isReplaced: boolean;
  /** What this command goes on with, or replaces as its own. */
  allowed?: Held | undefined;
  /** Told where what is there could be gone on with. */
  hint?: string;
}

/** Errors: CallError where the folder holds results that nobody asked to replace. */
export function refuseHeld(folder: string, { isReplaced, allowed, hint = "" }: Replacing): void {
  if (isReplaced) return;
  const held = heldResults(folder);
  if (held === undefined || held === allowed) return;
  throw new CallError(
    `${folder}: holds the results of ${held}${held === "a run" ? hint : ""}; --replace puts the ` +
      "new ones in their place, --out names another folder",
  );
}
