// The start of a CSV recording: delimiter, header, columns, time.
import { closeSync, openSync, readSync } from "node:fs";
import Papa from "papaparse";
import { InputError } from "../../host/input-error.ts";
import { firstUnreadableByte, utf8Text } from "../../host/utf8.ts";
import { notANumber } from "./cell-words.ts";

const FIRST_ROWS = 64;
const HEAD_BYTES = 256 * 1024;
export const LINE_END = 10;
/** A line as long as this is no row of numbers. */
export const LINE_BYTES_MAX = 4 * 1024 * 1024;
const CHANNELS_MAX = 64;
const NAMES_OF_TIME = /^(t|time|seconds?)(\s*[[(]?\s*(s|sec|ms)?\s*[\])]?)?$/i;
/** What a sample that is no number may be written as; anything else in a cell is an error. */
export const NOT_A_NUMBER = /^[+-]?(nan|inf(inity)?)$|^$/i;

/** Where time stands in a CSV, and how. */
export interface CsvColumns {
  delimiter: string;
  names: string[];
  /** Line of the first row of values, from 1. */
  firstLine: number;
  /** −1 where there is none. */
  timeColumn: number;
  /** Seconds that one unit of the time column stands for. */
  timeUnitS: number;
}

export interface Head extends CsvColumns {
  /** Cells of the time column in the first rows; none where there is no such column. */
  firstTimes: string[];
  /** First time of the time column, s; 0 where there is none. */
  startS: number;
}

export function complain(path: string, line: number, column: number, message: string): InputError {
  return new InputError({ file: path, line, column, message });
}

/** Rows of a text up to an open quote, which would swallow all that follows; that is a fault. */
export function rowsOf(
  path: string,
  text: string,
  delimiter: string,
  firstLine: number,
): { rows: string[][]; fault?: InputError } {
  const { data: rows, errors } = Papa.parse<string[]>(text, { delimiter });
  const quote = errors.find((error) => error.type === "Quotes");
  if (quote !== undefined) {
    const row = quote.row ?? 0;
    const fault = complain(path, firstLine + row, 1, "a quotation mark is not closed");
    return { rows: rows.slice(0, row), fault };
  }
  // A text that ends with a line end has one empty row after it.
  if (text.endsWith("\n")) rows.pop();
  return { rows };
}

/** Text of the first lines; an unreadable byte beyond them waits until they are handed over. */
function headText(path: string, bytes: Buffer): string {
  const wrong = firstUnreadableByte(bytes);
  const before = wrong < 0 ? bytes : bytes.subarray(0, bytes.lastIndexOf(LINE_END, wrong) + 1);
  const text = before.toString();
  const isEnough = wrong < 0 || text.split("\n").length > FIRST_ROWS;
  return isEnough ? utf8Text(path, before) : utf8Text(path, bytes);
}

/** Rows of the start of a file, enough to see header, columns and the first time step. */
function firstRows(path: string, fileBytes: number): { rows: string[][]; delimiter: string } {
  const head = Buffer.alloc(Math.min(fileBytes, HEAD_BYTES));
  const file = openSync(path, "r");
  const got = readSync(file, head, 0, head.length, 0);
  closeSync(file);
  const isCut = got < fileBytes;
  const whole = isCut ? head.lastIndexOf(LINE_END) + 1 : got;
  // Where no line ends, what is wrong with the bytes is told before what is wrong with the line.
  const text = headText(path, head.subarray(0, whole === 0 ? got : whole));
  if (whole === 0 && got > 0) {
    const isOld = text.includes("\r");
    const why = isOld ? "lines end in CR alone, LF or CR LF is needed" : "no table of numbers";
    throw complain(path, 1, 1, `the first line is longer than ${HEAD_BYTES} bytes: ${why}`);
  }
  const firstLine = /[^\r\n]+/.exec(text)?.[0] ?? "";
  const delimiter = ["\t", ";"].find((mark) => firstLine.includes(mark)) ?? ",";
  const { rows, fault } = rowsOf(path, text, delimiter, 1);
  // A fault further down waits until the rows before it are handed over.
  if (fault !== undefined && rows.length < FIRST_ROWS) throw fault;
  return { rows: rows.slice(0, FIRST_ROWS), delimiter };
}

export function numberOf(cell: string): number {
  const text = cell.trim();
  return text === "" ? Number.NaN : Number(text);
}

function isNumberText(cell: string): boolean {
  return NOT_A_NUMBER.test(cell.trim()) || !Number.isNaN(numberOf(cell));
}

export function readHead(path: string, fileBytes: number): Head {
  const { rows, delimiter } = firstRows(path, fileBytes);
  const first = rows[0];
  if (first === undefined || rows.every((row) => row.every((cell) => cell.trim() === ""))) {
    throw complain(path, 1, 1, "the file is empty");
  }
  const hasHeader = first.some((cell) => !isNumberText(cell));
  if (first.length > CHANNELS_MAX) {
    throw complain(path, 1, 1, `${first.length} columns, at most ${CHANNELS_MAX} are read`);
  }
  const names = first.map((cell, i) => (hasHeader ? cell.trim() : `channel ${i + 1}`));
  const bad = names.findIndex((name) => name === "" || /^nan$/i.test(name));
  if (hasHeader && bad >= 0) {
    throw complain(path, 1, bad + 1, `column ${bad + 1} has no name (found "${first[bad]}")`);
  }
  const twice = names.findIndex((name, i) => names.indexOf(name) !== i);
  if (twice >= 0) throw complain(path, 1, twice + 1, `column name "${names[twice]}" stands twice`);
  const values = hasHeader ? rows.slice(1) : rows;
  if (!values.some((row) => row.length > 1 || row[0]!.trim() !== "")) {
    throw complain(path, 2, 1, "only a header, no samples");
  }
  const timeColumn = hasHeader ? names.findIndex((name) => NAMES_OF_TIME.test(name)) : -1;
  const timeUnitS = timeColumn >= 0 && /ms/i.test(names[timeColumn]!) ? 1e-3 : 1;
  const head = { delimiter, names, firstLine: hasHeader ? 2 : 1, timeColumn, timeUnitS };
  const firstTimes = timeCells(path, values, head);
  const startS = timeColumn < 0 ? 0 : numberOf(firstTimes[0]!) * timeUnitS;
  return { ...head, firstTimes, startS };
}

/** Cells of the time column in the first rows, which must be numbers, two at least. */
function timeCells(path: string, rows: string[][], columns: CsvColumns): string[] {
  const { timeColumn, firstLine } = columns;
  if (timeColumn < 0) return [];
  const whole = rows.filter((row) => row.length > 1);
  if (whole.length < 2) {
    const message = "one row; its time says no sample rate, two do";
    throw complain(path, firstLine + 1, timeColumn + 1, message);
  }
  return whole.map((row, i) => {
    const cell = row[timeColumn] ?? "";
    if (Number.isFinite(numberOf(cell))) return cell;
    throw complain(path, firstLine + i, timeColumn + 1, `time: ${notANumber(cell)}`);
  });
}
