// A table in a scenario makes one case per row: `$column` stands for the row's cell, anywhere.
import { InputError, nearestHint } from "../../host/input-error.ts";
import type { Container, MemberPlace } from "../../host/profile/yaml-tree.ts";
import { copyRoot, placeIn, placeOf, setPlace } from "../../host/profile/yaml-tree.ts";

export interface CaseRow {
  /** Empty where the scenario has no table. */
  label: string;
  cells: Map<string, { value: unknown; place: MemberPlace | undefined }>;
}

/** Rows of one table: more is a mistake. */
const ROWS_MAX = 2000;
const COLUMN = /^[a-zA-Z][a-zA-Z0-9_]*$/u;
const MARK = /\$([a-zA-Z][a-zA-Z0-9_]*)/gu;

function refuse(root: Container, path: PropertyKey[], message: string): never {
  throw new InputError({ ...placeOf(root, path), message });
}

function checkColumn(root: Container, path: PropertyKey[], name: unknown): string {
  if (typeof name === "string" && COLUMN.test(name)) return name;
  return refuse(
    root,
    path,
    `a column must be a word of letters, digits and _, found ${String(name)}`,
  );
}

/** Rows as lists: the first names the columns. */
function rowsOfLists(root: Container, table: unknown[]): CaseRow[] {
  const head = table[0] as unknown[];
  const names = head.map((name, at) => checkColumn(root, ["cases", 0, at], name));
  const twice = names.find((name, at) => names.indexOf(name) !== at);
  if (twice !== undefined) refuse(root, ["cases", 0], `column ${twice} stands twice`);
  return table.slice(1).map((row, index) => {
    const path = ["cases", index + 1];
    if (!Array.isArray(row)) {
      return refuse(root, path, "row must be a list like the first, which names the columns");
    }
    if (row.length !== names.length) {
      refuse(root, path, `row has ${row.length} cells, the first row names ${names.length}`);
    }
    const cells: CaseRow["cells"] = new Map();
    for (const [at, name] of names.entries()) {
      cells.set(name, { value: row[at], place: placeIn(row, at) });
    }
    return { label: String(cells.get("case")?.value ?? row[0]), cells };
  });
}

/** Rows as maps: every row has the same keys. */
function rowsOfMaps(root: Container, table: unknown[]): CaseRow[] {
  const first = Object.keys(table[0] as object);
  return table.map((row, index) => {
    const path = ["cases", index];
    if (typeof row !== "object" || row === null || Array.isArray(row)) {
      return refuse(root, path, "row must be a map of columns like the first");
    }
    const names = Object.keys(row);
    for (const name of names) {
      checkColumn(root, [...path, name], name);
      if (first.includes(name)) continue;
      refuse(root, [...path, name], `row has a column "${name}"${nearestHint(name, first)}`);
    }
    const missing = first.find((name) => !names.includes(name));
    if (missing !== undefined) refuse(root, path, `row lacks the column "${missing}"`);
    const cells: CaseRow["cells"] = new Map();
    for (const [name, value] of Object.entries(row)) {
      cells.set(name, { value, place: placeIn(row as Container, name) });
    }
    return { label: String(cells.get("case")?.value ?? Object.values(row)[0]), cells };
  });
}

/**
 * The rows of a scenario's table; a single row without label where there is none.
 *
 * Errors    InputError: ragged rows, a column twice, a label twice, no rows
 */
export function caseRows(root: { [key: string]: unknown }): CaseRow[] {
  const table = root["cases"];
  if (table === undefined) return [{ label: "", cells: new Map() }];
  if (!Array.isArray(table) || table.length === 0) {
    return refuse(root, ["cases"], "cases must be a list of rows");
  }
  const isLists = Array.isArray(table[0]);
  if (!isLists && (typeof table[0] !== "object" || table[0] === null)) {
    return refuse(root, ["cases", 0], "row must be a list or a map of columns");
  }
  const rows = isLists ? rowsOfLists(root, table) : rowsOfMaps(root, table);
  if (rows.length === 0) return refuse(root, ["cases"], "cases names its columns but has no row");
  if (rows.length > ROWS_MAX) refuse(root, ["cases"], `cases has more than ${ROWS_MAX} rows`);
  const labels = new Set<string>();
  for (const [index, row] of rows.entries()) {
    const path = ["cases", isLists ? index + 1 : index];
    if (!/^[^[\]\n]{1,80}$/u.test(row.label)) {
      refuse(root, path, `row needs a label of 1 to 80 characters without brackets`);
    }
    if (labels.has(row.label)) refuse(root, path, `row "${row.label}" stands twice`);
    labels.add(row.label);
  }
  return rows;
}

/** Puts a row's cells in place of their marks. */
class Filling {
  readonly used = new Set<string>();
  readonly #row: CaseRow;
  constructor(row: CaseRow) {
    this.#row = row;
  }

  #cell(name: string, place: MemberPlace | undefined) {
    const cell = this.#row.cells.get(name);
    if (cell !== undefined) {
      this.used.add(name);
      return cell;
    }
    const names = [...this.#row.cells.keys()];
    const hint = names.length === 0 ? ": there is no table of cases" : nearestHint(name, names);
    const at = place?.value ?? { file: "", line: 0, column: 0 };
    throw new InputError({ ...at, message: `$${name} names no column${hint}` });
  }

  value(value: unknown, place: MemberPlace | undefined): { value: unknown; place?: MemberPlace } {
    if (typeof value === "string") {
      const whole = /^\$([a-zA-Z][a-zA-Z0-9_]*)$/u.exec(value);
      if (whole !== null) {
        const cell = this.#cell(whole[1]!, place);
        const at = cell.place && place && { key: place.key, value: cell.place.value };
        return { value: cell.value, place: at };
      }
      const text = value.replace(MARK, (_, name: string) => {
        return String(this.#cell(name, place).value);
      });
      return { value: text, place };
    }
    if (typeof value !== "object" || value === null) return { value, place };
    return { value: this.container(value as Container), place };
  }

  container(from: Container): Container {
    const to: Container = Array.isArray(from) ? [] : {};
    copyRoot(from, to);
    for (const [key, member] of Object.entries(from)) {
      const filled = this.value(member, placeIn(from, key));
      (to as Record<string, unknown>)[key] = filled.value;
      if (filled.place !== undefined) setPlace(to, key, filled.place);
    }
    return to;
  }
}

/**
 * The scenario of one row: every `$column` replaced, complaints then point at the row's cell.
 *
 * Errors    InputError: a mark that names no column, a column that is never used
 */
export function fillCase(
  root: { [key: string]: unknown },
  row: CaseRow,
): { [key: string]: unknown } {
  const { cases: _, ...rest } = root;
  for (const key of Object.keys(rest)) {
    const place = placeIn(root, key);
    if (place !== undefined) setPlace(rest, key, place);
  }
  copyRoot(root, rest);
  const filling = new Filling(row);
  const filled = filling.container(rest) as { [key: string]: unknown };
  for (const name of row.cells.keys()) {
    if (name === "case" || filling.used.has(name)) continue;
    if (name === [...row.cells.keys()][0] && !row.cells.has("case")) continue;
    const message = `column "${name}" is never used; write $${name} where it belongs`;
    throw new InputError({ ...placeOf(root, ["cases", 0], true), message });
  }
  return filled;
}
