// Envelopes: within a row each is a complex polynomial of second degree in time.
import type { Envelope } from "../scene/scene.ts";
import type { ComplexPolynomial } from "./complex-polynomial.ts";
import { RowCursor } from "./sample-clock.ts";
import type { ShaftState } from "./shaft-angle.ts";
import { cosineOfRev, sineOfRev, TWO_PI } from "./sine.ts";

/** A·e^(−jφ). */
export function phasorOf(amplitudePk: number, phaseLagRad: number): { re: number; im: number } {
  const turn = phaseLagRad / TWO_PI;
  return { re: amplitudePk * cosineOfRev(turn), im: -amplitudePk * sineOfRev(turn) };
}

/** Walks an envelope in the order of samples. */
export class EnvelopeCursor {
  readonly #envelope: Envelope;
  readonly #rows: RowCursor;
  readonly #phasors: { re: number; im: number }[];
  #row = 0;

  constructor(envelope: Envelope, sampleRateHz: number) {
    this.#envelope = envelope;
    const hasRows = envelope.kind === "steps" || envelope.kind === "lines";
    const rows = hasRows ? envelope.rows : [{ timeS: 0, ...envelope }];
    if (rows.length === 0) throw new Error("an envelope needs a row");
    this.#rows = new RowCursor(
      rows.map((row) => row.timeS),
      sampleRateHz,
    );
    this.#phasors = rows.map((row) => phasorOf(row.amplitudePk, row.phaseLagRad));
    if (envelope.kind === "speed-power" && ![0, 1, 2].includes(envelope.power)) {
      throw new Error(`the power of an envelope is 0, 1 or 2, not ${envelope.power}`);
    }
  }

  /** Moves to the row at a sample and returns the first sample of the next row. */
  moveTo(sample: number): number {
    this.#row = this.#rows.rowAt(sample);
    return this.#rows.nextStart;
  }

  get row(): number {
    return this.#row;
  }

  /** Within the present row the amplitude changes though the speed does not. */
  get isMoving(): boolean {
    return this.#envelope.kind === "lines" && this.#row + 1 < this.#phasors.length;
  }

  /** The amplitude around a time in the present row, by power of the time since then. */
  write(into: ComplexPolynomial, timeS: number, shaft: ShaftState): void {
    into.re.fill(0);
    into.im.fill(0);
    into.degree = 0;
    const here = this.#phasors[this.#row]!;
    into.re[0] = here.re;
    into.im[0] = here.im;
    if (this.#envelope.kind === "speed-power") this.#writeSpeedPower(into, shaft);
    if (this.#envelope.kind === "lines") this.#writeLine(into, timeS);
  }

  #writeLine(into: ComplexPolynomial, timeS: number): void {
    if (this.#envelope.kind !== "lines") return;
    const row = this.#envelope.rows[this.#row]!;
    const next = this.#envelope.rows[this.#row + 1];
    if (next === undefined) return;
    const from = this.#phasors[this.#row]!;
    const to = this.#phasors[this.#row + 1]!;
    const length = next.timeS - row.timeS;
    into.re[1] = (to.re - from.re) / length;
    into.im[1] = (to.im - from.im) / length;
    into.re[0] = from.re + into.re[1] * (timeS - row.timeS);
    into.im[0] = from.im + into.im[1] * (timeS - row.timeS);
    into.degree = 1;
  }

  #writeSpeedPower(into: ComplexPolynomial, shaft: ShaftState): void {
    if (this.#envelope.kind !== "speed-power") return;
    const { power, referenceRevPerS } = this.#envelope;
    const { re, im } = this.#phasors[0]!;
    const speed = shaft.revPerS / referenceRevPerS;
    const slope = shaft.revPerS2 / referenceRevPerS;
    const rows = power === 0 ? [1] : power === 1 ? [speed, slope] : [speed * speed];
    if (power === 2) rows.push(2 * speed * slope, slope * slope);
    for (const [i, value] of rows.entries()) {
      into.re[i] = re * value;
      into.im[i] = im * value;
    }
    into.degree = slope === 0 ? 0 : power;
  }
}
