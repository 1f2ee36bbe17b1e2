// Small tables of numbers, whole in memory in f64: edge times, speeds over time, recorded levels.
import { readFileSync } from "node:fs";
import Papa from "papaparse";
import { fileComplaint, InputError } from "../../host/input-error.ts";
import { openableFileBytes } from "./openable-file.ts";

const TABLE_BYTES_MAX = 512 * 1024 * 1024;

export interface NumberTable {
  path: string;
  /** Empty where the file has no header. */
  names: string[];
  columns: Float64Array[];
  /** Line of row 0 in the file, from 1. */
  firstLine: number;
}

function isNumber(cell: string): boolean {
  return cell.trim() !== "" && Number.isFinite(Number(cell));
}

/**
 * Reads a table whose every cell is a finite number, with a header row or none.
 *
 * Errors    InputError with line and column: empty, header only, ragged, text, NaN; over 512 MiB
 */
export function readNumberTable(path: string): NumberTable {
  if (openableFileBytes(path) > TABLE_BYTES_MAX) {
    throw fileComplaint(path, "is over 512 MiB; a table of numbers is meant");
  }
  const text = readFileSync(path, "utf8").replace(/^\ufeff/, "");
  const firstLine = /[^\r\n]+/.exec(text)?.[0] ?? "";
  const delimiter = ["\t", ";"].find((mark) => firstLine.includes(mark)) ?? ",";
  const rows = Papa.parse<string[]>(text, { delimiter }).data;
  while (rows.length > 0 && rows.at(-1)!.every((cell) => cell.trim() === "")) rows.pop();
  const complain = (line: number, column: number, message: string): InputError =>
    new InputError({ file: path, line, column, message });
  if (rows.length === 0) throw complain(1, 1, "the file is empty");
  const hasHeader = rows[0]!.every((cell) => !isNumber(cell));
  const names = hasHeader ? rows.shift()!.map((cell) => cell.trim()) : [];
  if (rows.length === 0) throw complain(2, 1, "only a header, no rows");
  const width = hasHeader ? names.length : rows[0]!.length;
  const columns = Array.from({ length: width }, () => new Float64Array(rows.length));
  for (const [i, row] of rows.entries()) {
    const line = i + (hasHeader ? 2 : 1);
    if (row.length !== width) {
      const column = Math.min(row.length, width) + 1;
      throw complain(line, column, `${row.length} columns, expected ${width}`);
    }
    for (const [c, cell] of row.entries()) {
      if (!isNumber(cell)) throw complain(line, c + 1, `"${cell.slice(0, 40)}" is not a number`);
      columns[c]![i] = Number(cell);
    }
  }
  return { path, names, columns, firstLine: hasHeader ? 2 : 1 };
}

/**
 * The first columns of a table, as many as are needed.
 *
 * Errors    InputError where there are fewer
 */
export function tableColumns(table: NumberTable, count: number): Float64Array[] {
  if (table.columns.length < count) {
    throw fileComplaint(table.path, `has ${table.columns.length} columns, ${count} are needed`);
  }
  return table.columns.slice(0, count);
}

/** "speed [r/min]" → name and unit. */
export function nameAndUnit(head: string): [name: string, unit: string] {
  const match = /^([^[(]*?)\s*(?:[[(]\s*([^\])]*?)\s*[\])])?\s*$/.exec(head);
  return [(match?.[1] ?? head).trim().toLowerCase(), match?.[2] ?? ""];
}

/**
 * What a value of 1 in a column stands for, by the unit in brackets of its head; "" where none is.
 *
 * Errors    InputError where the unit is none of these
 */
export function columnFactor(
  table: NumberTable,
  column: number,
  units: Record<string, number>,
): number {
  const [, unit] = nameAndUnit(table.names[column] ?? "");
  const factor = units[unit];
  if (factor !== undefined) return factor;
  throw new InputError({
    file: table.path,
    line: 1,
    column: column + 1,
    message: `unit "${unit}" is not known here; ${Object.keys(units).filter(Boolean).join(", ")} are`,
  });
}
