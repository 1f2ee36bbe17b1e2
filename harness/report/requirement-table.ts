// What a run proves of a list of requirements, as a table of the report.
import type {
  MatrixRow,
  ProofState,
  RequirementMatrix,
  ScenarioProof,
} from "../requirement/matrix.ts";
import { matrixCounts } from "../requirement/matrix.ts";
import { type Column, table } from "./case-tables.ts";
import { htmlText } from "./html-text.ts";

const WORDS: Record<ProofState, string> = {
  proven: "✓ proven",
  "not met": "✗ NOT MET",
  "in part": "◑ in part",
  "not run": "– not run",
};

const COLUMNS: Column[] = [
  { head: "Id" },
  { head: "What must be so" },
  { head: "Source" },
  { head: "By this run" },
  { head: "Scenarios, right of cases" },
  { head: "Tests, not run here" },
];

function proofWords({ right, cases, planned, files }: ScenarioProof): string {
  const said = cases === 0 ? "not run" : `${right} of ${cases}`;
  const rest = cases > 0 && cases < planned ? `, ${planned - cases} not run` : "";
  return `${said}${rest}${files > 1 ? `, ambiguous: ${files} files` : ""}`;
}

/** A path of the list that is that of no file. */
export const missingWords = (path: string): string =>
  `not run: ${path} (no scenario of this run has this path)`;

/** A name of the list that is that of several files. */
export const ambiguousWords = (path: string): string =>
  `ambiguous: ${path} (several scenarios of this run have this path; name more of its folders)`;

function row({ id, text, source, state, scenarios, tests }: MatrixRow): string[] {
  const proofs = scenarios.map((proof) => {
    return `<div>${htmlText(proof.path)}: ${proofWords(proof)}</div>`;
  });
  return [
    htmlText(id),
    htmlText(text),
    htmlText(source),
    WORDS[state],
    proofs.join(""),
    tests.map(htmlText).join(", "),
  ];
}

/** How many requirements are in each state, in words. */
export function matrixWords(matrix: RequirementMatrix): string {
  const counts = matrixCounts(matrix);
  const said = (Object.keys(WORDS) as ProofState[])
    .filter((state) => state === "proven" || counts[state] > 0)
    .map((state) => `${counts[state]} ${state === "not met" ? "NOT MET" : state}`);
  return `Requirements of ${matrix.file}: ${said.join(", ")}.`;
}

/** The matrix as a section; empty where there is none. */
export function requirementSection(matrix: RequirementMatrix | undefined): string {
  if (matrix === undefined) return "";
  const strangers = matrix.unknown.map(
    (one) => `<li>${htmlText(one.case)} names ${htmlText(one.id)}</li>`,
  );
  const unknown =
    strangers.length === 0
      ? ""
      : `<p class="note">Named, and no requirement of the list:</p><ul>${strangers.join("")}</ul>`;
  const astray = [...matrix.missing.map(missingWords), ...matrix.ambiguous.map(ambiguousWords)].map(
    (words) => `<li>${htmlText(words)}</li>`,
  );
  const lost = astray.length === 0 ? "" : `<ul>${astray.join("")}</ul>`;
  // What failed stands open; all the rest is a look-up.
  const isOpen = matrixCounts(matrix)["not met"] > 0 || strangers.length + astray.length > 0;
  return (
    `<details class="requirements"${isOpen ? " open" : ""}>` +
    `<summary>${htmlText(matrixWords(matrix))}</summary>\n` +
    table("Requirements and what proves them", COLUMNS, matrix.rows.map(row)) +
    `${unknown}${lost}<p class="note">Proven: every case of every scenario that is named was run and is ` +
    `right. In part: some were not run, or a name means several files. Tests prove it beside the scenarios, or alone where no ` +
    `scenario can show it, and are not run here.` +
    `</p></details>\n`
  );
}
