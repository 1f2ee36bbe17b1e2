// Closed forms of the tracking filter's two equal poles, updated once a revolution: what they take
// from a bandwidth and what is left of noise. The level itself runs the recursion (TwoPoles).

const BOTH_POLES = Math.sqrt(Math.SQRT2 - 1);

/** Time constant of one pole, s, from the full width between the −3 dB points (source: F-02). */
export function timeConstantS(fullWidthHz: number): number {
  return BOTH_POLES / (Math.PI * fullWidthHz);
}

/** h = T/τ of one shaft revolution, for a full width that is a share of the rotational speed. */
export function proportionalPole(fullWidthRatio: number): number {
  return (Math.PI * fullWidthRatio) / BOTH_POLES;
}

/** Σ g_i·g_i, Σ g_i·g_(i+1), Σ g_i·g_(i+2), Σ g_i·g_(i+3) of an impulse response g. */
export interface LaggedSums {
  square: number;
  neighbour: number;
  second: number;
  third: number;
}

/**
 * The sums of the poles' impulse response, in closed form.
 *
 * Source  sums of i^n·q^i; own derivation
 */
export function poleSums(h: number): LaggedSums {
  const beta = Math.exp(-h);
  // g_i = β^i·(first + growth·i)
  const first = 1 - beta - beta * h;
  const growth = h * (1 - beta);
  const q = beta * beta;
  const s0 = 1 / (1 - q);
  const s1 = q / (1 - q) ** 2;
  const s2 = (q * (1 + q)) / (1 - q) ** 3;
  const lagged = (lag: number): number =>
    beta ** lag *
    (first * (first + lag * growth) * s0 +
      growth * (2 * first + lag * growth) * s1 +
      growth * growth * s2);
  return { square: lagged(0), neighbour: lagged(1), second: lagged(2), third: lagged(3) };
}

/**
 * Variance of the poles' output over that of one triangle of white noise: a triangle has a quarter
 * in common with each of its neighbours.
 */
export function keptShare({ square, neighbour }: LaggedSums): number {
  return square + 0.5 * neighbour;
}

/** The largest value of the poles' impulse response: one of the two about its top. */
export function poleMost(h: number): number {
  const beta = Math.exp(-h);
  const first = 1 - beta - beta * h;
  const growth = h * (1 - beta);
  const top = Math.max(0, Math.floor(1 / h - first / growth));
  const at = (i: number): number => beta ** i * (first + growth * i);
  return Math.max(at(top), at(top + 1));
}

/**
 * σ of the filtered speed over σ of one revolution's, at most 1. A revolution's speed is of the
 * difference of two ends, b_k − b_(k−2), so that an end that is late counts once more with the
 * other sign two vectors on: Σ g² − Σ g_i·g_(i+2) is left of the variance, and the part `start` of
 * the first vector. `change`: by what share the size of an end's part changes from a vector to the
 * second after it, in a ramp; that much of it does not cancel.
 *
 * Source    own derivation
 */
export function speedShare(sums: LaggedSums, start: number, change: number): number {
  const kept = sums.square - sums.second + start * start;
  return Math.min(1, Math.sqrt(kept) + change * Math.sqrt(sums.square / 2));
}

/** The sums of the newest h: in a dwell it does not change. */
export class PoleSums {
  #h = NaN;
  #sums: LaggedSums = { square: 0, neighbour: 0, second: 0, third: 0 };

  of(h: number): LaggedSums {
    if (h !== this.#h) {
      this.#h = h;
      this.#sums = poleSums(h);
    }
    return this.#sums;
  }
  keptOf(h: number): number {
    return keptShare(this.of(h));
  }
}
