// Dividing by jω is the integral of a steady tone: what it leaves out where speed or amplitude move.

const TWO_PI = 2 * Math.PI;

export interface IntegrationParts {
  /** How many times it is integrated. */
  count: number;
  /** Slope of the speed over speed·ω. */
  slope: number;
  /** Modulus, and how far from the one a cycle before; 0 where there was none. */
  modulus: number;
  modulusChange: number;
  /** The newest cycle, and ω times it. */
  durationS: number;
  turnRad: number;
}

/** The parts at a cycle's end: its three times, and the modulus there and a cycle before (0: none). */
export function integrationOf(
  count: number,
  order: number,
  [fromS, middleS, untilS]: readonly [number, number, number],
  modulus: number,
  modulusBefore: number,
): IntegrationParts {
  const a = middleS - fromS;
  const b = untilS - middleS;
  const cyclesPerS = (b / a + a / b) / (a + b);
  const w = TWO_PI * order * cyclesPerS;
  const slope = Math.abs((2 * (1 / b - 1 / a)) / (a + b)) / (cyclesPerS * w);
  const modulusChange = modulusBefore > 0 ? Math.abs(modulus - modulusBefore) : 0;
  return { count, slope, modulus, modulusChange, durationS: b, turnRad: b * w };
}
