// The exact interval of a share: Clopper & Pearson, Biometrika 26 (1934) 404.

/** ln n! for whole n, summed. */
function lnFactorials(n: number): Float64Array {
  const ln = new Float64Array(n + 1);
  for (let i = 2; i <= n; i += 1) ln[i] = ln[i - 1]! + Math.log(i);
  return ln;
}

/** P(X ≤ k) of n draws at p, 0 < p < 1. */
function atMost(k: number, n: number, p: number, ln: Float64Array): number {
  let sum = 0;
  for (let i = 0; i <= k; i += 1) {
    const ways = ln[n]! - ln[i]! - ln[n - i]!;
    sum += Math.exp(ways + i * Math.log(p) + (n - i) * Math.log1p(-p));
  }
  return sum;
}

/** The share at which a falling function of it passes a value. */
function crossing(of: (share: number) => number, value: number): number {
  let [low, high] = [0, 1];
  for (let i = 0; i < 60; i += 1) {
    const middle = (low + high) / 2;
    if (of(middle) > value) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** Shares that `count` of `n` is compatible with, at this confidence. */
export function shareInterval(
  count: number,
  n: number,
  confidence: number,
): { low: number; high: number } {
  const ln = lnFactorials(n);
  const half = (1 - confidence) / 2;
  const low = count === 0 ? 0 : crossing((p) => atMost(count - 1, n, p, ln), 1 - half);
  const high = count === n ? 1 : crossing((p) => atMost(count, n, p, ln), half);
  return { low, high };
}
