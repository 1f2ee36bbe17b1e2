// Branches as the tracefile that coverage viewers read: geninfo(1) of LCOV describes the records.
import type { Branch } from "./branches.ts";

export function lcovOf(branches: readonly Branch[], counts: readonly number[]): string {
  const lines: string[] = [];
  for (const path of new Set(branches.map((one) => one.path))) {
    const own = branches.flatMap((one, i) =>
      one.path === path ? [{ one, count: counts[i]! }] : [],
    );
    const functions = own.filter(({ one }) => one.kind === "function");
    const ways = own.filter(({ one }) => one.kind !== "function");
    lines.push("TN:", `SF:${path}`);
    for (const { one } of functions) lines.push(`FN:${one.line},${one.inside}`);
    for (const { one, count } of functions) lines.push(`FNDA:${count},${one.inside}`);
    lines.push(
      `FNF:${functions.length}`,
      `FNH:${functions.filter(({ count }) => count > 0).length}`,
    );
    const seen = new Map<number, number>();
    for (const { one, count } of ways) {
      const way = seen.get(one.block) ?? 0;
      seen.set(one.block, way + 1);
      const isMet = ways.some((other) => other.one.block === one.block && other.count > 0);
      lines.push(`BRDA:${one.line},${one.block},${way},${isMet ? count : "-"}`);
    }
    lines.push(`BRF:${ways.length}`, `BRH:${ways.filter(({ count }) => count > 0).length}`);
    lines.push("end_of_record");
  }
  return `${lines.join("\n")}\n`;
}
