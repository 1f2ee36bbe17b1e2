import { describe, expect, it } from "vitest";
import { filterNote } from "../../../harness/results/filter-note.ts";
import { sampleCase } from "../../kit/sample-case.ts";

describe("note on a number and its caution", () => {
  it("[RES-040] tells the valid number's range and each caution with its end", () => {
    const { filters, events } = sampleCase().verdict;
    expect(filterNote(filters[0]!, events)).toBe(
      "fan, front: number 1.4 to 7.0; caution 33.4 to 52.0 s (ended by lost validity)",
    );
  });

  it("[RES-041] tells that no caution came, that one is still on, that no number was valid", () => {
    const { filters, events } = sampleCase().verdict;
    const filter = filters[0]!;
    expect(filterNote(filter, [])).toContain("; no caution");
    expect(filterNote(filter, events.slice(0, 2))).toContain("; caution 33.4 s to the end");
    delete filter.shownRange;
    expect(filterNote(filter, [])).toBe("fan, front: number never valid; no caution");
  });

  it("[RES-042] counts the cautions of its own filter only", () => {
    const { filters, events } = sampleCase().verdict;
    const others = events.map((one) => ({ ...one, source: 1 }));
    expect(filterNote(filters[0]!, others)).toContain("no caution");
  });

  it("[RES-043] tells a number that never moved once", () => {
    const { filters } = sampleCase().verdict;
    const filter = filters[0]!;
    filter.shownRange = { least: 3.2, most: 3.2 };
    expect(filterNote(filter, [])).toBe("fan, front: number 3.2 throughout; no caution");
  });
});
