/** Decimals that a display step needs: 0.1 → 1, 0.25 → 2. */
export function stepDecimals(step: number): number {
  if (!(step > 0)) return 2;
  for (let places = 0; places < 6; places += 1) {
    const scaled = step * 10 ** places;
    if (Math.abs(scaled - Math.round(scaled)) < 1e-9) return places;
  }
  return 6;
}
