// Closed forms of the whole tracking filter: triangle over two revolutions, then two equal poles that
// are updated once a revolution. What tests and figures hold the firmware and the truth against;
// neither needs them, they run the recursion.
import { poleSums } from "../../harness/truth/filter-response.ts";

/**
 * Noise bandwidth of the whole discrete filter, both sides together, Hz: ∫|G|² df.
 *
 * Source  own derivation: successive triangles overlap by a quarter
 */
export function noiseBandwidthHz(revolutionS: number, tauS: number): number {
  const { square, neighbour } = poleSums(revolutionS / tauS);
  return ((2 / 3) * (square + 0.5 * neighbour)) / revolutionS;
}

/** |G| of the whole discrete filter for a tone `offsetHz` beside the tracked order. */
export function discreteGain(offsetHz: number, revolutionS: number, tauS: number): number {
  const h = revolutionS / tauS;
  const beta = Math.exp(-h);
  const first = 1 - beta - beta * h;
  const growth = h * (1 - beta);
  const angle = 2 * Math.PI * offsetHz * revolutionS;
  const zRe = beta * Math.cos(angle);
  const zIm = -beta * Math.sin(angle);
  // Σ β^i·(first + growth·i)·z^i = first/(1 − βz) + growth·βz/(1 − βz)²
  const dRe = 1 - zRe;
  const power = dRe * dRe + zIm * zIm;
  const oneRe = dRe / power;
  const oneIm = zIm / power;
  const ratioRe = zRe * oneRe - zIm * oneIm;
  const ratioIm = zRe * oneIm + zIm * oneRe;
  const re = first * oneRe + growth * (ratioRe * oneRe - ratioIm * oneIm);
  const im = first * oneIm + growth * (ratioRe * oneIm + ratioIm * oneRe);
  const x = Math.PI * offsetHz * revolutionS;
  const boxcar = x === 0 ? 1 : Math.sin(x) / x;
  return boxcar * boxcar * Math.hypot(re, im);
}

/** Full width between the −3 dB points of the discrete filter, Hz, by bisection. */
export function discreteFullWidthHz(revolutionS: number, tauS: number): number {
  let low = 0;
  let high = 0.5 / revolutionS;
  for (let i = 0; i < 100; i += 1) {
    const middle = 0.5 * (low + high);
    if (discreteGain(middle, revolutionS, tauS) > Math.SQRT1_2) low = middle;
    else high = middle;
  }
  return low + high;
}

/** The limit for T ≪ τ: two equal continuous poles (sources: F-02, F-05, F-06). */
export function continuousFilter(tauS: number): { fullWidthHz: number; noiseBandwidthHz: number } {
  return {
    fullWidthHz: Math.sqrt(Math.SQRT2 - 1) / (Math.PI * tauS),
    noiseBandwidthHz: 1 / (4 * tauS),
  };
}

/** What a step leaves of the way to its end after x time constants (F-03: 0.01 at 6.638). */
export function stepRemainder(x: number): number {
  return (1 + x) * Math.exp(-x);
}

/**
 * What the image of a real tone adds to its gain: the same tone at −f lies as far from the order as
 * the order is from its own image, and the poles, which run once a cycle, let it through alike.
 *
 * Shape    share of the gain, at most; `cyclesPerPeriod` = order × revolutions of a cycle
 */
export function imageShare(offsetHz: number, cycleS: number, cycleOrder: number): number {
  const x = offsetHz * cycleS;
  const away = 2 * cycleOrder + x;
  // |sinc(2k + x)/sinc(x)|² with a whole 2k: the sines are equal.
  return (x / away) ** 2;
}

/** Mean delay of the two poles' impulse response, cycles: Σ i·g(i). */
export function poleDelayCycles(h: number): number {
  const beta = Math.exp(-h);
  const first = 1 - beta - beta * h;
  const growth = h * (1 - beta);
  return (first * beta) / (1 - beta) ** 2 + (growth * beta * (1 + beta)) / (1 - beta) ** 3;
}

/** By how much the level lags behind a straight growth at the end of a cycle, s: a cycle more. */
export function rampLagS(cycleS: number, tauS: number): number {
  return cycleS * (1 + poleDelayCycles(cycleS / tauS));
}
