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
  readonly delayS: number;
  readonly #response: Response;

  constructor(response: Response) {
    this.#response = response;
    this.isNone = response.kind === "none";
    this.delayS = response.kind === "none" ? 0 : response.delayS;
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
    this.evaluateWithoutDelay(frequencyHz);
    if (this.delayS !== 0) this.#turn(frequencyHz * this.delayS);
  }

  evaluateWithoutDelay(frequencyHz: number): void {
    this.re = 1;
    this.im = 0;
    const response = this.#response;
    if (response.kind === "table") this.#table(frequencyHz);
    if (response.kind !== "filters") return;
    const { highPassOrder, lowPassOrder } = response;
    if (highPassOrder > 0) {
      const u = frequencyHz / response.highPassHz;
      let power = u;
      for (let i = 1; i < highPassOrder; i += 1) power *= u;
      // (j·u)^order
      const isReal = (highPassOrder & 1) === 0;
      const sign = (highPassOrder & 2) === 0 ? power : -power;
      this.#overButterworth(highPassOrder, u, isReal ? sign : 0, isReal ? 0 : sign);
    }
    if (lowPassOrder > 0)
      this.#overButterworth(lowPassOrder, frequencyHz / response.lowPassHz, 1, 0);
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

  /** Multiplies by re + j·im over the Butterworth polynomial at s = j·u. */
  #overButterworth(order: number, u: number, re: number, im: number): void {
    let x = 1;
    let y = (order & 1) === 1 ? u : 0;
    const dampings = QUADRATICS[order]!;
    const square = 1 - u * u;
    for (let i = 0; i < dampings.length; i += 1) {
      const slope = dampings[i]! * u;
      const was = x;
      x = was * square - y * slope;
      y = was * slope + y * square;
    }
    const inverse = 1 / (x * x + y * y);
    this.#times((re * x + im * y) * inverse, (im * x - re * y) * inverse);
  }
}
