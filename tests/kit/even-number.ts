// Numbers evenly between two values. fast-check's own doubles are even over what a double can hold,
// so that nearly all of them are next to nothing: no angles, no times, no places in a pitch.
import * as fc from "fast-check";

const STEPS = 2 ** 30;

/** Numbers min … max, both among them; shrink towards `min`. */
export function evenNumber(min: number, max: number): fc.Arbitrary<number> {
  const at = (n: number): number => (n === STEPS ? max : min + (max - min) * (n / STEPS));
  return fc.integer({ min: 0, max: STEPS }).map(at);
}
