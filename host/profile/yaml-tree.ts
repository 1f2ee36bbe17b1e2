// A YAML file as plain values, with the place of every value kept beside it.
import { closeSync, fstatSync, openSync, readSync, statSync } from "node:fs";
import { isAlias, isMap, isScalar, isSeq, LineCounter, parseDocument } from "yaml";
import type { Document, Node, YAMLError } from "yaml";
import { InputError } from "../input-error.ts";
import { systemReason } from "../system-error.ts";
import { utf8Text } from "../utf8.ts";

export interface Place {
  file: string;
  line: number;
  column: number;
}
/** Where a member's key and value stand. */
export interface MemberPlace {
  key: Place;
  value: Place;
}
export type Container = { [key: string]: unknown } | unknown[];
export type Path = readonly PropertyKey[];

/** Larger files are refused before they are read: a recording where a small file is meant. */
export const YAML_BYTES_MAX = 4 * 1024 * 1024;
/** Aliases in one file; more is a file that grows when it is read. */
export const YAML_ALIASES_MAX = 100;
/** Values after all aliases are followed. */
const NODES_MAX = 200_000;
const DEPTH_MAX = 60;

const PLACES = new WeakMap<object, Map<string, MemberPlace>>();
const ROOTS = new WeakMap<object, Place>();

/** Notes where a member of a container was written. */
export function setPlace(container: Container, key: PropertyKey, place: MemberPlace): void {
  let members = PLACES.get(container);
  if (members === undefined) PLACES.set(container, (members = new Map()));
  members.set(String(key), place);
}

export function placeIn(container: Container, key: PropertyKey): MemberPlace | undefined {
  return PLACES.get(container)?.get(String(key));
}

/** Notes that one container stands where another does. */
export function copyRoot(from: Container, to: Container): void {
  const place = ROOTS.get(from);
  if (place !== undefined) ROOTS.set(to, place);
}

/**
 * The place that a path leads to: that of the value, or of the nearest container that was written.
 *
 * Shape     `atKey` asks for the place of the key itself where it stands in the file
 */
export function placeOf(root: Container, path: Path, atKey = false): Place {
  let place = ROOTS.get(root) ?? { file: "", line: 0, column: 0 };
  let container: unknown = root;
  for (const [index, key] of path.entries()) {
    if (typeof container !== "object" || container === null) break;
    const member = placeIn(container as Container, key);
    if (member === undefined) break;
    const isEnd = index === path.length - 1;
    const next = (container as Record<PropertyKey, unknown>)[key];
    // A map stands on the line after its key; what is missing in it is shown at the key.
    const isBlock = typeof next === "object" && next !== null && !Array.isArray(container);
    place = (isEnd && atKey) || isBlock ? member.key : member.value;
    container = next;
  }
  return place;
}

/** The text of a small file; a folder, an unreadable or an overlong file is an InputError. */
export function readSmallFile(path: string): string {
  const refuse = (message: string): never => {
    throw new InputError({ file: path, line: 0, column: 0, message });
  };
  let handle: number;
  try {
    // A pipe would keep us waiting for a writer: look before it is opened.
    const kind = statSync(path);
    if (!kind.isFile() && !kind.isDirectory()) return refuse("is not a regular file");
    handle = openSync(path, "r");
  } catch (error) {
    if (error instanceof InputError) throw error;
    return refuse(openFailure((error as NodeJS.ErrnoException).code));
  }
  try {
    const stat = fstatSync(handle);
    if (stat.isDirectory()) return refuse("is a folder; a file is expected");
    if (!stat.isFile()) return refuse("is not a regular file");
    if (stat.size > YAML_BYTES_MAX) {
      const limit = `${YAML_BYTES_MAX / 1024 / 1024} MiB`;
      return refuse(`has ${stat.size} bytes; a profile or scenario has at most ${limit}`);
    }
    const bytes = new Uint8Array(stat.size);
    let filled = 0;
    while (filled < bytes.length) {
      const count = readSync(handle, bytes, filled, bytes.length - filled, null);
      if (count === 0) break;
      filled += count;
    }
    return utf8Text(path, bytes.subarray(0, filled));
  } finally {
    closeSync(handle);
  }
}

/** Why a file cannot be opened, as a sentence that follows its name. */
export function openFailure(code: string | undefined): string {
  if (code === "ENOENT" || code === "ENOTDIR") return "does not exist";
  if (code === "EACCES" || code === "EPERM") return "cannot be read: permission denied";
  if (code === "EISDIR") return "is a folder; a file is expected";
  return `cannot be opened (${systemReason(code)})`;
}

/** Turns the parser's nodes into plain values, counting as it goes. */
class Builder {
  readonly #file: string;
  readonly #document: Document;
  readonly #lines: LineCounter;
  #nodes = 0;
  #aliases = 0;

  constructor(file: string, document: Document, lines: LineCounter) {
    this.#file = file;
    this.#document = document;
    this.#lines = lines;
  }

  place(node: unknown): Place {
    const start = (node as Node | null)?.range?.[0] ?? 0;
    const { line, col } = this.#lines.linePos(start);
    return { file: this.#file, line, column: col };
  }

  #refuse(node: unknown, message: string): never {
    throw new InputError({ ...this.place(node), message });
  }

  value(node: unknown, depth: number): unknown {
    this.#nodes += 1;
    if (this.#nodes > NODES_MAX) {
      this.#refuse(node, `grows to more than ${NODES_MAX} values when its aliases are followed`);
    }
    if (depth > DEPTH_MAX) this.#refuse(node, `is nested deeper than ${DEPTH_MAX} levels`);
    if (isAlias(node)) {
      this.#aliases += 1;
      if (this.#aliases > YAML_ALIASES_MAX) {
        this.#refuse(node, `uses more than ${YAML_ALIASES_MAX} aliases when they are followed`);
      }
      const target = node.resolve(this.#document);
      if (target === undefined)
        this.#refuse(node, `alias *${node.source} names no anchor above it`);
      return this.value(target, depth + 1);
    }
    if (isMap(node)) {
      const object: { [key: string]: unknown } = {};
      ROOTS.set(object, this.place(node));
      for (const pair of node.items) this.#member(object, pair.key, pair.value, depth);
      return object;
    }
    if (isSeq(node)) {
      const list: unknown[] = [];
      ROOTS.set(list, this.place(node));
      for (const item of node.items) {
        const place = this.place(item);
        setPlace(list, list.length, { key: place, value: place });
        list.push(this.value(item, depth + 1));
      }
      return list;
    }
    return isScalar(node) ? node.value : null;
  }

  #member(object: { [key: string]: unknown }, key: unknown, value: unknown, depth: number): void {
    if (!isScalar(key)) this.#refuse(key, "a key must be a word");
    const name = String(key.value);
    if (name === "__proto__") this.#refuse(key, "a key may not be called __proto__");
    const at = this.place(key);
    const hasPlace = (value as Node | null)?.range !== undefined;
    setPlace(object, name, { key: at, value: hasPlace ? this.place(value) : at });
    object[name] = this.value(value, depth + 1);
  }
}

/** What a person may do about it, beside the parser's own words. */
const YAML_ADVICE: Readonly<Record<string, string>> = {
  TAB_AS_INDENT: "write blanks",
  BLOCK_AS_IMPLICIT_KEY:
    "a line below stands too far right, or a text that holds a colon and a blank has no quotes",
  MULTILINE_IMPLICIT_KEY: "a key ends in a colon and a blank",
  DUPLICATE_KEY: "this one stands above as well",
  BAD_INDENT: "a bracket above is not closed, or a line stands too far left",
};

function yamlSentence({ code, message }: YAMLError): string {
  if (code === "RESOURCE_EXHAUSTION") return "is nested too deeply";
  if (code === "MULTIPLE_DOCS") return "a second document starts here";
  const said = message.split("\n")[0]!.replace(/[.:]$/u, "");
  // One code for a missing colon and for a missing quote.
  const isQuote = code === "MISSING_CHAR" && /closing ["']quote/u.test(said);
  const isKey = code === "MISSING_CHAR" && said.includes("map keys");
  const advice = isQuote
    ? "a text above begins with a quote and does not end"
    : YAML_ADVICE[isKey ? "MULTILINE_IMPLICIT_KEY" : code];
  return advice === undefined ? said : `${said}; ${advice}`;
}

/** The first mistake: those after it mostly come of it. A key twice leaves the rest readable. */
function firstErrors(errors: readonly YAMLError[]): YAMLError[] {
  const [first, ...rest] = errors.toSorted((one, two) => one.pos[0] - two.pos[0]);
  if (first?.code !== "DUPLICATE_KEY") return first === undefined ? [] : [first];
  return [first, ...rest.filter(({ code }) => code === "DUPLICATE_KEY")];
}

/**
 * The values of a YAML text, with their places noted.
 *
 * Errors    InputError: not YAML, a key twice, several documents, not a map, alias bombs
 */
export function parseYaml(file: string, text: string): { [key: string]: unknown } {
  const lines = new LineCounter();
  let document: Document.Parsed;
  try {
    document = parseDocument(text, { lineCounter: lines, prettyErrors: false });
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    throw new InputError({ file, line: 0, column: 0, message: "is nested too deeply" });
  }
  if (document.errors.length > 0) {
    throw new InputError(
      firstErrors(document.errors).map((error) => {
        const { line, col } = lines.linePos(error.pos[0]);
        const sentence = yamlSentence(error);
        // Brackets without end may be right in YAML; they are only more than can be followed.
        const isDeep = error.code === "RESOURCE_EXHAUSTION";
        const message = isDeep ? sentence : `is not valid YAML: ${sentence}`;
        return { file, line, column: col, message };
      }),
    );
  }
  const builder = new Builder(file, document, lines);
  const root = builder.value(document.contents, 0);
  if (typeof root !== "object" || root === null || Array.isArray(root)) {
    const message = "must hold a map of keys and values";
    throw new InputError({ file, line: 1, column: 1, message });
  }
  return root as { [key: string]: unknown };
}
