// Small tables of numbers, whole in memory in f64: edge times, speeds over time, recorded levels.
import { readFileSync } from "node:fs";
import Papa from "papaparse";
import { fileComplaint, InputError } from "../../host/input-error.ts";
import { utf8Text } from "../../host/utf8.ts";
import { notANumber } from "./cell-words.ts";
import { openableFileBytes } from "./openable-file.ts";

/** Under the longest text that the engine holds. */
const TABLE_BYTES_MAX = 256 * 1024 * 1024;

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

/** Columns of numbers that grow row by row: no row is kept as text. */
class GrowingTable {
  readonly #path: string;
  names: string[] = [];
  #columns: Float64Array[] = [];
  #rowCount = 0;
  #line = 0;
  /** Line of an empty row that only more empty rows may follow. */
  #emptyLine = 0;

  constructor(path: string) {
    this.#path = path;
  }

  #complain(line: number, column: number, message: string): InputError {
    return new InputError({ file: this.#path, line, column, message });
  }

  take(row: string[]): void {
    this.#line += 1;
    if (row.every((cell) => cell.trim() === "")) {
      if (this.#emptyLine === 0) this.#emptyLine = this.#line;
      return;
    }
    if (this.#emptyLine > 0) throw this.#complain(this.#emptyLine, 1, "this row is empty");
    if (this.#line === 1) {
      this.#columns = row.map(() => new Float64Array(1024));
      if (row.every((cell) => !isNumber(cell))) {
        this.names = row.map((cell) => cell.trim());
        return;
      }
    }
    this.#takeNumbers(row);
  }

  #takeNumbers(row: string[]): void {
    const width = this.#columns.length;
    if (row.length !== width) {
      const column = Math.min(row.length, width) + 1;
      throw this.#complain(this.#line, column, `${row.length} columns, expected ${width}`);
    }
    if (this.#rowCount === this.#columns[0]!.length) {
      this.#columns = this.#columns.map((column) => {
        const wider = new Float64Array(2 * column.length);
        wider.set(column);
        return wider;
      });
    }
    for (const [c, cell] of row.entries()) {
      if (!isNumber(cell)) throw this.#complain(this.#line, c + 1, notANumber(cell));
      this.#columns[c]![this.#rowCount] = Number(cell);
    }
    this.#rowCount += 1;
  }

  finish(): NumberTable {
    if (this.#columns.length === 0) throw this.#complain(1, 1, "the file is empty");
    if (this.#rowCount === 0) throw this.#complain(2, 1, "only a header, no rows");
    return {
      path: this.#path,
      names: this.names,
      columns: this.#columns.map((column) => column.slice(0, this.#rowCount)),
      firstLine: this.names.length > 0 ? 2 : 1,
    };
  }
}

/**
 * Reads a table whose every cell is a finite number, with a header row or none.
 *
 * Errors    InputError with line and column: empty, header only, ragged, text, NaN, no UTF-8; over
 *           256 MiB
 */
export function readNumberTable(path: string): NumberTable {
  const fileBytes = openableFileBytes(path);
  if (fileBytes > TABLE_BYTES_MAX) {
    throw fileComplaint(path, `has ${fileBytes} bytes; a table of numbers has at most 256 MiB`);
  }
  const text = utf8Text(path, readFileSync(path));
  const firstLine = /[^\r\n]+/.exec(text)?.[0] ?? "";
  const delimiter = ["\t", ";"].find((mark) => firstLine.includes(mark)) ?? ",";
  const table = new GrowingTable(path);
  let line = 0;
  Papa.parse<string[]>(text, {
    delimiter,
    step: ({ data, errors }) => {
      line += 1;
      if (errors.some((error) => error.type === "Quotes")) {
        const message = "a quotation mark is not closed";
        throw new InputError({ file: path, line, column: 1, message });
      }
      table.take(data);
    },
  });
  return table.finish();
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
