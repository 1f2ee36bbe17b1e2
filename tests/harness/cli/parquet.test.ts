// Tables of a run and of merged shards, read back by SQL and held against the case files.
import { mkdtempSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import { readCase, readSummary } from "../../../harness/results/results-folder.ts";
import { loadTables } from "../../../harness/results/tables.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

const TIME_OUT_MS = 300_000;
let folder = "";
const at = (...names: string[]): string => join(folder, ...names);

async function rowsOf(sql: string): Promise<Record<string, unknown>[]> {
  const { DuckDBInstance } = await loadTables();
  const instance = await DuckDBInstance.create(":memory:");
  const connection = await instance.connect();
  try {
    return (await connection.runAndReadAll(sql)).getRowObjects();
  } finally {
    connection.closeSync();
    instance.closeSync();
  }
}

/** A table's file as SQL names it. */
const table = (out: string, name: string): string =>
  `'${at(out, "tables", `${name}.parquet`).replaceAll("'", "''")}'`;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "amberline it's tables "));
  writeScenarios(folder, {
    low: scenarioText(),
    high: scenarioText({ amplitude: "3 in/s pk" }),
    never: scenarioText({ amplitude: "3 in/s pk", more: "expect:\n  caution never: [fan]\n" }),
  });
}, TIME_OUT_MS);
afterAll(() => {
  rmSync(folder, { recursive: true, force: true });
});

const FILES = ["low", "high", "never"].map((name) => `${name}.scenario.yaml`);

describe("tables of a campaign", { timeout: TIME_OUT_MS }, () => {
  it("[PARQ-001] hold what the case files hold: cases, checks, numbers", async () => {
    const files = FILES.map((name) => at(name));
    const args = ["run", ...files, "--jobs", "1", "--out", at("one"), "--parquet"];
    expect((await amberlineHere(args)).code).toBe(1);
    expect(readdirSync(at("one", "tables")).toSorted()).toEqual([
      "cases.parquet",
      "checks.parquet",
      "numbers.parquet",
    ]);
    const home = table("one", "cases");
    const cases = await rowsOf(`SELECT * FROM ${home} ORDER BY place`);
    const { cases: rows } = readSummary(at("one"));
    expect(
      cases.map(({ id, name, is_right, duration_s }) => [id, name, is_right, duration_s]),
    ).toEqual(rows.map(({ id, name, isRight, durationS }) => [id, name, isRight, durationS]));
    const checks = await rowsOf(
      `SELECT * FROM ${table("one", "checks")} WHERE id = '${rows[2]!.id}'`,
    );
    const { verdict } = readCase(at("one"), rows[2]!.id);
    expect(checks.map((one) => [one["check_name"], one["is_right"], one["worst_ratio"]])).toEqual(
      verdict.checks.map((one) => [one.check, one.isRight, one.worstRatio]),
    );
    const numbers = await rowsOf(
      `SELECT name, shown_most, cautions, first_caution FROM ` +
        `${table("one", "numbers")} WHERE id = '${rows[1]!.id}'`,
    );
    const [filter] = readCase(at("one"), rows[1]!.id).verdict.filters;
    expect(numbers).toMatchObject([
      { name: "fan", shown_most: filter!.shownRange!.most, cautions: 1 },
    ]);
    expect(numbers[0]!["first_caution"]).toBeGreaterThan(0);
  });

  it("[PARQ-002] of merged shards are those of one run; a run without them leaves none", async () => {
    const files = FILES.map((name) => at(name));
    for (const k of [1, 2]) {
      const shard = ["--shard", `${k}/2`, "--out", at(`part-${k}`)];
      // oxlint-disable-next-line no-await-in-loop -- one shard after another
      await amberlineHere(["run", ...files, "--jobs", "1", ...shard]);
    }
    const parts = [at("part-1"), at("part-2")];
    await amberlineHere(["merge", ...parts, "--out", at("all"), "--parquet"]);
    for (const name of ["checks", "numbers"]) {
      const [a, b] = ["one", "all"].map((out) => table(out, name));
      // oxlint-disable-next-line no-await-in-loop -- two tables
      const differing = await rowsOf(
        `(FROM ${a} EXCEPT FROM ${b}) UNION ALL (FROM ${b} EXCEPT FROM ${a})`,
      );
      expect(differing).toEqual([]);
    }
    await amberlineHere(["merge", ...parts, "--out", at("all"), "--replace"]);
    expect(readdirSync(at("all"))).not.toContain("tables");
  });

  it("[PARQ-003] where the package is missing the call ends with 2 before anything is run", async () => {
    vi.doMock("@duckdb/node-api", () => {
      throw new Error("not installed");
    });
    try {
      for (const args of [
        ["run", at("low.scenario.yaml"), "--out", at("none"), "--parquet"],
        ["merge", at("part-1"), at("part-2"), "--out", at("none"), "--parquet"],
      ]) {
        // oxlint-disable-next-line no-await-in-loop -- two calls
        const { code, stderr } = await amberlineHere(args);
        expect(code).toBe(2);
        expect(stderr.replace(/\s+/g, " ")).toContain("needs the package @duckdb/node-api");
      }
      expect(readdirSync(folder)).not.toContain("none");
    } finally {
      vi.doUnmock("@duckdb/node-api");
    }
  });
});
