// Requirements against the cases of a run: proven by it, not met, or nothing said of them.
import type { Requirement } from "./requirements-file.ts";

/** One case of a run, as far as it proves anything. */
export interface ProvingCase {
  name: string;
  /** Requirements that its scenario names. */
  requirements: readonly string[];
  /** Undefined: it has no verdict. */
  isRight: boolean | undefined;
}

export type ProofState =
  /** Every case of every scenario that is named was run and is right. */
  | "proven"
  /** A case is wrong or has no verdict. */
  | "not met"
  /** Some scenarios were run and are right, others were not run. */
  | "in part"
  /** None was run, or tests alone prove it. */
  | "not run";

export interface MatrixRow {
  id: string;
  text: string;
  /** In words: "regulation, 14 CFR …". */
  source: string;
  state: ProofState;
  /** Each scenario with how many of its cases were right. */
  scenarios: { path: string; right: number; cases: number }[];
  tests: string[];
}

export interface RequirementMatrix {
  /** The file, as it was named. */
  file: string;
  rows: MatrixRow[];
  /** Cases that name what no requirement is called, though it begins as theirs do. */
  unknown: { id: string; case: string }[];
}

/** The path that a case's name begins with: what stands before "[" of its row. */
function pathOf(name: string): string {
  return name.replace(/\[.*$/s, "");
}

/** True where a case's name is, or ends with, the path of a scenario. */
function isOf(name: string, path: string): boolean {
  const own = pathOf(name);
  return own === path || own.endsWith(`/${path}`) || path.endsWith(`/${own}`);
}

/** What ids of one list begin with: all before the last hyphen. */
const kindOf = (id: string): string => id.slice(0, id.lastIndexOf("-"));

function stateOf(scenarios: MatrixRow["scenarios"]): ProofState {
  const run = scenarios.filter(({ cases }) => cases > 0);
  if (run.some(({ right, cases }) => right < cases)) return "not met";
  if (run.length === 0) return "not run";
  return run.length === scenarios.length ? "proven" : "in part";
}

/**
 * The matrix of a run.
 *
 * Shape     a row for each requirement, in the order of the file; a scenario that names one itself
 *           stands in its row, too
 */
export function requirementMatrix(
  file: string,
  requirements: readonly Requirement[],
  cases: readonly ProvingCase[],
): RequirementMatrix {
  const rows = requirements.map(({ id, text, source, scenarios, tests }): MatrixRow => {
    const naming = cases
      .filter((one) => one.requirements.includes(id))
      .map(({ name }) => pathOf(name));
    const others = [...new Set(naming)].filter((path) => !scenarios.some((one) => isOf(path, one)));
    const proofs = [...scenarios, ...others].map((path) => {
      const own = cases.filter(({ name }) => isOf(name, path));
      return {
        path,
        right: own.filter(({ isRight }) => isRight === true).length,
        cases: own.length,
      };
    });
    const words = source.cite === "" ? source.kind : `${source.kind}, ${source.cite}`;
    return { id, text, source: words, state: stateOf(proofs), scenarios: proofs, tests };
  });
  const known = new Set(requirements.map(({ id }) => id));
  // A scenario may name ids of another list beside those of this one.
  const kinds = new Set(requirements.map(({ id }) => kindOf(id)));
  const isStranger = (id: string): boolean => !known.has(id) && kinds.has(kindOf(id));
  const unknown = cases.flatMap(({ name, requirements: named }) =>
    named.filter(isStranger).map((id) => ({ id, case: name })),
  );
  return { file, rows, unknown };
}

/** How many rows are in each state. */
export function matrixCounts({ rows }: RequirementMatrix): Record<ProofState, number> {
  const of = (state: ProofState): number => rows.filter((one) => one.state === state).length;
  return {
    proven: of("proven"),
    "not met": of("not met"),
    "in part": of("in part"),
    "not run": of("not run"),
  };
}
