import type { MethodCount } from "./types.ts";
import type { FilterOpinions, MethodResults, Opinion } from "../method/opinion-types.ts";

function counted(count: number, opinions: readonly Opinion[], word: string): string {
  return count === 0 ? "" : `${count} of ${opinions.length} ${word}`;
}

/** One filter's second opinions in a few words. */
export function opinionsNote({ opinions }: FilterOpinions): string {
  const count = (verdict: Opinion["verdict"]): number =>
    opinions.filter((one) => one.verdict === verdict).length;
  const parts = [
    counted(count("agrees"), opinions, "agree"),
    counted(count("differs"), opinions, "DIFFER"),
    counted(count("does not apply"), opinions, "do not apply"),
  ];
  return parts.filter((part) => part !== "").join(", ");
}

/** What the second opinions of a case come to. */
export function methodCount(results: MethodResults): MethodCount {
  const all = results.filters.flatMap(({ opinions }) => opinions);
  const count = (verdict: Opinion["verdict"]): number =>
    all.filter((one) => one.verdict === verdict).length;
  return {
    note: methodNote(results),
    agreeing: count("agrees"),
    differing: count("differs"),
    notApplying: count("does not apply"),
  };
}

/** The second opinions of a case in one line. */
export function methodNote({ filters, notes }: MethodResults): string {
  if (filters.length === 0) return `second opinions: none; ${notes[0] ?? "no filter"}`;
  return `second opinions: ${filters.map((one) => `${one.name} ${opinionsNote(one)}`).join("; ")}`;
}
