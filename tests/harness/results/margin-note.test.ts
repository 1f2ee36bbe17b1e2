import { describe, expect, it } from "vitest";
import type { Verdict } from "../../../harness/judge/types.ts";
import { marginNote } from "../../../harness/results/margin-note.ts";
import { stepDecimals } from "../../../harness/results/step-decimals.ts";
import { sampleCase, sampleCheck } from "../../kit/sample-case.ts";

function verdict(most: number | undefined, changes: Partial<Verdict> = {}): Verdict {
  const { verdict: one } = sampleCase();
  const filter = { ...one.filters[0]!, displayStep: 0.25 };
  delete filter.shownRange;
  if (most !== undefined) filter.shownRange = { least: 0, most };
  return { ...one, filters: [filter], ...changes };
}

describe("note on margins", () => {
  it.each([
    [1.5, "peak 3.50 under caution"],
    [5, "peak at caution"],
    [7.25, "peak 2.25 over caution"],
  ])("[RES-045] says of a peak of %s: %s", (most, words) => {
    expect(marginNote(verdict(most))).toBe(`level 0.82, phase 0.82 of tolerance; ${words}`);
  });

  it("[RES-046] takes the worst ratio of all filters, and the number nearest to its caution", () => {
    const { checks, filters } = verdict(9);
    const other = sampleCheck({ source: 1, worstRatio: 0.97 });
    const nearer = { ...filters[0]!, filter: 1, shownRange: { least: 0, most: 4.75 } };
    const bare = { ...nearer, filter: 2 };
    delete bare.cautionLevel;
    const note = marginNote(
      verdict(9, { checks: [...checks, other], filters: [...filters, nearer, bare] }),
    );
    expect(note).toBe("level 0.97, phase 0.82 of tolerance; peak 0.25 under caution");
  });

  it("[RES-047] says what was not judged or is wrong as a whole, and fits its line", () => {
    const level = sampleCheck({ isRight: false, worstRatio: null, worstError: null });
    const phase = sampleCheck({ check: "phase", judgedCount: 0 });
    expect(marginNote(verdict(undefined, { checks: [level, phase] }))).toBe(
      "level wrong, phase not judged",
    );
    const longest = sampleCheck({ worstRatio: 0.9876 });
    expect(marginNote(verdict(1.5, { checks: [longest, phase] })).length).toBeLessThanOrEqual(71);
  });

  it.each([
    [1, 0],
    [0.1, 1],
    [0.5, 1],
    [0.25, 2],
    [0.02, 2],
  ])("[RES-048] writes a number of step %s with %i decimals", (step, places) => {
    expect(stepDecimals(step)).toBe(places);
  });
});
