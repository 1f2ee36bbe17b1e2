// An adapter of the user's own, loaded and looked at: what it lacks is told before anything is played.
import { existsSync, statSync } from "node:fs";
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { messageOf } from "../../host/error-message.ts";
import { InputError } from "../../host/input-error.ts";
import type { Target } from "../target/target.ts";
import type { AdapterModule, LevelBox, LevelBoxFacts } from "./adapter.ts";
import { plainFacts } from "./adapter-answer.ts";
import { AdapterGone, type AdapterWatch } from "./adapter-watch.ts";

/** A module that cannot be used, in a sentence. */
function unusable(path: string, message: string, cause?: unknown): InputError {
  const error = new InputError({ file: path, line: 0, column: 0, message });
  if (cause !== undefined) error.cause = cause;
  return error;
}

const TARGET_METHODS = ["open", "configure", "feed", "finish", "reset", "close"];
const BOX_METHODS = ["facts", "play", "close"];

export type LoadedAdapter =
  | { kind: "target"; target: Target }
  | { kind: "levels"; box: LevelBox; facts: LevelBoxFacts };

function mustHave(path: string, maker: string, made: unknown, methods: readonly string[]): void {
  const lacking = methods.filter(
    (name) => typeof (made as Record<string, unknown> | null)?.[name] !== "function",
  );
  if (lacking.length === 0) return;
  throw unusable(path, `what ${maker} gives has no ${lacking.join(", ")}`);
}

/** Errors: InputError where there is no such file. */
export function checkAdapterFile(path: string): void {
  const isFile = existsSync(path) && statSync(path).isFile();
  if (!isFile) throw unusable(path, "no such file; a module is expected");
  if (!/\.(mjs|js)$/.test(path)) {
    throw unusable(path, "a module of JavaScript is expected (.mjs or .js)");
  }
}

let isLoaded = false;

/** Whether code of a user's own runs in this process: what it leaves open keeps the process up. */
export const hasLoadedAdapter = (): boolean => isLoaded;

async function imported(path: string, watch: AdapterWatch): Promise<AdapterModule> {
  checkAdapterFile(path);
  try {
    const { href } = pathToFileURL(resolve(path));
    isLoaded = true;
    return await watch.wait("being loaded", () => import(href) as Promise<AdapterModule>);
  } catch (error) {
    if (error instanceof AdapterGone) throw error;
    throw unusable(path, `cannot be loaded: ${messageOf(error)}`, error);
  }
}

/**
 * Loads the module and asks it for what it carries.
 *
 * Errors    InputError where it is no adapter; AdapterWrong; AdapterGone; whatever its own code
 *           throws
 */
export async function loadAdapter(path: string, watch: AdapterWatch): Promise<LoadedAdapter> {
  const { makeTarget, makeLevelBox } = await imported(path, watch);
  const makers = [makeTarget, makeLevelBox].filter((one) => typeof one === "function");
  if (makers.length !== 1) {
    throw unusable(path, "must export either makeTarget or makeLevelBox, a function");
  }
  if (typeof makeTarget === "function") {
    const target = await watch.wait("makeTarget()", makeTarget);
    mustHave(path, "makeTarget()", target, TARGET_METHODS);
    return { kind: "target", target };
  }
  const box = await watch.wait("makeLevelBox()", makeLevelBox!);
  mustHave(path, "makeLevelBox()", box, BOX_METHODS);
  const facts = plainFacts(path, await watch.wait("facts()", () => box.facts()));
  return { kind: "levels", box, facts };
}
