// CSV recordings, read in runs: a header row or none, one column a channel, perhaps one of time.
import { closeSync, createReadStream, openSync, readSync } from "node:fs";
import Papa from "papaparse";
import { InputError } from "../../host/input-error.ts";
import { utf8Text } from "../../host/utf8.ts";
import { notANumber } from "./cell-words.ts";
import { openableFileBytes } from "./openable-file.ts";
import { type Recording, RUN_SAMPLES, type SampleRun } from "./recording.ts";

/** Share of a sample period by which the time column may differ from even steps. */
const TIME_STEP_TOLERANCE = 0.01;
const FIRST_ROWS = 64;
const HEAD_BYTES = 256 * 1024;
const LINE_END = 10;
/** A line as long as this is no row of numbers. */
const LINE_BYTES_MAX = 4 * 1024 * 1024;
const CHANNELS_MAX = 64;
const NAMES_OF_TIME = /^(t|time|seconds?)(\s*[[(]?\s*(s|sec|ms)?\s*[\])]?)?$/i;
/** What a sample that is no number may be written as; anything else in a cell is an error. */
const NOT_A_NUMBER = /^[+-]?(nan|inf(inity)?)$|^$/i;

interface Head {
  delimiter: string;
  names: string[];
  /** Line of the first row of values, from 1. */
  firstLine: number;
  timeColumn: number;
  /** Seconds that one unit of the time column stands for. */
  timeUnitS: number;
  sampleRateHz: number | undefined;
  /** First time of the time column, s; 0 where there is none. */
  startS: number;
}

function complain(path: string, line: number, column: number, message: string): InputError {
  return new InputError({ file: path, line, column, message });
}

/** Rows of a text; an open quote, which would swallow all that follows, is told by its line. */
function rowsOf(path: string, text: string, delimiter: string, firstLine: number): string[][] {
  const { data, errors } = Papa.parse<string[]>(text, { delimiter });
  const quote = errors.find((error) => error.type === "Quotes");
  if (quote !== undefined) {
    throw complain(path, firstLine + (quote.row ?? 0), 1, "a quotation mark is not closed");
  }
  // A text that ends with a line end has one empty row after it.
  if (text.endsWith("\n")) data.pop();
  return data;
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
  const text = utf8Text(path, head.subarray(0, whole === 0 ? got : whole));
  if (whole === 0 && got > 0) {
    const isOld = text.includes("\r");
    const why = isOld ? "lines end in CR alone, LF or CR LF is needed" : "no table of numbers";
    throw complain(path, 1, 1, `the first line is longer than ${HEAD_BYTES} bytes: ${why}`);
  }
  const firstLine = /[^\r\n]+/.exec(text)?.[0] ?? "";
  const delimiter = ["\t", ";"].find((mark) => firstLine.includes(mark)) ?? ",";
  const rows = rowsOf(path, text, delimiter, 1).slice(0, FIRST_ROWS);
  return { rows, delimiter };
}

function numberOf(cell: string): number {
  const text = cell.trim();
  return text === "" ? Number.NaN : Number(text);
}

function isNumberText(cell: string): boolean {
  return NOT_A_NUMBER.test(cell.trim()) || !Number.isNaN(numberOf(cell));
}

function readHead(path: string, fileBytes: number): Head {
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
  const startS = timeColumn < 0 ? 0 : numberOf(values[0]![timeColumn] ?? "") * timeUnitS;
  return { ...head, sampleRateHz: rateOf(path, values, head), startS };
}

/** Sample rate from the first rows of the time column, by the mean step. */
function rateOf(
  path: string,
  rows: string[][],
  head: Pick<Head, "timeColumn" | "timeUnitS" | "firstLine">,
): number | undefined {
  if (head.timeColumn < 0) return undefined;
  const whole = rows.filter((row) => row.length > 1);
  if (whole.length < 2) {
    const line = head.firstLine + 1;
    throw complain(
      path,
      line,
      head.timeColumn + 1,
      "one row; its time says no sample rate, two do",
    );
  }
  const times = whole.map((row, i) => {
    const time = numberOf(row[head.timeColumn] ?? "");
    if (!Number.isFinite(time)) {
      const words = `time: ${notANumber(row[head.timeColumn] ?? "")}`;
      throw complain(path, head.firstLine + i, head.timeColumn + 1, words);
    }
    return time * head.timeUnitS;
  });
  const stepS = (times.at(-1)! - times[0]!) / (times.length - 1);
  if (!(stepS > 0)) {
    throw complain(path, head.firstLine + 1, head.timeColumn + 1, "time does not ascend");
  }
  return 1 / stepS;
}

/**
 * Opens a CSV recording: comma, semicolon or tab; with or without a header; a column called time
 * (`time`, `t`, `time [ms]`) gives the sample rate and is no channel.
 *
 * Errors    InputError with line and column: empty, header only, no UTF-8, NaN in the header. A
 *           fault further on (ragged rows, text in a number, NaN in the time column, a time that
 *           does not ascend evenly) ends the runs and stands in `fault`. NaN and empty cells among
 *           the samples are counted and passed on.
 */
export async function openCsv(path: string): Promise<Recording> {
  const head = readHead(path, openableFileBytes(path));
  const columns = head.names.map((_, i) => i).filter((i) => i !== head.timeColumn);
  if (columns.length === 0) throw complain(path, 1, 1, "a time column and no channel");
  const notFiniteCount = columns.map(() => 0);
  const notes =
    head.startS === 0
      ? []
      : [
          `The file's time starts at ${head.startS} s; ` +
            "all times here, edges and speeds among them, count from its first sample.",
        ];
  const recording: Recording = {
    path,
    channelNames: columns.map((i) => head.names[i]!),
    sampleRateHz: head.sampleRateHz,
    sampleCount: undefined,
    fullScale: undefined,
    notes,
    notFiniteCount,
    fault: undefined,
    runs: () => readableRuns(recording, new CsvRuns(path, head, columns, notFiniteCount)),
  };
  return recording;
}

/** The runs up to the first fault, which is noted. */
async function* readableRuns(recording: Recording, reader: CsvRuns): AsyncIterable<SampleRun> {
  try {
    yield* reader.iterate();
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    recording.fault = error;
    yield* reader.rest();
  }
}

/** One pass over the rows, gathered into runs. */
class CsvRuns {
  readonly #path: string;
  readonly #head: Head;
  readonly #columns: number[];
  readonly #notFinite: number[];
  #run: SampleRun;
  #filled = 0;
  #rowsDone = 0;
  #timeBefore = Number.NaN;

  constructor(path: string, head: Head, columns: number[], notFinite: number[]) {
    this.#path = path;
    this.#head = head;
    this.#columns = columns;
    this.#notFinite = notFinite;
    this.#run = this.#emptyRun();
  }

  #emptyRun(): SampleRun {
    return this.#columns.map(() => new Float32Array(RUN_SAMPLES));
  }

  async *iterate(): AsyncIterable<SampleRun> {
    this.#notFinite.fill(0);
    const stream = createReadStream(this.#path, { highWaterMark: 1 << 20 });
    let rest = Buffer.alloc(0);
    for await (const part of stream) {
      const bytes = Buffer.concat([rest, part as Buffer]);
      const cut = bytes.lastIndexOf(LINE_END) + 1;
      for (const row of this.#rowsOf(bytes.subarray(0, cut))) {
        if (this.#take(row)) yield this.#full(RUN_SAMPLES);
      }
      rest = bytes.subarray(cut);
      if (rest.length > LINE_BYTES_MAX) {
        const message = `a line of over ${LINE_BYTES_MAX} bytes: no row of numbers`;
        throw complain(this.#path, this.#rowsDone + 1, 1, message);
      }
    }
    for (const row of this.#rowsOf(rest)) {
      if (this.#take(row)) yield this.#full(RUN_SAMPLES);
    }
    yield* this.rest();
  }

  /** What was read and not yet handed over: also after an error. */
  *rest(): Iterable<SampleRun> {
    if (this.#filled > 0) yield this.#full(this.#filled);
  }

  /** Rows of whole lines, those of the header left out. */
  *#rowsOf(bytes: Buffer): Iterable<string[]> {
    if (bytes.length === 0) return;
    const firstLine = this.#rowsDone + 1;
    const text = utf8Text(this.#path, bytes, firstLine);
    for (const row of rowsOf(this.#path, text, this.#head.delimiter, firstLine)) {
      this.#rowsDone += 1;
      if (this.#rowsDone >= this.#head.firstLine) yield row;
    }
  }

  #full(count: number): SampleRun {
    const full = this.#run.map((samples) => samples.subarray(0, count));
    this.#run = this.#emptyRun();
    this.#filled = 0;
    return full;
  }

  /** Takes one row; true where the run is full. */
  #take(row: string[]): boolean {
    if (row.length === 1 && row[0]!.trim() === "") return false;
    if (row.length !== this.#head.names.length) {
      throw complain(
        this.#path,
        this.#rowsDone,
        Math.min(row.length, this.#head.names.length) + 1,
        `${row.length} columns, expected ${this.#head.names.length}`,
      );
    }
    if (this.#head.timeColumn >= 0) this.#takeTime(row[this.#head.timeColumn]!);
    for (let i = 0; i < this.#columns.length; i += 1) {
      const column = this.#columns[i]!;
      const value = numberOf(row[column]!);
      if (!Number.isFinite(value)) {
        if (!NOT_A_NUMBER.test(row[column]!.trim())) {
          throw complain(this.#path, this.#rowsDone, column + 1, notANumber(row[column]!));
        }
        this.#notFinite[i]! += 1;
      }
      this.#run[i]![this.#filled] = value;
    }
    this.#filled += 1;
    return this.#filled === RUN_SAMPLES;
  }

  #takeTime(cell: string): void {
    const column = this.#head.timeColumn + 1;
    const time = numberOf(cell) * this.#head.timeUnitS;
    if (!Number.isFinite(time)) {
      throw complain(this.#path, this.#rowsDone, column, `time: ${notANumber(cell)}`);
    }
    const step = (time - this.#timeBefore) * this.#head.sampleRateHz!;
    if (Math.abs(step - 1) > Math.max(TIME_STEP_TOLERANCE, this.#timeRounding(cell))) {
      throw complain(
        this.#path,
        this.#rowsDone,
        column,
        `time steps by ${step.toPrecision(4)} sample periods, even steps are needed`,
      );
    }
    this.#timeBefore = time;
  }

  /** Sample periods that the last written digit of a time stands for: what rounding may add. */
  #timeRounding(cell: string): number {
    const decimals = /\.(\d*)/.exec(cell)?.[1]?.length ?? 0;
    return 10 ** -decimals * this.#head.timeUnitS * this.#head.sampleRateHz!;
  }
}
