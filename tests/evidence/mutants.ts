// Changes of the firmware's source that its tests must notice, each of one place.
import {
  type Edit,
  NodeKind,
  type SyntaxNode,
  edited,
  isOfVectors,
  lineAt,
  parsed,
  scalarWay,
  walk,
} from "./syntax.ts";

export const MUTATIONS = ["comparison", "boundary", "arithmetic", "constant", "removal"] as const;
export type MutationKind = (typeof MUTATIONS)[number];

export interface Mutant {
  path: string;
  line: number;
  kind: MutationKind;
  /** What stood there, and what stands there now, on one line each. */
  was: string;
  becomes: string;
  edit: Edit;
}

const OPERATORS: Record<string, [MutationKind, string][]> = {
  "<": [
    ["boundary", "<="],
    ["comparison", ">="],
  ],
  "<=": [
    ["boundary", "<"],
    ["comparison", ">"],
  ],
  ">": [
    ["boundary", ">="],
    ["comparison", "<="],
  ],
  ">=": [
    ["boundary", ">"],
    ["comparison", "<"],
  ],
  "==": [["comparison", "!="]],
  "!=": [["comparison", "=="]],
  "&&": [["comparison", "||"]],
  "||": [["comparison", "&&"]],
  "+": [["arithmetic", "-"]],
  "-": [["arithmetic", "+"]],
  "*": [["arithmetic", "/"]],
  "/": [["arithmetic", "*"]],
  "%": [["arithmetic", "/"]],
  "&": [["arithmetic", "|"]],
  "|": [["arithmetic", "&"]],
  "<<": [["arithmetic", ">>"]],
  ">>": [["arithmetic", "<<"]],
  "+=": [["arithmetic", "-="]],
  "-=": [["arithmetic", "+="]],
  "*=": [["arithmetic", "/="]],
  "&=": [["arithmetic", "|="]],
  "|=": [["arithmetic", "&="]],
};

/** Every mutant of a file, in the order of the text. */
export function mutantsOf(path: string, text: string): Mutant[] {
  const found: Mutant[] = [];
  const add = (kind: MutationKind, from: number, until: number, put: string): void => {
    const one = (piece: string): string => piece.replaceAll(/\s+/g, " ").trim();
    const [head, tail] = lineAround(text, from, until);
    found.push({
      path,
      line: lineAt(text, from),
      kind,
      was: one(head + text.slice(from, until) + tail),
      becomes: one(head + put + tail),
      edit: { from, until, put },
    });
  };
  // What stands outside of functions is settled when it is compiled, and refused there.
  for (const statement of parsed(path, text)) walk(statement, (node) => visit(node, text, add));
  return found.toSorted((a, b) => a.edit.from - b.edit.from);
}

type Add = (kind: MutationKind, from: number, until: number, put: string) => void;

function visit(node: SyntaxNode, text: string, add: Add): boolean | void {
  if (isOfVectors(node, text)) return false;
  const scalar = scalarWay(node, text);
  if (scalar !== undefined) {
    if (scalar !== null) walk(scalar, (part) => visit(part, text, add));
    return false;
  }
  const { kind } = node;
  if (kind === NodeKind["Import"] || (kind === NodeKind["Variable"] && isAtTop(node, text)))
    return false;
  // An assertion holds whatever comes; what it says is no behaviour.
  if (kind === NodeKind["Call"] && callee(node, text) === "assert") return false;
  if (kind === NodeKind["If"] && callsError(node, text)) return false;
  if (kind === NodeKind["Binary"]) operator(node, text, add);
  if (kind === NodeKind["Literal"]) literal(node, text, add);
  if (kind === NodeKind["Expression"]) removal(node, text, add);
}

const textAt = (node: unknown, text: string): string => {
  const { start, end } = (node as SyntaxNode).range;
  return text.slice(start, end);
};

function callee(node: SyntaxNode, text: string): string {
  return textAt(node["expression"], text);
}

/** `if (…) ERROR("…")`: refused by the compiler. */
function callsError(node: SyntaxNode, text: string): boolean {
  return /^(?:\{\s*)?ERROR\(/.test(textAt(node["ifTrue"], text));
}

/** Constants of a file: layout and limits, which other tests hold. */
function isAtTop(node: SyntaxNode, text: string): boolean {
  const { start } = node.range;
  return start === 0 || text[start - 1] === "\n" || text.slice(0, start).endsWith("export ");
}

function operator(node: SyntaxNode, text: string, add: Add): void {
  const left = (node["left"] as SyntaxNode).range;
  const right = (node["right"] as SyntaxNode).range;
  const between = text.slice(left.end, right.start);
  const match = /[<>=!&|+\-*/%]+/.exec(between);
  if (match === null) return;
  const from = left.end + match.index;
  for (const [kind, put] of OPERATORS[match[0]] ?? []) add(kind, from, from + match[0].length, put);
}

/** A whole number is one more, any other a hundredth more. */
function literal(node: SyntaxNode, text: string, add: Add): void {
  const { start, end } = node.range;
  const was = text.slice(start, end);
  if (/^\d+$/.test(was)) add("constant", start, end, String(Number(was) + 1));
  else if (/^0x[0-9a-f]+$/i.test(was))
    add("constant", start, end, `0x${(Number(was) + 1).toString(16)}`);
  else if (/^\d*\.?\d+(e[-+]?\d+)?$/i.test(was)) {
    add("constant", start, end, String(Number((Number(was) * 1.01).toPrecision(9))));
  }
}

function removal(node: SyntaxNode, text: string, add: Add): void {
  const { start, end } = node.range;
  const what = (node["expression"] as SyntaxNode | undefined) ?? node;
  if (what.kind === NodeKind["Call"] && callee(what, text) === "assert") return;
  add("removal", start, end, ";");
}

/** The rest of the line on either side of a place. */
function lineAround(text: string, from: number, until: number): [string, string] {
  const start = text.lastIndexOf("\n", from - 1) + 1;
  const end = text.indexOf("\n", until);
  return [text.slice(start, from), text.slice(until, end < 0 ? text.length : end)];
}

export function mutated(text: string, { edit }: Mutant): string {
  return edited(text, [edit]);
}
