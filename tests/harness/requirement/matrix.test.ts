// Requirements against cases: what is proven, what is not met, what a run says nothing of.
import { describe, expect, it } from "vitest";
import {
  type ProvingCase,
  type ScenarioFile,
  matrixCounts,
  requirementMatrix,
} from "../../../harness/requirement/matrix.ts";
import type { Requirement } from "../../../harness/requirement/requirements-file.ts";

const requirement = (id: string, scenarios: string[], tests: string[] = []): Requirement => ({
  id,
  text: `what ${id} asks`,
  source: { kind: "standard", cite: "clause 1" },
  scenarios,
  tests,
});

const CASES = [
  { name: "steps/a-step[small]", requirements: [], isRight: true },
  { name: "steps/a-step[large]", requirements: ["OWN-7"], isRight: true },
  { name: "steps/a-turn", requirements: [], isRight: false },
  { name: "steps/broken", requirements: [], isRight: undefined },
];

const fileOf = (path: string, ...names: string[]): ScenarioFile => ({
  path: `/home/of/${path}.scenario.yaml`,
  cases: CASES.filter(({ name }) => names.includes(name)),
});
const FILES = [
  fileOf("steps/a-step", "steps/a-step[small]", "steps/a-step[large]"),
  fileOf("steps/a-turn", "steps/a-turn"),
  fileOf("steps/broken", "steps/broken"),
];

const matrixOf = (
  requirements: Requirement[],
  cases: ProvingCase[] = CASES,
  { files = FILES, isOwn = false } = {},
) => requirementMatrix({ file: "own.yaml", requirements, files, isOwn }, cases);

const stateOf = (scenarios: string[], cases: ProvingCase[] = CASES, files = FILES): string =>
  matrixOf([requirement("OWN-1", scenarios, ["T-1"])], cases, { files }).rows[0]!.state;

describe("requirement matrix", () => {
  it("[REQ-001] proven is what all cases of all its scenarios prove", () => {
    expect(stateOf(["steps/a-step"])).toBe("proven");
    expect(stateOf(["steps/a-step", "steps/not-there"])).toBe("in part");
  });

  it("[REQ-002] one wrong case, or one without a verdict, leaves it not met", () => {
    expect(stateOf(["steps/a-step", "steps/a-turn"])).toBe("not met");
    expect(stateOf(["steps/a-step", "steps/broken"])).toBe("not met");
  });

  it("[REQ-003] what was not run is not proven", () => {
    expect(stateOf(["steps/not-there"])).toBe("not run");
    expect(stateOf([])).toBe("not run");
  });

  it.each(["a-step", "steps/a-step", "of/steps/a-step", "./steps/a-step.scenario.yaml"])(
    "[REQ-004] %s is a scenario's path by the folders that it gives",
    (path) => expect(stateOf([path])).toBe("proven"),
  );

  it.each(["nowhere/at/all/a-step", "other/a-step", "teps/a-step", "steps/a-ste", "a-step/steps"])(
    "[REQ-004] %s is another scenario's path, right or wrong",
    (path) => {
      expect(stateOf([path])).toBe("not run");
      const wrong = CASES.map((one) => ({ ...one, isRight: false }));
      expect(stateOf([path], wrong)).toBe("not run");
    },
  );

  it("[REQ-025] a case that was left out leaves its scenario's requirement in part", () => {
    expect(stateOf(["steps/a-step"], CASES.slice(1))).toBe("in part");
    const { rows } = matrixOf([requirement("OWN-7", [], ["T-1"])], CASES.slice(1));
    expect(rows[0]!.state).toBe("in part");
    expect(matrixOf([requirement("OWN-7", [])], CASES.slice(2)).rows[0]!.state).toBe("not run");
  });

  it("[REQ-026] a name of several files proves nothing, and is told", () => {
    const files = [
      fileOf("one/a-step", "steps/a-step[small]"),
      fileOf("two/a-step", "steps/a-step[large]"),
    ];
    expect(stateOf(["a-step"], CASES, files)).toBe("in part");
    expect(stateOf(["one/a-step"], CASES, files)).toBe("proven");
    const { ambiguous } = matrixOf([requirement("OWN-1", ["a-step", "one/a-step"])], CASES, {
      files,
    });
    expect(ambiguous).toEqual(["a-step"]);
    const wrong = CASES.map((one) => ({ ...one, isRight: one.name !== "steps/a-step[large]" }));
    expect(stateOf(["a-step"], wrong, files)).toBe("not met");
  });

  it("[REQ-027] a path of no file is told once, of a list that is not the project's", () => {
    const list = ["OWN-1", "OWN-2"].map((id) => requirement(id, ["steps/a-stpe", "steps/a-step"]));
    expect(matrixOf(list).missing).toEqual(["steps/a-stpe"]);
    // What was given and left out is there.
    expect(matrixOf(list, []).missing).toEqual(["steps/a-stpe"]);
    expect(matrixOf(list, CASES, { isOwn: true }).missing).toEqual([]);
  });

  it("[REQ-005] a scenario that names a requirement stands in its row", () => {
    const { rows } = matrixOf([requirement("OWN-7", [], ["T-1"])]);
    expect(rows[0]!.scenarios).toEqual([
      { path: "a-step", right: 2, cases: 2, planned: 2, files: 1 },
    ]);
    expect(rows[0]!.source).toBe("standard, clause 1");
  });

  it("[REQ-006] a case that names a requirement of the list that is none is told", () => {
    const list = [requirement("OWN-1", ["steps/a-step"])];
    const { unknown } = matrixOf(list, [
      ...CASES,
      { name: "other", requirements: ["TRACK-001", "OWNER-1"], isRight: true },
    ]);
    expect(unknown).toEqual([{ id: "OWN-7", case: "steps/a-step[large]" }]);
  });

  it("[REQ-007] counts every row once", () => {
    const list = [["steps/a-step"], ["steps/a-turn"], ["none"], ["none"]].map((paths, i) =>
      requirement(`OWN-${i}`, paths),
    );
    const counts = matrixCounts(matrixOf(list));
    expect(counts).toEqual({ proven: 1, "not met": 1, "in part": 0, "not run": 2 });
  });
});
