// Every published or common figure that the product can be held against, in one table, and the
// checks that run the product's own code against them.
import { describe, expect, it } from "vitest";
import { readProjectFile } from "../repo/source-files.ts";
import { CHECKED } from "./check.ts";
import { DEFINITION, FROM_MEMORY, PRACTICE, WORKS } from "./table/row.ts";
import { ROWS, SECTION_COUNTS } from "./table/rows.ts";
import { TRAPS } from "./table/traps.ts";
import "./checks/units.ts";
import "./checks/rotors.ts";
import "./checks/passage.ts";
import "./checks/filters.ts";
import "./checks/filter-core.ts";
import "./checks/noise.ts";
import "./checks/methods.ts";
import "./checks/digital.ts";
import "./checks/frames.ts";
import "./checks/tachometer.ts";
import "./checks/alerts.ts";
import "./checks/runs.ts";
import "./checks/practice.ts";

const ids = ROWS.map((row) => row.id);
const withState = (kind: string) => ROWS.filter((row) => row.state.kind === kind);

/** The complaint that a source earns, or undefined. */
function sourceComplaint(source: string): string | undefined {
  if (source === DEFINITION || source === PRACTICE) return undefined;
  for (const part of source.split("; ")) {
    const work = part.endsWith(FROM_MEMORY) ? part.slice(0, -FROM_MEMORY.length) : part;
    if (!WORKS.some((one) => work.startsWith(one))) return `no known work: ${work}`;
  }
  return undefined;
}

describe("table of check values", () => {
  it("[PUB-001] holds 228 ids, each once, as many in each section as were collected", () => {
    expect(new Set(ids).size).toBe(ids.length);
    expect(ids).toHaveLength(228);
    const counts: Record<string, number> = {};
    for (const id of ids) counts[id[0]!] = (counts[id[0]!] ?? 0) + 1;
    expect(counts).toEqual(SECTION_COUNTS);
    for (const [section, count] of Object.entries(SECTION_COUNTS)) {
      for (let n = 1; n <= count; n += 1) {
        expect(ids).toContain(`${section}-${String(n).padStart(2, "0")}`);
      }
    }
  });

  it("[PUB-002] runs a check for every row that says so, and for no other", () => {
    const said = ROWS.filter((row) => row.state.kind !== "not yet").map((row) => row.id);
    expect([...CHECKED.registered].toSorted()).toEqual(said.toSorted());
    // Those above in this file have run before this test; run alone, by its name, none has.
    if (CHECKED.begun.size > 0) expect([...CHECKED.begun].toSorted()).toEqual(said.toSorted());
  });

  it("[PUB-003] tests at least 110 rows whole", () => {
    expect(withState("tested").length).toBeGreaterThanOrEqual(110);
  });

  it("[PUB-004] counts values that were only computed apart from those seen in print", () => {
    const count = (kind: string) => withState("tested").filter((row) => row.kind === kind).length;
    const counts = {
      published: count("published"),
      computed: count("computed here"),
      practice: count("common practice"),
    };
    process.stdout.write(
      `check values tested whole: ${counts.published} published, ${counts.computed} computed here, ` +
        `${counts.practice} common practice; ${withState("tested in part").length} in part, ` +
        `${withState("not yet").length} not yet\n`,
    );
    for (const row of ROWS) {
      const isNamed = row.source !== DEFINITION && row.source !== PRACTICE;
      // What was seen in print has a source that can be named.
      if (row.kind === "published") expect(isNamed, row.id).toBe(true);
      expect(row.kind === "common practice", row.id).toBe(row.source === PRACTICE);
    }
    expect(counts.published).toBeGreaterThan(0);
    expect(counts.published + counts.computed + counts.practice).toBe(withState("tested").length);
  });

  it("[PUB-005] names an author, a standard or a title, or says that there is none", () => {
    for (const row of ROWS) expect(sourceComplaint(row.source), row.id).toBeUndefined();
    for (const vague of ["handbook sine charts", "conversion table", "lock-in manual", "", "ISO"]) {
      expect(sourceComplaint(vague)).toMatch(/no known work/);
    }
    expect(sourceComplaint("ISO 2533; a tutorial")).toMatch(/no known work: a tutorial/);
  });

  it("[PUB-006] says of every row that is left out why", () => {
    for (const { id, title, state } of ROWS) {
      expect(title.length, id).toBeGreaterThan(3);
      if (state.kind === "not yet") expect(state.why.length, id).toBeGreaterThan(20);
      if (state.kind === "tested in part") expect(state.left.length, id).toBeGreaterThan(10);
    }
  });

  it("[PUB-007] runs a negative test for every trap, or says why there is nothing to fall into", () => {
    const rows = TRAPS.map((one) => one.row);
    expect(new Set(rows).size).toBe(rows.length);
    const known = ids.filter((id) => rows.includes(id));
    expect(known.toSorted()).toEqual(rows.toSorted());
    const said = TRAPS.filter((one) => one.noCode === undefined).map((one) => one.row);
    if (CHECKED.begun.size > 0) expect([...CHECKED.trapped].toSorted()).toEqual(said.toSorted());
    for (const { row, noCode } of TRAPS) {
      if (noCode !== undefined) expect(noCode.length, row).toBeGreaterThan(20);
    }
  });

  it("[PUB-008] counts in the README what is counted here", () => {
    const tested = withState("tested");
    const of = (kind: string) => tested.filter((row) => row.kind === kind).length;
    const sentence =
      `${tested.length} check values from outside (${of("published")} of them published, ` +
      `${of("computed here")} computed from a definition, ${of("common practice")} common practice)`;
    expect(readProjectFile("README.md")).toContain(sentence);
  });
});
