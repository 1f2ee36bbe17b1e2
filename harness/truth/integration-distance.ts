// Dividing by jω is the integral of a steady tone: what it leaves out where speed or amplitude move.

const TWO_PI = 2 * Math.PI;

/** A modulus, and how far it may be off: surely, and by chance. */
export interface ModulusBefore {
  modulus: number;
  bound: number;
  variance: number;
}

/** Of bounds, or of variances. */
export function sumOf(values: readonly number[]): number {
  let sum = 0;
  for (const value of values) sum += value;
  return sum;
}

export interface IntegrationParts {
  /** How many times it is integrated. */
  count: number;
  /** Slope of the speed over speed·ω. */
  slope: number;
  /** Modulus, and how far from the one a cycle before; 0 where there was none. */
  modulus: number;
  modulusChange: number;
  before: ModulusBefore | undefined;
  /** The newest cycle, and ω times it. */
  durationS: number;
  turnRad: number;
}

/** The parts at a cycle's end: its three times, the modulus there and a cycle before. */
export function integrationOf(
  count: number,
  order: number,
  [fromS, middleS, untilS]: readonly [number, number, number],
  modulus: number,
  before: ModulusBefore | undefined,
): IntegrationParts {
  const a = middleS - fromS;
  const b = untilS - middleS;
  const cyclesPerS = (b / a + a / b) / (a + b);
  const w = TWO_PI * order * cyclesPerS;
  const slope = Math.abs((2 * (1 / b - 1 / a)) / (a + b)) / (cyclesPerS * w);
  const isKnown = before !== undefined && before.modulus > 0;
  const modulusChange = isKnown ? Math.abs(modulus - before.modulus) : 0;
  return { count, slope, modulus, modulusChange, before, durationS: b, turnRad: b * w };
}
