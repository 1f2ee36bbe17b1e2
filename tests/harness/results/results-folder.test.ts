import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import {
  ResultsError,
  caseText,
  parseResults,
  writeCase,
} from "../../../harness/results/case-file.ts";
import {
  caseIds,
  prepareFolder,
  readCase,
  readSummary,
  removeOtherCases,
  writeSummary,
} from "../../../harness/results/results-folder.ts";
import { summaryOf, summaryRow } from "../../../harness/results/summary.ts";
import {
  RESULTS_VERSION,
  type CaseResult,
  type RunCase,
  type RunInfo,
} from "../../../harness/results/types.ts";
import { sampleCase, sampleCheck } from "../../kit/sample-case.ts";
import { sampleRun, sampleRunCases, wrongCase } from "../../kit/sample-run.ts";

let folder = "";
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline results "));
});
afterEach(() => {
  rmSync(folder, { recursive: true });
});

const RUN: RunInfo = {
  resultsVersion: RESULTS_VERSION,
  startedAt: "2026-01-01T00:00:00.000Z",
  elapsedS: 1,
  machine: { platform: "any", arch: "any", node: "v20", cpu: "any", cores: 1 },
  command: ["run", "."],
  isInterrupted: false,
  title: "Run",
  calledCount: 2,
  cases: sampleRunCases([sampleCase(), wrongCase("")]),
};

describe("results folder", () => {
  it("[RES-020] a case that was written reads back, its trace to 7 digits", () => {
    prepareFolder(folder);
    const written = sampleCase();
    writeCase(folder, written);
    const read = readCase(folder, written.id);
    expect(read.verdict.checks).toEqual(written.verdict.checks);
    const found = read.verdict.filters[0]!.trace.level;
    for (const [i, level] of written.verdict.filters[0]!.trace.level.entries()) {
      expect(Math.abs(found[i]! - level)).toBeLessThanOrEqual(Math.abs(level) * 5e-7);
    }
  });

  it("[RES-021] a case file holds the same bytes whenever it is written", () => {
    expect(caseText(sampleCase())).toBe(caseText(sampleCase()));
  });

  it("[RES-034] refuses a case whose fields are no case's, or that is nested without end", () => {
    prepareFolder(folder);
    const written = writeCase(folder, sampleCase());
    const path = join(folder, "cases", `${written.id}.json`);
    const refusal = (value: unknown): (() => unknown) => {
      writeFileSync(path, JSON.stringify(value));
      return () => readCase(folder, written.id);
    };
    const told = (field: string): string => `no case as a run writes it, by its field "${field}"`;
    expect(refusal({ ...written, name: 7 })).toThrow(told("name"));
    expect(refusal({ ...written, requirements: ["A-1", null] })).toThrow(told("requirements.1"));
    expect(refusal({ ...written, verdict: { filters: "none" } })).toThrow(told("verdict.filters"));
    let deep: unknown = 0;
    for (let i = 0; i < 200; i += 1) deep = [deep];
    expect(refusal({ ...written, see: deep })).toThrow("nested more than 100 deep");
    expect(refusal({ ...written, another: [{}] })()).toMatchObject({ another: [{}] });
  });

  it("[RES-022] leaves no half-written file behind, and counts none as a case", () => {
    prepareFolder(folder);
    writeCase(folder, sampleCase());
    writeFileSync(join(folder, "cases", "ffffffffffffffff.json.part"), "{");
    expect(caseIds(folder)).toEqual([sampleCase().id]);
    expect(readdirSync(folder)).toEqual(["cases"]);
  });

  it("[RES-023] writes run.json, summary.json and junit.xml; the summary reads back", () => {
    prepareFolder(folder);
    const summary = summaryOf([sampleCase(), wrongCase("why")].map(summaryRow), [], sampleRun());
    writeSummary(folder, RUN, summary);
    expect(readSummary(folder)).toEqual(summary);
    expect(summary).toMatchObject({ caseCount: 2, rightCount: 1, wrongCount: 1, simulatedS: 160 });
    expect(readFileSync(join(folder, "summary.json"), "utf8")).not.toContain(RUN.startedAt);
    expect(readdirSync(folder)).toEqual(["cases", "junit.xml", "run.json", "summary.json"]);
  });

  it("[RES-027] keeps paths and times out of every JSON file but run.json", () => {
    prepareFolder(folder);
    const summary = summaryOf([sampleCase(), wrongCase("why")].map(summaryRow), [], sampleRun());
    writeCase(folder, sampleCase());
    writeSummary(folder, RUN, summary);
    const [{ file, repeat }] = RUN.cases as [RunCase];
    const read = (...name: string[]): string => readFileSync(join(folder, ...name), "utf8");
    const others = [read("summary.json"), read("cases", `${sampleCase().id}.json`)];
    for (const text of others) for (const one of [file, repeat]) expect(text).not.toContain(one);
    expect(JSON.parse(read("run.json"))).toEqual(RUN);
  });

  it("[RES-028] holds null where no multiple of a tolerance tells what is wrong", () => {
    const result = wrongCase("why");
    result.verdict.checks[0] = sampleCheck({ isRight: false, worstRatio: null, worstError: null });
    const row = summaryRow(result);
    expect(row).toMatchObject({ worstRatio: null, worstCheck: "level" });
    const [level] = (JSON.parse(caseText(result)) as CaseResult).verdict.checks;
    expect(level).toMatchObject({ worstRatio: null, worstError: null });
    expect(JSON.stringify(row)).toContain('"worstRatio":null');
  });

  it("[RES-024] removes the cases of an earlier run and nothing else", () => {
    prepareFolder(folder);
    writeCase(folder, sampleCase());
    writeCase(folder, wrongCase("why"));
    writeFileSync(join(folder, "cases", "notes.txt"), "mine");
    removeOtherCases(folder, new Set([sampleCase().id]));
    expect(readdirSync(join(folder, "cases"))).toEqual([`${sampleCase().id}.json`, "notes.txt"]);
  });

  it("[RES-025] refuses a folder that is a file, in one plain sentence", () => {
    const path = join(folder, "taken");
    writeFileSync(path, "");
    expect(() => prepareFolder(path)).toThrow(ResultsError);
    expect(() => prepareFolder(path)).toThrow("is a file; the results need a folder");
  });

  it("[RES-026] refuses a folder below a file, in one plain sentence", () => {
    writeFileSync(join(folder, "taken"), "");
    const path = join(folder, "taken", "below");
    expect(() => prepareFolder(path)).toThrow("the output folder cannot be written");
  });
});

describe("results reader", () => {
  const text = (version: unknown): string =>
    JSON.stringify({ ...sampleCase(), resultsVersion: version });

  it("[RES-030] takes any minor number of its own major version", () => {
    expect(parseResults(text("3.7"), "a.json")).toMatchObject({ name: sampleCase().name });
  });

  it.each(["1.0", "2.1", "30.0"])("[RES-031] refuses version %s and names both", (version) => {
    const message = `a.json: results version ${version}; this program reads version 3 only`;
    expect(() => parseResults(text(version), "a.json")).toThrow(message);
  });

  it.each([undefined, 1, "one", "1"])("[RES-032] refuses a version that is none: %s", (version) => {
    expect(() => parseResults(text(version), "a.json")).toThrow("no results version");
  });

  it("[RES-033] refuses a file that was cut short", () => {
    const cut = text("3.0").slice(0, 500);
    expect(() => parseResults(cut, "a.json")).toThrow("a.json: not a whole JSON file");
  });
});
