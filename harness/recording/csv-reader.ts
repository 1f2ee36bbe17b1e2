// CSV recordings, read in runs: a header row or none, one column a channel, perhaps one of time.
import { createReadStream } from "node:fs";
import { InputError } from "../../host/input-error.ts";
import { firstUnreadableByte, utf8Text } from "../../host/utf8.ts";
import { notANumber } from "./cell-words.ts";
import {
  complain,
  type Head,
  LINE_BYTES_MAX,
  LINE_END,
  NOT_A_NUMBER,
  numberOf,
  readHead,
  rowsOf,
} from "./csv-head.ts";
import { openableFileBytes } from "./openable-file.ts";
import { type Recording, RUN_SAMPLES, type SampleRun } from "./recording.ts";
import { surveyTimes, type TimeSurvey } from "./time-survey.ts";

/** A drift of the rate below this share is not worth a word. */
const DRIFT_SHARE_TOLD = 1e-6;

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
  const times = head.timeColumn < 0 ? undefined : await surveyTimes(path, head, head.firstTimes);
  const recording: Recording = {
    path,
    channelNames: columns.map((i) => head.names[i]!),
    sampleRateHz: times?.sampleRateHz,
    sampleRateUncertaintyHz: times?.sampleRateUncertaintyHz,
    sampleCount: undefined,
    fullScale: undefined,
    notes: timeNotes(head, times),
    notFiniteCount,
    fault: undefined,
    runs: () =>
      readableRuns(recording, new CsvRuns(path, head, columns, notFiniteCount, times?.uneven)),
  };
  return recording;
}

function timeNotes(head: Head, times: TimeSurvey | undefined): string[] {
  const notes: string[] = [];
  if (head.startS !== 0) {
    notes.push(
      `The file's time starts at ${head.startS} s; ` +
        "all times here, edges and speeds among them, count from its first sample.",
    );
  }
  if (times !== undefined && times.driftShare > DRIFT_SHARE_TOLD) {
    notes.push(
      `The rate of the time column drifts by ${(times.driftShare * 100).toPrecision(2)} % or more ` +
        "about its mean, which is taken: times and speeds are off by as much in places.",
    );
  }
  return notes;
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
  #bytesDone = 0;
  readonly #uneven: TimeSurvey["uneven"];

  constructor(
    path: string,
    head: Head,
    columns: number[],
    notFinite: number[],
    uneven: TimeSurvey["uneven"],
  ) {
    this.#path = path;
    this.#head = head;
    this.#columns = columns;
    this.#notFinite = notFinite;
    this.#uneven = uneven;
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
    // What stands on the lines before an unreadable byte is read first.
    const wrong = firstUnreadableByte(bytes);
    const whole = wrong < 0 ? bytes.length : bytes.lastIndexOf(LINE_END, wrong) + 1;
    yield* this.#readableRows(bytes.subarray(0, whole));
    const start = { line: this.#rowsDone + 1, byte: this.#bytesDone + whole };
    if (wrong >= 0) utf8Text(this.#path, bytes.subarray(whole), start);
    this.#bytesDone += bytes.length;
  }

  *#readableRows(bytes: Buffer): Iterable<string[]> {
    const firstLine = this.#rowsDone + 1;
    const text = utf8Text(this.#path, bytes, { line: firstLine, byte: this.#bytesDone });
    const { rows, fault } = rowsOf(this.#path, text, this.#head.delimiter, firstLine);
    for (const row of rows) {
      this.#rowsDone += 1;
      if (this.#rowsDone >= this.#head.firstLine) yield row;
    }
    if (fault !== undefined) throw fault;
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
    if (this.#rowsDone === this.#uneven?.line) throw this.#uneven.complaint;
    if (Number.isFinite(numberOf(cell))) return;
    const column = this.#head.timeColumn + 1;
    throw complain(this.#path, this.#rowsDone, column, `time: ${notANumber(cell)}`);
  }
}
