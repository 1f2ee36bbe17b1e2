// Where the firmware may go one way or another, and the same source with each way counted.
//
// Counted are both outcomes of a condition (if, ?:, loops), both of the left side of && and || (the
// right side is met or not), each case of a switch and its absence, and that a function is called.
// A condition c becomes (c) ? taken : not taken, so whatever a truth is made of stays what it is.
import {
  type Edit,
  NodeKind,
  type SyntaxNode,
  Token,
  edited,
  isOfVectors,
  lineAt,
  parsed,
  scalarWay,
  walk,
} from "./syntax.ts";

export interface Branch {
  path: string;
  line: number;
  /** The function it stands in. */
  inside: string;
  kind: "function" | "if" | "?:" | "&&" | "||" | "loop" | "switch";
  /** The condition's text, or the function's name. */
  text: string;
  way: string;
  /** Number of the condition among the file's; ways of one condition share it. */
  block: number;
}

export const COUNTING_PATH = "assembly/branch-count.ts";
/**
 * What counts: each build of the counted source tells its host of a way when it takes it first, so
 * that a count is one of instances; a call for every time would take an hour.
 */
export function countingSource(ways: number): string {
  return `// Counts the ways that are taken; told to the host.
@external("branch", "count")
declare function count(way: i32): void;
const SEEN: usize = memory.data(${ways});
function see(way: i32): void {
  if (load<u8>(SEEN + way) != 0) return;
  store<u8>(SEEN + way, 1);
  count(way);
}
export function wayTaken(way: i32): bool { see(way); return true; }
export function wayLeft(way: i32): bool { see(way); return false; }
`;
}

/** One file's branches, and its text with each counted; ways are numbered from `firstWay` on. */
export class CountedFile {
  readonly branches: Branch[] = [];
  readonly #path: string;
  readonly #text: string;
  readonly #firstWay: number;
  readonly #edits: (Edit & { length: number })[] = [];
  #inside = "";
  #blocks = 0;

  constructor(path: string, text: string, firstWay: number) {
    this.#path = path;
    this.#text = text;
    this.#firstWay = firstWay;
    // What stands outside of functions is settled when it is compiled.
    for (const statement of parsed(path, text)) {
      walk(statement, (node) => {
        if (!isFunction(node)) return;
        if (isOfVectors(node, text)) return false;
        this.#function(node);
        return false;
      });
    }
  }

  get counted(): string {
    // Of openings at one place the longer stands outside, of closings the shorter inside.
    const order = this.#edits.toSorted((a, b) => a.length - b.length);
    const imports = `import { wayLeft, wayTaken } from "${this.#toCounting()}";\n`;
    return imports + edited(this.#text, order);
  }

  #toCounting(): string {
    const depth = this.#path.split("/").length - 2;
    return `${depth === 0 ? "./" : "../".repeat(depth)}branch-count.ts`;
  }

  #way(kind: Branch["kind"], node: SyntaxNode, way: string, block: number, text?: string): number {
    const { start, end } = node.range;
    this.branches.push({
      path: this.#path,
      line: lineAt(this.#text, start),
      inside: this.#inside,
      kind,
      text: (text ?? this.#text.slice(start, end)).replaceAll(/\s+/g, " "),
      way,
      block,
    });
    return this.#firstWay + this.branches.length - 1;
  }

  #function(node: SyntaxNode): void {
    const outside = this.#inside;
    this.#inside = textOf(node["name"], this.#text);
    const body = node["body"] as SyntaxNode | null;
    if (body !== null) {
      const way = this.#way("function", node, "called", this.#blocks, this.#inside);
      this.#blocks += 1;
      this.#insert(body.range.start + 1, ` wayTaken(${way});`, 0);
      walk(body, (part) => this.#part(part));
    }
    this.#inside = outside;
  }

  #part(node: SyntaxNode): boolean | void {
    if (isFunction(node)) {
      this.#function(node);
      return false;
    }
    const scalar = scalarWay(node, this.#text);
    if (scalar !== undefined) {
      if (scalar !== null) walk(scalar, (part) => this.#part(part));
      return false;
    }
    const { kind } = node;
    // What an assertion says has one way: the other is a trap, and the end.
    if (kind === NodeKind["Call"] && textOf(node["expression"], this.#text) === "assert") {
      return false;
    }
    if (kind === NodeKind["If"]) this.#condition("if", node["condition"]);
    else if (kind === NodeKind["Ternary"]) this.#condition("?:", node["condition"]);
    else if (kind === NodeKind["For"] || kind === NodeKind["While"] || kind === NodeKind["Do"]) {
      this.#condition("loop", node["condition"]);
    } else if (kind === NodeKind["Binary"] && node["operator"] === Token["Ampersand_Ampersand"]) {
      this.#condition("&&", node["left"]);
    } else if (kind === NodeKind["Binary"] && node["operator"] === Token["Bar_Bar"]) {
      this.#condition("||", node["left"]);
    } else if (kind === NodeKind["Switch"]) this.#switch(node);
  }

  #condition(kind: Branch["kind"], part: unknown): void {
    const node = part as SyntaxNode | null;
    // for (;;) and while (true) have one way only.
    if (node === null || node.kind === NodeKind["True"]) return;
    const block = this.#blocks;
    this.#blocks += 1;
    const taken = this.#way(kind, node, "true", block);
    const left = this.#way(kind, node, "false", block);
    const { start, end } = node.range;
    const length = end - start;
    this.#insert(start, "((", -length);
    this.#insert(end, `) ? wayTaken(${taken}) : wayLeft(${left}))`, length);
  }

  #switch(node: SyntaxNode): void {
    const block = this.#blocks;
    this.#blocks += 1;
    const text = textOf(node["condition"], this.#text);
    let stacked: Label[] = [];
    for (const one of node["cases"] as SyntaxNode[]) {
      const label = one["label"] as SyntaxNode | null;
      // A case begins where the one before it ends: its own word comes after that.
      const start = label?.range.start ?? this.#text.indexOf("default", one.range.start);
      const name = label === null ? "default" : textOf(label, this.#text);
      const way = this.#way("switch", { ...one, range: { start, end: start } }, name, block, text);
      stacked.push({ way, value: label === null ? undefined : name });
      // Labels that share statements are told apart by their values.
      if ((one["statements"] as SyntaxNode[]).length === 0) continue;
      const at = this.#text.indexOf(":", label?.range.end ?? start) + 1;
      this.#insert(at, stackCount(node["condition"] as SyntaxNode, text, stacked), 0);
      stacked = [];
    }
    if (stacked.length > 0) throw new Error(`a case without statements: ${text}`);
  }

  #insert(at: number, put: string, length: number): void {
    this.#edits.push({ from: at, until: at, put, length });
  }
}

interface Label {
  way: number;
  /** undefined: default. */
  value: string | undefined;
}

/** Counts the one label of several that brought the program here. */
function stackCount(condition: SyntaxNode, text: string, labels: readonly Label[]): string {
  // Compared anew: only a name may be read twice.
  if (labels.length > 1 && condition.kind !== NodeKind["Identifier"]) {
    throw new Error(`labels that share statements need a name to compare: ${text}`);
  }
  const rest = labels.find(({ value }) => value === undefined) ?? labels.at(-1)!;
  const others = labels.filter((one) => one !== rest);
  const tests = others.map(({ way, value }) => ` if (${text} == ${value}) wayTaken(${way}); else`);
  return `${tests.join("")} wayTaken(${rest.way});`;
}

function textOf(node: unknown, text: string): string {
  const { start, end } = (node as SyntaxNode).range;
  return text.slice(start, end);
}

function isFunction({ kind }: SyntaxNode): boolean {
  return (
    kind === NodeKind["FunctionDeclaration"] ||
    kind === NodeKind["MethodDeclaration"] ||
    kind === NodeKind["Function"]
  );
}
