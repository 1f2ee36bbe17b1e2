// The count of branches can be trusted only where every way of a source is one of its ways.
import { describe, expect, it } from "vitest";
import { CountedFile } from "./branches.ts";
import { EQUIVALENT } from "./equivalent.ts";
import { lcovOf } from "./lcov.ts";
import { mutantsOf, mutated } from "./mutants.ts";
import { sourceOf } from "./syntax.ts";

const SOURCE = `import { other } from "./other.ts";
const LIMIT: i32 = 3;
if (LIMIT > 4) { ERROR("too many"); }
/** One. */
export function pick(a: i32, b: i32): i32 {
  let sum = 0; assert(a > 0 && b > 0);
  for (let i = 0; i < a && b > 0; i++) sum += i;
  while (true) {
    if (sum > LIMIT || b == 7) break;
    sum += b > 2 ? other(a) : 1;
  }
  switch (sum) {
    case 1: return 5;
    default: return sum;
  }
}
`;
const file = new CountedFile("assembly/deep/pick.ts", SOURCE, 100);

describe("counted branches", () => {
  it("[EVID-001] are both ways of every condition, every case, every call", () => {
    const told = file.branches.map(({ line, kind, text, way }) => `${line} ${kind} ${text} ${way}`);
    expect(told).toEqual([
      "5 function pick called",
      "7 loop i < a && b > 0 true",
      "7 loop i < a && b > 0 false",
      "7 && i < a true",
      "7 && i < a false",
      "9 if sum > LIMIT || b == 7 true",
      "9 if sum > LIMIT || b == 7 false",
      "9 || sum > LIMIT true",
      "9 || sum > LIMIT false",
      "10 ?: b > 2 true",
      "10 ?: b > 2 false",
      "13 switch sum 1",
      "14 switch sum default",
    ]);
  });

  it("[EVID-002] leave the source what it was, each way counted under a number of its own", () => {
    const { counted } = file;
    expect(counted).toContain('from "../branch-count.ts"');
    expect(counted).toContain(
      "i < ((((i < a) ? wayTaken(103) : wayLeft(104)) && b > 0) ? wayTaken(101) : wayLeft(102))".slice(
        4,
      ),
    );
    const plain = counted
      .replace(/^import \{ wayLeft.*\n/, "")
      .replaceAll(/ wayTaken\(\d+\);/g, "")
      .replaceAll(/\) \? wayTaken\(\d+\) : wayLeft\(\d+\)\)/g, "")
      .replaceAll("((", "");
    expect(plain).toBe(SOURCE.replaceAll("((", ""));
    const ways = [...counted.matchAll(/way(?:Taken|Left)\((\d+)\)/g)].map(([, way]) => Number(way));
    expect(ways.toSorted((a, b) => a - b)).toEqual(file.branches.map((_, i) => 100 + i));
  });

  it("[EVID-004] count the label that was met, of several before the same statements", () => {
    const stacked = `function f(a: i32): i32 {
  switch (a) {
    case 1:
    case 2:
      return 5;
    case 3:
    default:
      return 6;
  }
}
`;
    const { branches, counted } = new CountedFile("assembly/f.ts", stacked, 0);
    expect(branches.map(({ way }) => way)).toEqual(["called", "1", "2", "3", "default"]);
    expect(counted).toContain("case 2: if (a == 1) wayTaken(1); else wayTaken(2);");
    expect(counted).toContain("default: if (a == 3) wayTaken(3); else wayTaken(4);");
    // The condition would be worked out twice.
    const called = stacked.replace("switch (a)", "switch (a + 1)");
    expect(() => new CountedFile("assembly/f.ts", called, 0)).toThrow("need a name");
  });

  it("[EVID-003] are told as a tracefile, a condition that is never met by dashes", () => {
    const counts = file.branches.map(({ line }) => (line === 10 ? 0 : 2));
    const lines = lcovOf(file.branches, counts).split("\n");
    expect(lines).toContain("FNDA:2,pick");
    expect(lines.filter((one) => one.startsWith("BRDA:10,"))).toEqual([
      "BRDA:10,5,0,-",
      "BRDA:10,5,1,-",
    ]);
    expect(lines).toContain("BRF:12");
    expect(lines).toContain("BRH:10");
  });
});

describe("equivalents", () => {
  it("[EVID-012] are mutants that there are, each with its argument", () => {
    for (const { path, was, becomes, why } of EQUIVALENT) {
      const found = mutantsOf(path, sourceOf(path)).filter(
        (one) => one.was === was && one.becomes === becomes,
      );
      expect(found.length, `${path}: ${becomes}`).toBeGreaterThan(0);
      expect(why.length).toBeGreaterThan(10);
    }
  });
});

describe("mutants", () => {
  const mutants = mutantsOf("assembly/pick.ts", SOURCE);
  const told = mutants.map(({ line, kind, edit }) => `${line} ${kind} ${edit.put}`);

  it("[EVID-010] are of every kind, and none of what the compiler settles", () => {
    expect(told.filter((one) => /^[123] /.test(one))).toEqual([]);
    expect(told).toContain("7 boundary <=");
    expect(told).toContain("7 comparison >=");
    expect(told).toContain("7 comparison ||");
    expect(told).toContain("7 removal ;");
    expect(told).toContain("9 comparison &&");
    expect(told).toContain("9 constant 8");
    expect(told).toContain("10 arithmetic -=");
  });

  it("[EVID-011] change one place each", () => {
    const texts = mutants.map((one) => mutated(SOURCE, one));
    expect(new Set(texts).size).toBe(texts.length);
    for (const [i, text] of texts.entries()) {
      const { from, until, put } = mutants[i]!.edit;
      expect(text).toBe(SOURCE.slice(0, from) + put + SOURCE.slice(until));
      expect(text).not.toBe(SOURCE);
    }
  });
});
