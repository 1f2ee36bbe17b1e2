// Whether the bytes of two targets can be held against each other at all.

/**
 * Why records of two targets are not compared bit by bit; undefined where they may be.
 *
 * Shape     a sentence that names both numerics versions
 */
export function bitComparisonRefusal(
  target: { numericsVersion: number },
  other: { numericsVersion: number },
): string | undefined {
  const [one, two] = [target.numericsVersion, other.numericsVersion];
  if (one === two) return undefined;
  return (
    `Numerics version ${one} against ${two}: the bits of records may differ where both are right, ` +
    "so they are not compared bit by bit; verdicts stand."
  );
}
