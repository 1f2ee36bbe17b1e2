// Noise of a scenario that is written with more samples than it has. At the scenario's own moments its
// own random numbers stand; between them the band-limited signal through them, so that nothing is
// added above half the scenario's sample rate and the density below it stays as stated.
//
// Windowed sinc: Kaiser, Nonrecursive digital filter design using the I0-sinh window function, Proc.
// IEEE Int. Symp. Circuits and Systems 1974, pp. 20-23; from memory, and its response is measured by
// the test.
import type { NoiseDraw, NoiseSpread } from "../waveform/types.ts";

/** Own samples on either side of a moment that its value is made of. */
export const REACH_SAMPLES = 32;
/** Kaiser's shape for 80 dB: 0.1102·(80 − 8.7). */
const KAISER_BETA = 0.1102 * (80 - 8.7);
/** Own samples that are drawn at once. */
const DRAW_SAMPLES = 128;

/** Modified Bessel function of order 0: Σ (x/2)^2k / k!². */
function besselI0(x: number): number {
  let [sum, term] = [1, 1];
  for (let k = 1; term > 1e-17 * sum; k += 1) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}

/** The interpolating pulse at a distance in own samples: 1 at 0, 0 at every other whole number. */
function pulseAt(distance: number): number {
  const share = distance / REACH_SAMPLES;
  if (Math.abs(share) >= 1) return 0;
  const window = besselI0(KAISER_BETA * Math.sqrt(1 - share * share)) / besselI0(KAISER_BETA);
  const turn = Math.PI * distance;
  return distance === 0 ? 1 : (window * Math.sin(turn)) / turn;
}

/** Weights of the own samples −REACH + 1 … REACH about a moment, for each place between two. */
function weightsOf(times: number): Float64Array[] {
  return Array.from({ length: times }, (_, place) =>
    Float64Array.from({ length: 2 * REACH_SAMPLES }, (__, i) => {
      const whole = i - REACH_SAMPLES + 1;
      // Own values stand as they are.
      return place === 0 ? Number(whole === 0) : pulseAt(place / times - whole);
    }),
  );
}

/** Spreads one channel's noise over `times` samples for each of the scenario's. */
export class BandNoise implements NoiseSpread {
  readonly #weights: Float64Array[];
  readonly #drawn = new Float64Array(DRAW_SAMPLES);
  readonly #own = new Float64Array(2 * REACH_SAMPLES + DRAW_SAMPLES);
  /** Own samples that are kept; before the first of all there is silence. */
  #count = REACH_SAMPLES - 1;
  /** Where the weights begin among them. */
  #start = 0;
  #place = 0;

  constructor(times: number) {
    this.#weights = weightsOf(times);
  }

  add(count: number, out: Float64Array, draw: NoiseDraw): void {
    for (let i = 0; i < count; i += 1) {
      if (this.#start + 2 * REACH_SAMPLES > this.#count) this.#draw(draw);
      const weights = this.#weights[this.#place]!;
      let sum = 0;
      for (let k = 0; k < weights.length; k += 1) sum += weights[k]! * this.#own[this.#start + k]!;
      out[i] = out[i]! + sum;
      this.#place = (this.#place + 1) % this.#weights.length;
      if (this.#place === 0) this.#start += 1;
    }
  }

  #draw(draw: NoiseDraw): void {
    draw(this.#drawn);
    this.#own.copyWithin(0, this.#start, this.#count);
    this.#count -= this.#start;
    this.#start = 0;
    this.#own.set(this.#drawn, this.#count);
    this.#count += DRAW_SAMPLES;
  }
}
