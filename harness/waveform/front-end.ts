// The true front end of a channel as a complex factor: steady state at one frequency.
import type { Response } from "../scene/scene.ts";
import { cosineOfRev, sineOfRev, TWO_PI } from "./sine.ts";

/** Damping terms of the quadratic factors of a Butterworth polynomial: 2·sin((2i − 1)π/2n). */
const QUADRATICS: readonly (readonly number[])[] = [
  [],
  [],
  [Math.sqrt(2)],
  [1],
  [Math.sqrt(2 - Math.sqrt(2)), Math.sqrt(2 + Math.sqrt(2))],
];

/** Source: Butterworth, On the theory of filter amplifiers, 1930 (from memory). */
export class FrontEnd {
  re = 1;
  im = 0;
  readonly isNone: boolean;
  readonly #response: Response;

  constructor(response: Response) {
    this.#response = response;
    this.isNone = response.kind === "none";
    if (response.kind === "filters") {
      for (const order of [response.highPassOrder, response.lowPassOrder]) {
        if (QUADRATICS[order] === undefined) throw new Error(`filter of order ${order}: 0 to 4`);
      }
    }
    if (response.kind === "table" && response.points.length === 0) {
      throw new Error("a table of the front end needs a row");
    }
  }

  /** Sets re and im for a frequency of 0 or more. */
  evaluate(frequencyHz: number): void {
    this.re = 1;
    this.im = 0;
    const response = this.#response;
    if (response.kind === "none") return;
    if (response.kind === "filters") {
      if (response.highPassOrder > 0) {
        const u = frequencyHz / response.highPassHz;
        for (let i = 0; i < response.highPassOrder; i += 1) this.#times(0, u);
        this.#overButterworth(response.highPassOrder, u);
      }
      if (response.lowPassOrder > 0) {
        this.#overButterworth(response.lowPassOrder, frequencyHz / response.lowPassHz);
      }
    } else {
      this.#table(frequencyHz);
    }
    if (response.delayS !== 0) this.#turn(frequencyHz * response.delayS);
  }

  #table(frequencyHz: number): void {
    if (this.#response.kind !== "table") return;
    const points = this.#response.points;
    let i = 0;
    while (i < points.length && points[i]!.frequencyHz <= frequencyHz) i += 1;
    const below = points[Math.max(i - 1, 0)]!;
    const above = points[Math.min(i, points.length - 1)]!;
    const width = above.frequencyHz - below.frequencyHz;
    const share = width > 0 ? (frequencyHz - below.frequencyHz) / width : 0;
    const gain = below.gain + share * (above.gain - below.gain);
    const lagRad = below.phaseLagRad + share * (above.phaseLagRad - below.phaseLagRad);
    this.#times(gain, 0);
    this.#turn(lagRad / TWO_PI);
  }

  #turn(lagRev: number): void {
    this.#times(cosineOfRev(lagRev), -sineOfRev(lagRev));
  }

  #times(re: number, im: number): void {
    const was = this.re;
    this.re = was * re - this.im * im;
    this.im = was * im + this.im * re;
  }

  #over(re: number, im: number): void {
    const power = re * re + im * im;
    this.#times(re / power, -im / power);
  }

  /** Divides by the Butterworth polynomial at s = j·u. */
  #overButterworth(order: number, u: number): void {
    if ((order & 1) === 1) this.#over(1, u);
    for (const damping of QUADRATICS[order]!) this.#over(1 - u * u, damping * u);
  }
}
