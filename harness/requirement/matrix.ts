// Requirements against the cases of a run: proven by it, not met, or nothing said of them.
import type { Requirement, RequirementList } from "./requirements-file.ts";
import { withoutEnding } from "./requirements-file.ts";

/** A scenario file that a run was given, with all its cases, those of it that were left out, too. */
export interface ScenarioFile {
  /** The whole path, with slashes. */
  path: string;
  /** Requirements are those that the scenario names. */
  cases: readonly { name: string; requirements: readonly string[] }[];
}

/** What a run was asked to prove, and what it was given to prove it by. */
export interface ProofTask extends RequirementList {
  files: readonly ScenarioFile[];
}

/** One case that was run. */
export interface ProvingCase {
  name: string;
  requirements: readonly string[];
  /** Undefined: it has no verdict. */
  isRight: boolean | undefined;
}

export type ProofState =
  /** Every case of every scenario that is named was run and is right. */
  | "proven"
  /** A case is wrong or has no verdict. */
  | "not met"
  /** What was run is right; some cases were not run, or a name means more than one file. */
  | "in part"
  /** None was run, or tests alone prove it. */
  | "not run";

/** A scenario that is named, and what became of its cases. */
export interface ScenarioProof {
  path: string;
  /** Of the cases that were run. */
  right: number;
  cases: number;
  /** All cases of the file, run or left out. */
  planned: number;
  /** How many files of the run the name means; with more than one it proves nothing. */
  files: number;
}

export interface MatrixRow {
  id: string;
  text: string;
  /** In words: "regulation, 14 CFR …". */
  source: string;
  state: ProofState;
  scenarios: ScenarioProof[];
  tests: string[];
}

export interface RequirementMatrix {
  /** The file, as it was named. */
  file: string;
  rows: MatrixRow[];
  /** Cases that name what no requirement is called, though it begins as theirs do. */
  unknown: { id: string; case: string }[];
  /** Paths of a user's list that are those of no file of the run. */
  missing: string[];
  /** Names of the list that are those of several files of the run. */
  ambiguous: string[];
}

const segmentsOf = (path: string): string[] =>
  withoutEnding(path)
    .split("/")
    .filter((one) => one !== "" && one !== ".");

/** True where a file's path is, or ends with, a name, at the borders of folders. */
function isNamed(path: string, name: string): boolean {
  const asked = segmentsOf(name);
  const tail = segmentsOf(path).slice(-asked.length);
  return tail.length === asked.length && tail.every((one, i) => one === asked[i]);
}

/** What ids of one list begin with: all before the last hyphen. */
const kindOf = (id: string): string => id.slice(0, id.lastIndexOf("-"));

function stateOf(proofs: readonly ScenarioProof[]): ProofState {
  if (proofs.some(({ right, cases }) => right < cases)) return "not met";
  if (proofs.every(({ cases }) => cases === 0)) return "not run";
  const isWhole = ({ cases, planned, files }: ScenarioProof): boolean =>
    files === 1 && cases === planned;
  return proofs.every(isWhole) ? "proven" : "in part";
}

function proofOf(
  path: string,
  files: readonly ScenarioFile[],
  isRight: ReadonlyMap<string, boolean | undefined>,
): ScenarioProof {
  const planned = files.flatMap(({ cases }) => cases.map(({ name }) => name));
  const run = planned.filter((name) => isRight.has(name));
  const right = run.filter((name) => isRight.get(name) === true).length;
  return { path, right, cases: run.length, planned: planned.length, files: files.length };
}

/**
 * The matrix of a run.
 *
 * Shape     a row for each requirement, in the order of the file; a scenario that names one itself
 *           stands in its row, too
 */
export function requirementMatrix(
  { file, requirements, files, isOwn }: ProofTask,
  cases: readonly ProvingCase[],
): RequirementMatrix {
  const isRight = new Map(cases.map((one) => [one.name, one.isRight]));
  const filesOf = (name: string): ScenarioFile[] => files.filter(({ path }) => isNamed(path, name));
  const rows = requirements.map((requirement: Requirement): MatrixRow => {
    const { id, text, source, scenarios, tests } = requirement;
    const listed = scenarios.map((path) => ({ path, own: filesOf(path) }));
    const others = files.filter(
      (one) =>
        one.cases.some(({ requirements: named }) => named.includes(id)) &&
        !listed.some(({ own }) => own.includes(one)),
    );
    const proofs = [
      ...listed.map(({ path, own }) => proofOf(path, own, isRight)),
      ...others.map((one) => proofOf(segmentsOf(one.path).at(-1)!, [one], isRight)),
    ];
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
  const names = [...new Set(requirements.flatMap(({ scenarios }) => scenarios))];
  // A part of the suite leaves most of the project's own list out, and no wonder.
  const missing = isOwn ? [] : names.filter((name) => filesOf(name).length === 0);
  const ambiguous = names.filter((name) => filesOf(name).length > 1);
  return { file, rows, unknown, missing, ambiguous };
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
