// The firmware's source as the compiler's own parser sees it: nodes with their places in the text.
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import * as compiler from "assemblyscript";
import { ROOT } from "../repo/source-files.ts";

/** A node as it is used here: what it is, where it stands, and its parts by name. */
export interface SyntaxNode {
  kind: number;
  range: { start: number; end: number };
  [part: string]: unknown;
}

export const { NodeKind, Token } = compiler as unknown as {
  NodeKind: Record<string, number>;
  Token: Record<string, number>;
};

const { Node } = compiler as unknown as { Node: new () => object };

/**
 * Paths of every file of the scalar firmware, from the project's root. The vector loops are held
 * against its bytes as a whole (tests/assembly/vector).
 */
export function firmwareFiles(): string[] {
  return readdirSync(join(ROOT, "assembly"), { recursive: true, encoding: "utf8" })
    .map((path) => `assembly/${path.replaceAll("\\", "/")}`)
    .filter((path) => path.endsWith(".ts") && !path.startsWith("assembly/vector/"))
    .toSorted();
}

export function sourceOf(path: string): string {
  return readFileSync(join(ROOT, path), "utf8");
}

/** The statements of a file. Errors: throws where it does not parse. */
export function parsed(path: string, text: string): SyntaxNode[] {
  const { newProgram, newOptions, parse } = compiler;
  const program = newProgram(newOptions());
  parse(program, text, path, true);
  const source = program.sources.find((one) => one.normalizedPath === path);
  if (source === undefined) throw new Error(`${path} does not parse`);
  return source.statements as unknown as SyntaxNode[];
}

const isNode = (value: unknown): value is SyntaxNode => value instanceof Node;

/** The parts of a node that are nodes, in no order. */
export function partsOf(node: SyntaxNode): SyntaxNode[] {
  return Object.values(node).flatMap((value) =>
    Array.isArray(value) ? value.filter((one) => isNode(one)) : isNode(value) ? [value] : [],
  );
}

/** Calls `visit` for a node and all below it; a visit that returns false leaves out what is below. */
export function walk(node: SyntaxNode, visit: (node: SyntaxNode) => boolean | void): void {
  if (visit(node) === false) return;
  for (const part of partsOf(node)) walk(part, visit);
}

/**
 * What the scalar build has in place of vectors, where a node is `if (ASC_FEATURE_SIMD)`: the other
 * way's node, null where there is none; undefined for any other node.
 */
export function scalarWay(node: SyntaxNode, text: string): SyntaxNode | null | undefined {
  if (node.kind !== NodeKind["If"]) return undefined;
  const { start, end } = (node["condition"] as SyntaxNode).range;
  if (text.slice(start, end) !== "ASC_FEATURE_SIMD") return undefined;
  return (node["ifFalse"] ?? null) as SyntaxNode | null;
}

/** Whether a function is of the build with SIMD only, by its name: no scalar build has it. */
export function isOfVectors(node: SyntaxNode, text: string): boolean {
  if (node.kind !== NodeKind["FunctionDeclaration"]) return false;
  const { start, end } = (node["name"] as SyntaxNode).range;
  return /^simd[A-Z]/.test(text.slice(start, end));
}

/** A change of a text: what stands from `from` to `until` becomes `put`. */
export interface Edit {
  from: number;
  until: number;
  put: string;
}

/** Makes edits that do not overlap; of insertions at one place the first in the list comes first. */
export function edited(text: string, edits: readonly Edit[]): string {
  let made = "";
  let at = 0;
  for (const { from, until, put } of edits.toSorted((a, b) => a.from - b.from)) {
    made += text.slice(at, from) + put;
    at = until;
  }
  return made + text.slice(at);
}

/** The line, from 1, that a place in a text is on. */
export function lineAt(text: string, place: number): number {
  return text.slice(0, place).split("\n").length;
}
