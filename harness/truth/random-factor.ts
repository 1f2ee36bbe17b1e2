// How many σ a random error may be off by before a suite calls it wrong.

/** A whole run of the suite may be wrong by chance once in so many. */
const SUITE_RUNS = 1e5;
/** Cases of a suite for which that must hold. */
export const SUITE_CASES = 512;

/**
 * Factor u on σ of a random vector, so that its length stays under uσ in a whole suite run. Every
 * display step is a look: their probabilities add up to no less than that of any (Boole), however
 * they hang together. A length wanders over a bound far more often than once in the inverse of the
 * filter's bandwidth.
 *
 * A length is Rayleigh: P(> uσ) = e^(−u²/2). It bounds the level's error with a tone (the
 * difference of two lengths is at most the length of the difference) and without one.
 */
export function randomFactor(durationS: number, displayPeriodS: number, trackers: number): number {
  const looks = Math.max(1, durationS / displayPeriodS) * trackers * SUITE_CASES;
  return Math.sqrt(2 * Math.log(looks * SUITE_RUNS));
}
