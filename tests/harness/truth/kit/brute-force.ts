// The vector of a triangle by Simpson's rule in time on the signal as it is written down: no phase
// is taken out, nothing is known to be slow.
export interface TriangleEnds {
  fromS: number;
  middleS: number;
  untilS: number;
}

/**
 * Z = 2∫x·tri(θ)·e^(−j2πKθ) dθ over two cycles, pieces between breaks by Simpson's rule.
 *
 * Shape     cycles(t): angle in cycles, whole at the three ends; rate(t): its derivative
 */
export function bruteVector(
  x: (timeS: number) => number,
  cycles: (timeS: number) => number,
  rate: (timeS: number) => number,
  order: number,
  ends: TriangleEnds,
  breaksS: number[] = [],
  panels = 4000,
): { re: number; im: number } {
  const middle = cycles(ends.middleS);
  const all = [ends.fromS, ends.middleS, ends.untilS, ...breaksS]
    .filter((t) => t >= ends.fromS && t <= ends.untilS)
    .toSorted((a, b) => a - b);
  let re = 0;
  let im = 0;
  for (let p = 1; p < all.length; p += 1) {
    const from = all[p - 1]!;
    const h = (all[p]! - from) / panels;
    if (h === 0) continue;
    for (let i = 0; i <= panels; i += 1) {
      // Just inside the piece, so that a jump at its end is not seen.
      const share = Math.min(Math.max(i, 1e-9), panels - 1e-9);
      const t = from + share * h;
      const weight = (i === 0 || i === panels ? 1 : i % 2 === 1 ? 4 : 2) * (h / 3);
      const angle = cycles(t) - middle;
      const value = 2 * weight * x(t) * (1 - Math.abs(angle)) * rate(t);
      re += value * Math.cos(2 * Math.PI * order * angle);
      im -= value * Math.sin(2 * Math.PI * order * angle);
    }
  }
  return { re, im };
}
