// A tone at a fixed frequency.
import { differentiate, polynomial, scale } from "./complex-polynomial.ts";
import { phasorOf } from "./envelope.ts";
import type { FrontEnd } from "./front-end.ts";
import { addSteady, steadyTurn } from "./phasor-sum.ts";
import type { SteadyTurn } from "./phasor-sum.ts";
import { sampleTime } from "./sample-clock.ts";
import { TWO_PI } from "./sine.ts";
import type { SignalSource } from "./source.ts";
import { fractionOfProduct } from "./two-part.ts";

export class ToneSource implements SignalSource {
  readonly #frequencyHz: number;
  readonly #rateHz: number;
  readonly #turn: SteadyTurn;
  readonly #re: number;
  readonly #im: number;

  constructor(
    tone: { frequencyHz: number; amplitudePk: number; phaseLagRad: number },
    derivatives: number,
    frontEnd: FrontEnd,
    sampleRateHz: number,
  ) {
    this.#frequencyHz = tone.frequencyHz;
    this.#rateHz = sampleRateHz;
    this.#turn = steadyTurn(tone.frequencyHz, 1 / sampleRateHz);
    const amplitude = polynomial();
    const start = phasorOf(tone.amplitudePk, tone.phaseLagRad);
    amplitude.re[0] = start.re;
    amplitude.im[0] = start.im;
    for (let i = 0; i < derivatives; i += 1) {
      differentiate(amplitude, TWO_PI * tone.frequencyHz, 0);
    }
    frontEnd.evaluate(tone.frequencyHz);
    scale(amplitude, frontEnd.re, frontEnd.im);
    this.#re = amplitude.re[0]!;
    this.#im = amplitude.im[0]!;
  }

  add(chunkFirst: number, count: number): void {
    const phase = fractionOfProduct(this.#frequencyHz, sampleTime(chunkFirst, this.#rateHz));
    addSteady(0, count, phase, this.#turn, this.#re, this.#im);
  }
}
