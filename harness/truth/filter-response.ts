// Closed forms of the tracking filter: triangle over two revolutions, then two equal poles that are
// updated once a revolution. For reports and figures; the truth itself runs the recursion.

const BOTH_POLES = Math.sqrt(Math.SQRT2 - 1);

/** Time constant of one pole, s, from the full width between the −3 dB points (source: F-02). */
export function timeConstantS(fullWidthHz: number): number {
  return BOTH_POLES / (Math.PI * fullWidthHz);
}

/** h = T/τ of one shaft revolution, for a full width that is a share of the rotational speed. */
export function proportionalPole(fullWidthRatio: number): number {
  return (Math.PI * fullWidthRatio) / BOTH_POLES;
}

/** Answer of the two poles to one vector: β^i·(first + growth·i), h = T/τ. */
function impulse(h: number): { beta: number; first: number; growth: number } {
  const beta = Math.exp(-h);
  return { beta, first: 1 - beta - beta * h, growth: h * (1 - beta) };
}

/**
 * Σ g² and Σ g_i·g_(i+1) of the poles' impulse response g, in closed form.
 *
 * Source  sums of i^n·q^i; own derivation
 */
export function poleSums(h: number): { square: number; neighbour: number } {
  const { beta, first, growth } = impulse(h);
  const q = beta * beta;
  const s0 = 1 / (1 - q);
  const s1 = q / (1 - q) ** 2;
  const s2 = (q * (1 + q)) / (1 - q) ** 3;
  return {
    square: first * first * s0 + 2 * first * growth * s1 + growth * growth * s2,
    neighbour:
      beta *
      (first * (first + growth) * s0 +
        (2 * first * growth + growth * growth) * s1 +
        growth * growth * s2),
  };
}

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
  const { beta, first, growth } = impulse(revolutionS / tauS);
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
  return { fullWidthHz: BOTH_POLES / (Math.PI * tauS), noiseBandwidthHz: 1 / (4 * tauS) };
}

/** What a step leaves of the way to its end after x time constants (F-03: 0.01 at 6.638). */
export function stepRemainder(x: number): number {
  return (1 + x) * Math.exp(-x);
}
