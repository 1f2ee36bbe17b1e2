// What is wrong with something that a person wrote: where it stands, and what would be right.

export interface Complaint {
  file: string;
  /** From 1; 0 where the complaint is about the whole file. */
  line: number;
  column: number;
  /** Offset of the first byte that is wrong, in a file that has no lines. */
  byte?: number;
  message: string;
}

/** One complaint as a line: `file.yaml:12:16: speed must be > 0 r/min`. */
export function complaintText(complaint: Complaint): string {
  const byte = complaint.byte === undefined ? "" : `: byte ${complaint.byte}`;
  const place = complaint.line > 0 ? `:${complaint.line}:${complaint.column}` : byte;
  return `${complaint.file}${place}: ${complaint.message}`;
}

/**
 * The input is wrong: one or more complaints, to be shown without a stack trace.
 *
 * Shape     file, line, column are those of the first complaint; `message` holds all, one a line
 */
export class InputError extends Error {
  readonly complaints: Complaint[];
  readonly file: string;
  readonly line: number;
  readonly column: number;
  /** The process ends with this. */
  readonly exitCode = 2;

  constructor(complaints: Complaint | Complaint[]) {
    const all = Array.isArray(complaints) ? complaints : [complaints];
    super(all.map(complaintText).join("\n"));
    this.name = "InputError";
    this.complaints = all;
    this.file = all[0]?.file ?? "";
    this.line = all[0]?.line ?? 0;
    this.column = all[0]?.column ?? 0;
  }
}

/** A complaint about a whole file. */
export function fileComplaint(file: string, message: string): InputError {
  return new InputError({ file, line: 0, column: 0, message });
}

/** Edits that turn one word into another (insertion, deletion, exchange, swap of neighbours). */
function editDistance(from: string, to: string): number {
  let beforeLast: number[] = [];
  let last = Array.from({ length: to.length + 1 }, (_, at) => at);
  for (let row = 1; row <= from.length; row += 1) {
    const now = [row];
    for (let at = 1; at <= to.length; at += 1) {
      const cost = from[row - 1] === to[at - 1] ? 0 : 1;
      let best = Math.min(last[at]! + 1, now[at - 1]! + 1, last[at - 1]! + cost);
      if (row > 1 && at > 1 && from[row - 1] === to[at - 2] && from[row - 2] === to[at - 1]) {
        best = Math.min(best, beforeLast[at - 2]! + 1);
      }
      now.push(best);
    }
    beforeLast = last;
    last = now;
  }
  return last[to.length]!;
}

/** Names that share a word as likely ones at most: more are no help. */
const LIKELY_MAX = 3;

/** Names that hold a word of what was found: "power" of "power of speed". */
function sharingWords(found: string, names: readonly string[]): string[] {
  const wordsOf = (text: string): string[] =>
    text
      .toLowerCase()
      .split(/[^\p{L}\p{N}]+/u)
      .filter((word) => word.length > 2);
  const given = wordsOf(found);
  const sharing = names.filter((name) => wordsOf(name).some((word) => given.includes(word)));
  return sharing.length <= LIKELY_MAX ? sharing : [];
}

/** ` (did you mean "order"?)` where some of the names are near, else ` (allowed: …)`. */
export function nearestHint(found: string, names: readonly string[]): string {
  let nearest = "";
  let least = Infinity;
  for (const name of names) {
    const distance = editDistance(found.toLowerCase(), name.toLowerCase());
    if (distance < least) [nearest, least] = [name, distance];
  }
  const isNear = least <= Math.max(1, Math.floor(Math.max(found.length, nearest.length) / 3));
  if (isNear) return ` (did you mean "${nearest}"?)`;
  const likely = sharingWords(found, names).map((name) => `"${name}"`);
  if (likely.length > 0) return ` (did you mean ${likely.join(" or ")}?)`;
  return names.length === 0 ? "" : ` (allowed: ${names.join(", ")})`;
}
