// How far two single-precision numbers are apart, counted in representable numbers between them.
const BITS = new DataView(new ArrayBuffer(4));

/** Numbers of f32 in ascending order as ascending whole numbers; −0 and 0 fall together. */
function rank(value: number): number {
  BITS.setFloat32(0, value);
  const bits = BITS.getInt32(0);
  return bits >= 0 ? bits : -(bits & 0x7fffffff);
}

/**
 * Units in the last place from one f32 to another; 0 for equal ones, −0 and 0, two NaN; undefined
 * where one alone is NaN.
 */
export function ulpsApart(a: number, b: number): number | undefined {
  if (Number.isNaN(a) && Number.isNaN(b)) return 0;
  if (Number.isNaN(a) || Number.isNaN(b)) return undefined;
  return Math.abs(rank(a) - rank(b));
}
