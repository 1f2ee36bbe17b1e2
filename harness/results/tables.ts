// The numbers of a campaign as Parquet, to be asked by SQL: one row a case, a check, a number. The
// package that writes it is loaded only where it is asked for, and need not be there.
import { mkdirSync } from "node:fs";
import { join } from "node:path";
import type { DuckDBAppender, DuckDBConnection } from "@duckdb/node-api";
import { ResultsError } from "./case-file.ts";
import { hasCase, readCase, tablesFolder } from "./results-folder.ts";
import type { CaseFailure, CaseResult, RunCase } from "./types.ts";

type Cell = string | number | boolean | null | undefined;
type Column = [name: string, type: "VARCHAR" | "DOUBLE" | "INTEGER" | "BOOLEAN"];

/** Units stand in the names; a value that is not there is NULL. */
const TABLES: Record<string, Column[]> = {
  cases: [
    ["place", "INTEGER"],
    ["id", "VARCHAR"],
    ["name", "VARCHAR"],
    ["file", "VARCHAR"],
    ["seed", "DOUBLE"],
    ["is_right", "BOOLEAN"],
    ["is_canary", "BOOLEAN"],
    ["duration_s", "DOUBLE"],
    ["took_s", "DOUBLE"],
    ["without_verdict", "VARCHAR"],
  ],
  checks: [
    ["id", "VARCHAR"],
    ["check_name", "VARCHAR"],
    ["source", "INTEGER"],
    ["is_right", "BOOLEAN"],
    ["judged", "INTEGER"],
    ["wrong", "INTEGER"],
    ["worst_ratio", "DOUBLE"],
    ["worst_error", "DOUBLE"],
    ["worst_tolerance", "DOUBLE"],
    ["unit", "VARCHAR"],
    ["worst_time", "DOUBLE"],
    ["why", "VARCHAR"],
  ],
  numbers: [
    ["id", "VARCHAR"],
    ["filter", "INTEGER"],
    ["name", "VARCHAR"],
    ["shown_least", "DOUBLE"],
    ["shown_most", "DOUBLE"],
    ["caution_level", "DOUBLE"],
    ["cautions", "INTEGER"],
    ["first_caution", "DOUBLE"],
    ["tolerance_share", "DOUBLE"],
  ],
};

/** Errors: ResultsError where the package is not there. */
export async function loadTables(): Promise<typeof import("@duckdb/node-api")> {
  try {
    return await import("@duckdb/node-api");
  } catch (error) {
    throw new ResultsError(
      "Parquet needs the package @duckdb/node-api, which is optional and is not here: " +
        "npm install @duckdb/node-api, or leave --parquet out",
      { cause: error },
    );
  }
}

function append(appender: DuckDBAppender, columns: readonly Column[], cells: Cell[]): void {
  for (const [i, [name, type]] of columns.entries()) {
    const cell = cells[i];
    if (cell === null || cell === undefined) appender.appendNull();
    else if (type === "VARCHAR") appender.appendVarchar(String(cell));
    else if (type === "BOOLEAN") appender.appendBoolean(cell === true);
    else if (typeof cell !== "number") throw new Error(`${name}: ${cell} is no number`);
    else if (type === "INTEGER") appender.appendInteger(cell);
    else appender.appendDouble(cell);
  }
  appender.endRow();
}

function checkRows({ id, verdict }: CaseResult): Cell[][] {
  return verdict.checks.map((one) => [
    id,
    one.check,
    one.source,
    one.isRight,
    one.judgedCount,
    one.wrongCount,
    one.worstRatio,
    one.worstError,
    one.worstTolerance,
    one.unit,
    one.worstTimeS,
    one.why,
  ]);
}

function numberRows({ id, verdict }: CaseResult): Cell[][] {
  return verdict.filters.map(({ filter, name, shownRange, cautionLevel, toleranceShare }) => {
    const cautions = verdict.events.filter(
      (event) => event.name === "caution-on" && event.source === filter,
    );
    return [
      id,
      filter,
      name,
      shownRange?.least,
      shownRange?.most,
      cautionLevel,
      cautions.length,
      cautions[0]?.timeS,
      toleranceShare,
    ];
  });
}

function caseRow(called: RunCase, result: CaseResult | undefined, why: string | undefined): Cell[] {
  const isInSeconds = result?.timeUnit === "s";
  return [
    called.place,
    called.id,
    called.name,
    called.file,
    result?.seed,
    result?.verdict.isRight,
    result?.verdict.isCanary,
    isInSeconds ? result.durationS : undefined,
    called.elapsedS,
    why,
  ];
}

async function fill(
  connection: DuckDBConnection,
  folder: string,
  cases: readonly RunCase[],
  failures: readonly CaseFailure[],
): Promise<void> {
  const appenders: Record<string, DuckDBAppender> = {};
  for (const [name, columns] of Object.entries(TABLES)) {
    const stated = columns.map(([column, type]) => `${column} ${type}`).join(", ");
    // oxlint-disable-next-line no-await-in-loop -- three tables, one after another
    await connection.run(`CREATE TABLE ${name} (${stated})`);
    // oxlint-disable-next-line no-await-in-loop
    appenders[name] = await connection.createAppender(name);
  }
  const put = (name: string, cells: Cell[]): void => append(appenders[name]!, TABLES[name]!, cells);
  const whyOf = new Map(failures.map(({ name, message }) => [name, message]));
  for (const called of cases) {
    const isThere = called.id !== undefined && hasCase(folder, called.id);
    const result = isThere ? readCase(folder, called.id!) : undefined;
    put("cases", caseRow(called, result, whyOf.get(called.name)));
    if (result === undefined) continue;
    for (const row of checkRows(result)) put("checks", row);
    for (const row of numberRows(result)) put("numbers", row);
  }
  for (const appender of Object.values(appenders)) appender.closeSync();
}

/**
 * Writes tables/cases.parquet, checks.parquet and numbers.parquet from the case files, one at a time.
 *
 * Errors    ResultsError: the package is missing, or the folder cannot be written
 */
export async function writeTables(
  folder: string,
  cases: readonly RunCase[],
  failures: readonly CaseFailure[],
): Promise<void> {
  const { DuckDBInstance } = await loadTables();
  const instance = await DuckDBInstance.create(":memory:");
  const connection = await instance.connect();
  try {
    mkdirSync(tablesFolder(folder), { recursive: true });
    await fill(connection, folder, cases, failures);
    for (const name of Object.keys(TABLES)) {
      const path = join(tablesFolder(folder), `${name}.parquet`).replaceAll("'", "''");
      // oxlint-disable-next-line no-await-in-loop -- three tables, one after another
      await connection.run(`COPY ${name} TO '${path}' (FORMAT PARQUET)`);
    }
  } finally {
    connection.closeSync();
    instance.closeSync();
  }
}
