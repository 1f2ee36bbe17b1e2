// A kind of bad input: what is wrong, what a user types, what is said, how it ends.

export const GROUPS = ["files", "quantities", "fields", "signals", "edges", "frames", "arguments"];
export type Group =
  | "files"
  | "quantities"
  | "fields"
  | "signals"
  | "edges"
  | "frames"
  | "arguments";

export type Content = string | Uint8Array;

export interface Kind {
  group: Group;
  what: string;
  /** Files in the folder, written before the call. */
  files: Record<string, Content>;
  /** What follows `amberline`; "…/" stands for the folder. */
  args: string[];
  /** Words that the sentence must hold; "…" stands for the folder. */
  told: string[];
  /** 2 the input or the call is wrong, 3 the target failed. */
  code: 2 | 3;
}

export const OUT = ["--out", "…/never"];

/** A name for a file of this kind. */
export function fileName(what: string, ending: string): string {
  return `${what.replaceAll(/[^\w]+/g, "-")}${ending}`;
}

/** The text with one place changed; refuses a change that changes nothing. */
export function changed(text: string, from: string | RegExp, to: string): string {
  const other = text.replace(from, to);
  if (other === text) throw new Error(`nothing to change: ${String(from)}`);
  return other;
}
