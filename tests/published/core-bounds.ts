// What the firmware may add to a level whose definition is met exactly: own derivations, for steady
// speeds and wheels without error.

const CLOCK_HZ = 80e6;
const RATE_HZ = 12_800;
/** Additions of a cycle: the root of its segments and 12 roundings of two units (own derivation). */
const F32_SHARE = 64 * 2 ** -24;

/** A component as the channel sees it. */
export interface Seen {
  pk: number;
  hz: number;
}

/**
 * Largest error of a vector: the edge clock (both ends of a revolution a tick late), the four ends
 * between samples (a cubic, remainder 0.0234·(2πf/fs)^4, weighted with a half and with 2/N²), f32.
 */
export function vectorError(
  seen: readonly Seen[],
  revPerS: number,
  rateHz: number = RATE_HZ,
  clockHz: number = CLOCK_HZ,
): number {
  const perSample = revPerS / rateHz;
  return seen.reduce((sum, { pk, hz }) => {
    const cubic = 8 * perSample ** 2 * 0.0117 * ((2 * Math.PI * hz) / rateHz) ** 4;
    return sum + pk * ((2 * hz) / clockHz + cubic + F32_SHARE);
  }, 0);
}

/** The same as an angle of the vector, degrees; the reference itself is a tick late at most. */
export function phaseErrorDeg(seen: readonly Seen[], revPerS: number, levelPk: number): number {
  const share = vectorError(seen, revPerS) / levelPk;
  return (Math.asin(share) * 180) / Math.PI + (360 * seen[0]!.hz) / CLOCK_HZ;
}
