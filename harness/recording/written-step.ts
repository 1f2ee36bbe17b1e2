// How finely a number was written: its digits, and what the format that held it before may have cut.

const PLAIN = /^[+-]?\d*\.?(\d*)(?:e([+-]?\d+))?$/i;

/** What 1 in the last written digit stands for: 0.25 → 0.01, 3e2 → 100; 0 where it is no decimal. */
export function lastDigit(text: string): number {
  const match = PLAIN.exec(text.trim());
  if (match === null) return 0;
  return 10 ** (Number(match[2] ?? 0) - match[1]!.length);
}

/** Distance of two neighbours among the 24-bit floats around a value (IEEE 754). */
function floatStep(value: number): number {
  return 2 ** (Math.floor(Math.log2(Math.abs(value))) - 23);
}

/**
 * The step that a writer rounds to, by the magnitude of what it writes.
 *
 * Writers drop zeros at the end, and those that keep a number of digits round more coarsely beyond
 * each power of ten: among the numbers between two such powers the finest seen so far tells the
 * step.
 * A number that may have been a 24-bit float was rounded to one, however many digits were written.
 */
export class WrittenStep {
  readonly #finest = new Map<number, number>();
  #decade = Number.NaN;
  #from = Number.NaN;
  #until = Number.NaN;
  #ofDecade = Infinity;
  #length = -1;
  #point = -1;

  /** Takes a number and its text; gives the step, at least what an f64 resolves there. */
  take(value: number, text: string): number {
    const size = Math.abs(value);
    if (!(size >= this.#from && size < this.#until)) this.#enter(size);
    // A text of the same shape has the same last digit.
    if (text.length !== this.#length || text.indexOf(".") !== this.#point) this.#look(text);
    const written = size === 0 ? this.#leastOfAll() : this.#ofDecade;
    const float = Math.abs(value - Math.fround(value)) <= written / 2 ? floatStep(value) : 0;
    return Math.max(written, float, size * Number.EPSILON);
  }

  #look(text: string): void {
    this.#length = text.length;
    this.#point = text.indexOf(".");
    const last = lastDigit(text);
    if (last >= this.#ofDecade) return;
    this.#ofDecade = last;
    this.#finest.set(this.#decade, last);
  }

  #enter(size: number): void {
    this.#length = -1;
    this.#decade = size === 0 ? -Infinity : Math.floor(Math.log10(size));
    this.#from = size === 0 ? 0 : 10 ** this.#decade;
    this.#until = size === 0 ? Number.MIN_VALUE : 10 ** (this.#decade + 1);
    this.#ofDecade = this.#finest.get(this.#decade) ?? Infinity;
  }

  /** A plain 0 says nothing of its digits. */
  #leastOfAll(): number {
    return Math.min(...this.#finest.values());
  }
}
