import { stripVTControlCharacters } from "node:util";
import { describe, expect, it } from "vitest";
import { durationText, summaryLines } from "../../../harness/cli/console-summary.ts";
import { exitCodeOf } from "../../../harness/cli/run-cases.ts";
import { wrapped } from "../../../harness/cli/wrapped-text.ts";
import { summaryOf, summaryRow } from "../../../harness/results/summary.ts";
import type { CaseFailure } from "../../../harness/results/types.ts";
import type { RunOutcome } from "../../../harness/run/runner.ts";
import { SAMPLE_REPEAT, sampleCase } from "../../kit/sample-case.ts";
import { sampleRun, sampleRunCases, wrongCase } from "../../kit/sample-run.ts";

const LONG_WHY =
  "At 61.25 s the level of fan, front was 0.512 in/s pk, expected 0.444 ± 0.0294 in/s pk; " +
  "12 of 1400 steps wrong.";

function outcome(cases = [sampleCase()], failures: CaseFailure[] = []): RunOutcome {
  const summary = summaryOf(cases.map(summaryRow), failures, sampleRun());
  const names = [...cases, ...failures.map((one) => sampleCase({ name: one.name }))];
  return {
    summary,
    isInterrupted: false,
    resumedCount: 0,
    cases: sampleRunCases(names),
    stacks: [],
  };
}

function plainLines(one: RunOutcome, details: "all" | "wrong"): string[] {
  return summaryLines(one, "out/demo", details).map(stripVTControlCharacters);
}

const FAILURES: Record<string, CaseFailure> = {
  target: { name: "third", kind: "target", message: "the target failed at open: unplugged" },
  input: { name: "third", kind: "input", message: "third.scenario.yaml:3:1: no such order" },
  defect: { name: "third", kind: "defect", message: "not a function" },
};

describe("summary on the terminal", () => {
  it("[CLI-020] stays within 80 columns whatever the names, commands to paste apart", () => {
    const long = sampleCase({ name: "a very long name of a case ".repeat(6) });
    const all = outcome([long, wrongCase(LONG_WHY)], [FAILURES["target"]!]);
    const lines = [...plainLines(all, "all"), ...plainLines(all, "wrong")];
    const others = lines.filter((line) => line.trim() !== SAMPLE_REPEAT);
    expect(lines.length - others.length).toBe(4);
    expect(Math.max(...others.map((line) => line.length))).toBeLessThanOrEqual(80);
  });

  it("[CLI-021] tells of each scene what was seen, and where the report is", () => {
    expect(plainLines(outcome(), "all")).toEqual([
      "",
      "  right  a blade binds at start",
      "         fan, front: number 1.4 to 7.0; caution 33.4 to 52.0 s (ended by lost",
      "         validity)",
      "",
      "1 case: 1 right, none wrong. 80 s simulated.",
      "Core fedcba9876543210, seed 1.",
      "Report: out/demo/report.html",
      "",
    ]);
  });

  it("[CLI-022] tells why a case is wrong and how it is run again, whole on a line", () => {
    const many = Array.from({ length: 10 }, () => sampleCase());
    const lines = plainLines(outcome([...many, wrongCase("off by two tolerances")]), "wrong");
    expect(lines.slice(0, 9)).toEqual([
      "",
      "  WRONG  wrong case",
      "         off by two tolerances",
      "         fan, front: number 1.4 to 7.0; caution 33.4 to 52.0 s (ended by lost",
      "         validity)",
      expect.stringMatching(/^ {9}level .* of tolerance/),
      "         Run it again:",
      `         ${SAMPLE_REPEAT}`,
      "",
    ]);
    expect(lines).toContain("11 cases: 10 right, 1 WRONG. 14.7 min simulated.");
    const failed = plainLines(outcome([sampleCase()], [FAILURES["target"]!]), "wrong");
    expect(failed).toContain(`         ${SAMPLE_REPEAT}`);
  });

  it("[CLI-028] tells up to ten cases with their numbers and one line of margins", () => {
    const right = [
      "  right  a blade binds at start",
      "         fan, front: number 1.4 to 7.0; caution 33.4 to 52.0 s (ended by lost",
      "         validity)",
      "         level 0.82, phase 0.82 of tolerance; peak 2.0 over caution",
    ];
    const cases = (count: number) => Array.from({ length: count }, () => sampleCase());
    expect(plainLines(outcome(cases(1)), "wrong").slice(1, 5)).toEqual(right);
    const ten = plainLines(outcome(cases(10)), "wrong");
    expect(ten.filter((line) => line === right[3])).toHaveLength(10);
    const eleven = plainLines(outcome(cases(11)), "wrong");
    expect(eleven.filter((line) => right.includes(line))).toEqual([]);
    const many = sampleCase();
    const [filter] = many.verdict.filters;
    many.verdict.filters = [filter!, filter!, filter!, filter!];
    expect(plainLines(outcome([many]), "wrong")).toContain(
      "         and 2 more numbers in the report",
    );
  });

  it("[CLI-023] counts what it does not list", () => {
    const many = Array.from({ length: 30 }, (_, i) => wrongCase(`why ${i}`));
    expect(plainLines(outcome(many), "wrong")).toContain("  and 10 more in the report");
  });

  it("[CLI-029] tells a reason that cases in a row share once, and how many they are", () => {
    const failure = (name: string, message: string): CaseFailure => {
      return { name, kind: "target", message };
    };
    const lost = Array.from({ length: 300 }, (_, i) => failure(`case ${i}`, "not run: it is lost"));
    const failures = [failure("first", "the port closed"), ...lost, failure("last", "odd")];
    expect(plainLines(outcome([], failures), "wrong").slice(0, 14)).toEqual([
      "",
      "  NO VERDICT  first",
      "         the port closed",
      "         Run it again:",
      `         ${SAMPLE_REPEAT}`,
      "  NO VERDICT  case 0",
      "         and 299 cases after it:",
      "         not run: it is lost",
      "  NO VERDICT  last",
      "         odd",
      "         Run it again:",
      `         ${SAMPLE_REPEAT}`,
      "",
      "0 cases: 0 right, none wrong, 302 WITHOUT A VERDICT. 0 s simulated.",
    ]);
    const each = Array.from({ length: 25 }, (_, i) => failure(`case ${i >> 1}`, `why ${i >> 1}`));
    expect(plainLines(outcome([], each), "wrong")).not.toContainEqual(
      expect.stringContaining("more without"),
    );
    const many = Array.from({ length: 46 }, (_, i) => failure(`case ${i >> 1}`, `why ${i >> 1}`));
    expect(plainLines(outcome([], many), "wrong")).toContain("  and 6 more without a verdict");
  });

  it("[CLI-027] lets no name from a file steer the terminal", () => {
    const hostile = wrongCase("why \u001b]0;title\u0007\u001b[2J");
    hostile.name = "a\u001b[1A\nb";
    const text = summaryLines(outcome([hostile]), "out", "all").join("\n");
    expect(stripVTControlCharacters(text)).not.toMatch(/(?!\n)\p{Cc}/u);
    expect(text).toContain("a\u{fffd}[1A b");
    expect(text).toContain("why \u{fffd}]0;title\u{fffd}\u{fffd}[2J");
  });

  it("[CLI-024] says that a run was interrupted", () => {
    const lines = plainLines({ ...outcome(), isInterrupted: true }, "all");
    expect(lines).toContain("Interrupted: only what was finished is in the results.");
  });

  it.each([
    [0.25, "0.25 s"],
    [90, "90 s"],
    [600, "10 min"],
    [36_000, "10 h"],
  ])("[CLI-025] says %s seconds as %s", (seconds, text) => {
    expect(durationText(seconds)).toBe(text);
  });

  it("[CLI-026] breaks lines between words and keeps a long word whole", () => {
    expect(wrapped("one two three", 7)).toEqual(["one two", "three"]);
    expect(wrapped("abcdefghij kl", 5)).toEqual(["abcdefghij", "kl"]);
  });
});

describe("exit code", () => {
  it.each<[string, RunOutcome, number]>([
    ["all right", outcome(), 0],
    ["a wrong verdict", outcome([wrongCase("why")]), 1],
    ["an input that is wrong", outcome([sampleCase()], [FAILURES["input"]!]), 2],
    ["a target that failed", outcome([wrongCase("why")], [FAILURES["target"]!]), 3],
    ["a mistake of the program", outcome([sampleCase()], [FAILURES["defect"]!]), 3],
    ["an interrupt", { ...outcome([wrongCase("why")]), isInterrupted: true }, 130],
  ])("[CLI-030] of %s", (_name, one, code) => {
    expect(exitCodeOf(one)).toBe(code);
  });
});
