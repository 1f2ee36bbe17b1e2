// What stands behind the numbers: each figure runs its tests, or its command, in a process of its own
// and tells what they said.
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { installedCommand } from "../../host/installed-command.ts";
import type { MatrixRow } from "../../harness/requirement/matrix.ts";
import type { RowKind } from "../published/table/row.ts";
import { ROWS } from "../published/table/rows.ts";
import { ROOT } from "../repo/source-files.ts";
import { suiteFiles } from "../kit/regression-suite.ts";
import type { Figure, Measured } from "./figure.ts";

/** The whole choice of mutants takes hours on two cores; else a seeded sample. */
const MUTANTS = process.env["AMBERLINE_ALL_TESTS"] === "1" ? 520 : 40;
const CHECK_VALUES_MIN = 110;
const REQUIREMENTS_MIN = 40;

interface Ran {
  passed: number;
  failed: number;
  titles: string[];
}

/** Runs tests and counts them. Errors: throws where none was run. */
function ranTests(paths: readonly string[]): Ran {
  const folder = mkdtempSync(join(tmpdir(), "amberline-figure-"));
  try {
    const path = join(folder, "tests.json");
    const vitest = installedCommand("vitest", "vitest");
    const args = ["run", "--config", "tests/vitest.config.ts", "--reporter=json"];
    const done = spawnSync(process.execPath, [vitest, ...args, `--outputFile=${path}`, ...paths], {
      cwd: ROOT,
    });
    const told = JSON.parse(readFileSync(path, "utf8")) as {
      numPassedTests: number;
      numTotalTests: number;
      testResults: { assertionResults: { title: string }[] }[];
    };
    if (told.numTotalTests === 0) throw new Error(`no test in ${paths.join(" ")}`);
    return {
      passed: told.numPassedTests,
      // A file that does not load has no test, and fails the run all the same.
      failed: Math.max(told.numTotalTests - told.numPassedTests, done.status === 0 ? 0 : 1),
      titles: told.testResults.flatMap((one) => one.assertionResults.map(({ title }) => title)),
    };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

const said = ({ passed, failed }: Ran): string => `${passed} tests passed, ${failed} failed`;

/** Runs a script of this project; the last line that matches is what is told. */
function ranScript(script: string, args: readonly string[], line: RegExp): Measured {
  const tsx = installedCommand("tsx", "tsx");
  const done = spawnSync(process.execPath, [tsx, script, ...args], {
    cwd: ROOT,
    encoding: "utf8",
    maxBuffer: 1 << 28,
  });
  const found = done.stdout.split("\n").filter((one) => line.test(one));
  if (found.length === 0) throw new Error(done.stderr.slice(-400));
  return { text: found.join("; ").trim(), isOk: done.status === 0 };
}

async function values(): Promise<Measured> {
  const ran = ranTests(["tests/published"]);
  const tested = ROWS.filter(({ state }) => state.kind === "tested");
  const of = (kind: RowKind): number => tested.filter((one) => one.kind === kind).length;
  return {
    text:
      `${tested.length} of ${ROWS.length} tested (${of("published")} published, ` +
      `${of("computed here")} computed here, ${of("common practice")} common practice); ${said(ran)}`,
    isOk: tested.length >= CHECK_VALUES_MIN && ran.failed === 0,
  };
}

/** A figure that is reached where every test of some folders passes. */
function allPass(id: string, what: string, paths: readonly string[]): Figure {
  return {
    id,
    what,
    required: "none fails",
    async measure() {
      const ran = ranTests(paths);
      return { text: said(ran), isOk: ran.failed === 0 };
    },
  };
}

async function requirements(): Promise<Measured> {
  const folder = mkdtempSync(join(tmpdir(), "amberline-figure-"));
  try {
    const ran = ranTests(["tests/harness/requirement"]);
    const args = ["run", "harness/scenarios", "--out", join(folder, "out"), "--json"];
    const cli = join(ROOT, "harness", "cli", "amberline.ts");
    const tsx = installedCommand("tsx", "tsx");
    const done = spawnSync(process.execPath, [tsx, cli, ...args], {
      cwd: ROOT,
      encoding: "utf8",
      maxBuffer: 1 << 28,
    });
    const results = JSON.parse(readFileSync(join(folder, "out", "summary.json"), "utf8")) as {
      requirements: { rows: MatrixRow[] };
    };
    const { rows } = results.requirements;
    // What no scenario can show, tests alone prove: they are run by `npm test`.
    const byTests = rows.filter(
      ({ scenarios, tests }) => scenarios.length === 0 && tests.length > 0,
    );
    const open = rows.filter((one) => one.state !== "proven" && !byTests.includes(one));
    const proven = rows.length - open.length - byTests.length;
    const which = open.map(({ id, state }) => ` (${id} ${state})`).join("");
    return {
      text:
        `${rows.length}: ${proven} proven by ${suiteFiles().length} files of the suite, ` +
        `${byTests.length} by tests alone, ${open.length} open` +
        `${which}; ${said(ran)}`,
      isOk:
        done.status === 0 &&
        rows.length >= REQUIREMENTS_MIN &&
        open.length === 0 &&
        ran.failed === 0,
    };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

export const EVIDENCE_FIGURES: Figure[] = [
  {
    id: "EVIDENCE-VALUES",
    what: "check values from outside the project, through its own code",
    required: `at least ${CHECK_VALUES_MIN} tested, none fails`,
    measure: values,
  },
  allPass("EVIDENCE-LAWS", "laws of stages and whole path; a million steps against a model", [
    "tests/laws",
    "tests/assembly/caution.prop.test.ts",
    "tests/assembly/split.prop.test.ts",
    "tests/assembly/wild-input.prop.test.ts",
  ]),
  {
    id: "EVIDENCE-BRANCHES",
    what: "ways of the firmware's branches that its tests take, counted on wasm",
    required: "every way, or at most 10 listed with what they would need",
    measure: async () => ranScript("tests/evidence/coverage.ts", [], /^branches \d/),
  },
  {
    id: "EVIDENCE-MUTANTS",
    what: `changed firmware that the tests must notice: ${MUTANTS} mutants`,
    required: "at least 90 % killed, each survivor listed with its argument",
    measure: async () => {
      const args = ["--sample", String(MUTANTS), "--thorough"];
      return ranScript("tests/evidence/mutation.ts", args, /^(killed \d|\d+ mutants )/);
    },
  },
  allPass("EVIDENCE-LIBRARIES", "golden values of SciPy and Octave", ["tests/reference"]),
  {
    id: "EVIDENCE-REQUIREMENTS",
    what: "requirements of the indication that the suite and the tests prove",
    required: `at least ${REQUIREMENTS_MIN}, none without proof`,
    measure: requirements,
  },
  allPass("EVIDENCE-INPUT", "kinds of bad input, each through the command; a fuzz of each reader", [
    "tests/bad-input",
  ]),
];
