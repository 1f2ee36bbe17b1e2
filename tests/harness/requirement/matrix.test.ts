// Requirements against cases: what is proven, what is not met, what a run says nothing of.
import { describe, expect, it } from "vitest";
import { matrixCounts, requirementMatrix } from "../../../harness/requirement/matrix.ts";
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

const stateOf = (scenarios: string[], cases = CASES): string =>
  requirementMatrix("own.yaml", [requirement("OWN-1", scenarios, ["T-1"])], cases).rows[0]!.state;

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

  it("[REQ-004] a path is a whole path, whatever folder the run began in", () => {
    expect(stateOf(["steps/a-ste"])).toBe("not run");
    const below = CASES.map((one) => ({ ...one, name: `suite/${one.name}` }));
    expect(stateOf(["steps/a-step"], below)).toBe("proven");
    const inside = CASES.map((one) => ({ ...one, name: one.name.replace("steps/", "") }));
    expect(stateOf(["steps/a-step"], inside)).toBe("proven");
  });

  it("[REQ-005] a scenario that names a requirement stands in its row", () => {
    const { rows } = requirementMatrix("own.yaml", [requirement("OWN-7", [], ["T-1"])], CASES);
    expect(rows[0]!.scenarios).toEqual([{ path: "steps/a-step", right: 2, cases: 2 }]);
    expect(rows[0]!.source).toBe("standard, clause 1");
  });

  it("[REQ-006] a case that names a requirement of the list that is none is told", () => {
    const list = [requirement("OWN-1", ["steps/a-step"])];
    const { unknown } = requirementMatrix("own.yaml", list, [
      ...CASES,
      { name: "other", requirements: ["TRACK-001", "OWNER-1"], isRight: true },
    ]);
    expect(unknown).toEqual([{ id: "OWN-7", case: "steps/a-step[large]" }]);
  });

  it("[REQ-007] counts every row once", () => {
    const list = [["steps/a-step"], ["steps/a-turn"], ["none"], ["none"]].map((paths, i) =>
      requirement(`OWN-${i}`, paths),
    );
    const counts = matrixCounts(requirementMatrix("own.yaml", list, CASES));
    expect(counts).toEqual({ proven: 1, "not met": 1, "in part": 0, "not run": 2 });
  });
});
