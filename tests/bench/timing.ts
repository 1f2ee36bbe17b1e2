// Medians and spread of repeated times.

export interface Spread {
  median: number;
  least: number;
  greatest: number;
}

/** Range  one value at least */
export function spreadOf(values: readonly number[]): Spread {
  const sorted = values.toSorted((a, b) => a - b);
  const middle = sorted.length >> 1;
  const median =
    sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
  return { median, least: sorted[0]!, greatest: sorted.at(-1)! };
}

/** The spread of a quotient's parts, each in its own unit. */
export function scaled({ median, least, greatest }: Spread, by: number): Spread {
  return { median: median * by, least: least * by, greatest: greatest * by };
}

/** Runs each of several works once a round, so that a slow moment of the machine meets all of them. */
export function interleaved(rounds: number, works: readonly (() => number)[]): Spread[] {
  const times = works.map((): number[] => []);
  for (let round = 0; round < rounds; round += 1) {
    for (const [i, work] of works.entries()) times[i]!.push(work());
  }
  return times.map(spreadOf);
}
