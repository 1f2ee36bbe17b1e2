// One cheap pass over the time column of a CSV, before its samples are read: the sample rate is that
// of all rows, and a row whose time is not even is known by its line.
import { createReadStream } from "node:fs";
import { complain, type CsvColumns, LINE_BYTES_MAX, numberOf, rowsOf } from "./csv-head.ts";
import type { InputError } from "../../host/input-error.ts";
import { EvenTimes, type UnevenStep } from "./even-times.ts";
import { WrittenStep } from "./written-step.ts";

export interface TimeSurvey {
  sampleRateHz: number;
  /** Half the width within which the digits written leave the rate. */
  sampleRateUncertaintyHz: number;
  /** Share by which the rate of some stretch surely departs from that of the whole. */
  driftShare: number;
  /** The complaint about the first row whose time is not even, and its line. */
  uneven?: { line: number; complaint: InputError };
}

/** The time cell of a line, or undefined where it has none. */
function timeCell(line: string, { delimiter, timeColumn }: CsvColumns): string | undefined {
  if (line.includes('"')) return rowsOf("", line, delimiter, 1).rows[0]?.[timeColumn];
  let from = 0;
  for (let column = 0; column < timeColumn; column += 1) {
    from = line.indexOf(delimiter, from) + 1;
    if (from === 0) return undefined;
  }
  const until = line.indexOf(delimiter, from);
  return line.slice(from, until < 0 ? line.length : until);
}

/** Runs of lines without their ends; every byte is a character. */
async function* linesOf(path: string): AsyncIterable<string[]> {
  let rest = "";
  for await (const part of createReadStream(path, { highWaterMark: 1 << 20 })) {
    const lines = (rest + (part as Buffer).toString("latin1")).split("\n");
    rest = lines.pop()!;
    yield lines;
    // No row of numbers; the pass that reads the samples says so.
    if (rest.length > LINE_BYTES_MAX) return;
  }
  if (rest !== "") yield [rest];
}

function unevenWords({ stepS, periodS }: UnevenStep, writtenS: number): string {
  const hint = "; without a time column rows are taken as even, and --rate states their rate";
  if (stepS < -writtenS) return `time goes back by ${(-stepS).toPrecision(4)} s${hint}`;
  const step = (stepS / periodS).toPrecision(4);
  return `time steps by ${step} sample periods, even steps are needed${hint}`;
}

/** One pass; rows after the first that has no time, or not an even one, are left to the reader. */
class Survey {
  readonly #path: string;
  readonly #columns: CsvColumns;
  readonly #written = new WrittenStep();
  readonly #even: EvenTimes;
  #uneven: TimeSurvey["uneven"];
  #isFirstStepOdd = false;
  #line = 0;
  #lineBefore = 0;

  constructor(path: string, columns: CsvColumns, firstCells: string[]) {
    this.#path = path;
    this.#columns = columns;
    for (const cell of firstCells) this.#written.take(numberOf(cell), cell.trim());
    this.#even = new EvenTimes(middleStep(firstCells.map(numberOf)) * columns.timeUnitS);
  }

  /** Takes the next line; false where nothing more is to be learned. */
  take(line: string): boolean {
    this.#line += 1;
    const { firstLine, timeUnitS } = this.#columns;
    if (this.#line < firstLine) return true;
    const cell = timeCell(line, this.#columns);
    const time = cell === undefined ? Number.NaN : numberOf(cell);
    if (!Number.isFinite(time)) return line.trim() === "";
    const writtenS = this.#written.take(time, cell!.trim()) * timeUnitS;
    const uneven = this.#even.take(time * timeUnitS, writtenS);
    if (uneven !== undefined) {
      this.#note(uneven, unevenWords(uneven, writtenS));
      return false;
    }
    this.#lineBefore = this.#line;
    return true;
  }

  #note({ isStepBefore }: UnevenStep, words: string): void {
    const line = isStepBefore ? this.#lineBefore : this.#line;
    const complaint = complain(this.#path, line, this.#columns.timeColumn + 1, words);
    this.#isFirstStepOdd = isStepBefore;
    this.#uneven = { line, complaint };
  }

  /** Errors: InputError where the times say no rate. */
  finish(): TimeSurvey {
    const { firstLine, timeColumn } = this.#columns;
    const { count, periodS, uncertaintyS, driftS } = this.#even;
    if (this.#isFirstStepOdd) throw this.#uneven!.complaint;
    if (!(periodS > 0)) {
      const all = count > 2 ? `: ${count} rows begin and end at ${this.#even.lastS} s` : "";
      throw complain(this.#path, firstLine + 1, timeColumn + 1, `time does not ascend${all}`);
    }
    return {
      sampleRateHz: 1 / periodS,
      sampleRateUncertaintyHz: uncertaintyS / periodS ** 2,
      driftShare: driftS / periodS,
      uneven: this.#uneven,
    };
  }
}

/** The middle of the steps that ascend; 0 where none does. */
function middleStep(times: number[]): number {
  const steps = times.slice(1).map((time, i) => time - times[i]!);
  const ascending = steps.filter((step) => step > 0).toSorted((a, b) => a - b);
  return ascending[ascending.length >> 1] ?? 0;
}

/**
 * Sample rate of a CSV from all of its time column: last minus first time over the steps between.
 *
 * Shape     `firstCells`: the time column's first cells, which tell how it is written
 * Effect    reads the file once, holds a line at a time
 * Errors    InputError where time does not ascend
 */
export async function surveyTimes(
  path: string,
  columns: CsvColumns,
  firstCells: string[],
): Promise<TimeSurvey> {
  const survey = new Survey(path, columns, firstCells);
  reading: for await (const lines of linesOf(path)) {
    for (const line of lines) if (!survey.take(line)) break reading;
  }
  return survey.finish();
}
