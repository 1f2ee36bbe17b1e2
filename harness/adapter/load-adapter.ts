// An adapter of the user's own, loaded and looked at: what it lacks is told before anything is played.
import { existsSync, statSync } from "node:fs";
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { messageOf } from "../../host/error-message.ts";
import { InputError } from "../../host/input-error.ts";
import type { Target } from "../target/target.ts";
import type { AdapterModule, LevelBox, LevelBoxFacts, Reading } from "./adapter.ts";
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

async function imported(path: string, watch: AdapterWatch): Promise<AdapterModule> {
  checkAdapterFile(path);
  try {
    const { href } = pathToFileURL(resolve(path));
    return await watch.wait("being loaded", () => import(href) as Promise<AdapterModule>);
  } catch (error) {
    if (error instanceof AdapterGone) throw error;
    throw unusable(path, `cannot be loaded: ${messageOf(error)}`, error);
  }
}

const isText = (value: unknown): value is string => typeof value === "string" && value !== "";

async function boxFacts(path: string, box: LevelBox, watch: AdapterWatch): Promise<LevelBoxFacts> {
  const facts = await watch.wait("facts()", () => box.facts());
  if (!isText(facts?.name) || !isText(facts.identity)) {
    throw unusable(path, "facts() must give a name and an identity as text");
  }
  if (facts.clock !== "host" && facts.clock !== "own") {
    throw unusable(path, 'facts() must say whose clock stamps readings: "host" or "own"');
  }
  return facts;
}

/** Errors: InputError where it is no adapter; AdapterGone; whatever its own code throws. */
export async function loadAdapter(path: string, watch: AdapterWatch): Promise<LoadedAdapter> {
  const { makeTarget, makeLevelBox } = await imported(path, watch);
  const makers = [makeTarget, makeLevelBox].filter((one) => typeof one === "function");
  if (makers.length !== 1) {
    throw unusable(path, "must export either makeTarget or makeLevelBox, a function");
  }
  if (makeTarget !== undefined) {
    const target = await watch.wait("makeTarget()", makeTarget);
    mustHave(path, "makeTarget", target, TARGET_METHODS);
    return { kind: "target", target };
  }
  const box = await watch.wait("makeLevelBox()", makeLevelBox!);
  mustHave(path, "makeLevelBox", box, BOX_METHODS);
  return { kind: "levels", box, facts: await boxFacts(path, box, watch) };
}

const OPTIONAL = { isValid: "boolean", speedRevPerS: "number", isCaution: "boolean" } as const;

/** What is wrong with readings, in a sentence; undefined where nothing is. */
export function readingsComplaint(
  readings: unknown,
  filters: readonly string[],
): string | undefined {
  if (!Array.isArray(readings)) return "play() must give a list of readings";
  let before = -Infinity;
  for (const [i, one] of (readings as Partial<Reading>[]).entries()) {
    const where = `reading ${i + 1}`;
    if (typeof one !== "object" || one === null) return `${where} is no reading`;
    const { timeS, filter, shown } = one;
    if (typeof timeS !== "number" || !Number.isFinite(timeS)) return `${where} has no time`;
    if (timeS < before) return `${where} at ${timeS} s comes before the one above it`;
    if (typeof filter !== "string" || !filters.includes(filter)) {
      return `${where} is of "${String(filter)}"; the profile has ${filters.join(", ")}`;
    }
    if (typeof shown !== "number" || (!Number.isFinite(shown) && one.isValid !== false)) {
      return `${where} shows no number and does not say that it is not valid`;
    }
    const wrong = (Object.keys(OPTIONAL) as (keyof typeof OPTIONAL)[]).find(
      (name) => one[name] !== undefined && typeof one[name] !== OPTIONAL[name],
    );
    if (wrong !== undefined) return `${where}: its ${wrong} must be a ${OPTIONAL[wrong]}`;
    before = timeS;
  }
  return undefined;
}
