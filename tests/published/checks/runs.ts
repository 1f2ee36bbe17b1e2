// How long a caution with a delay waits for a run of exceedances, if each step exceeds by chance. The
// odds are worked out over states that are found by asking the caution itself.
import { expect } from "vitest";
import { randomStream } from "../../../harness/random/stream.ts";
import { TEST_SEED } from "../../kit/seed.ts";
import { outputs } from "../caution-outputs.ts";
import { check, near } from "../check.ts";

type Word = readonly (0 | 1)[];

/** Whether the caution, n steps in a row, is lit by the end of a word (1: at the level). */
function isLitBy(n: number, word: Word): boolean {
  const numbers = word.map((one) => (one === 1 ? 400 : 399));
  return outputs({ onDelaySteps: n - 1 }, numbers).includes(1);
}

/** What a dark caution does next: to which state a step below and one at the level lead. */
type Chain = { below: number; at: number }[];
const LIT = -1;

/** States told apart by how many more exceedances in a row they want; state 0 is the start. */
function chainOf(n: number): Chain {
  const wants = (history: Word): number => {
    for (let more = 1; ; more += 1) {
      expect(more).toBeLessThanOrEqual(n);
      if (isLitBy(n, [...history, ...Array.from({ length: more }, () => 1 as const)])) return more;
    }
  };
  const histories: Word[] = [[]];
  const known = [wants([])];
  const chain: Chain = [];
  const stateOf = (history: Word): number => {
    if (isLitBy(n, history)) return LIT;
    const more = wants(history);
    if (!known.includes(more)) {
      known.push(more);
      histories.push(history);
    }
    return known.indexOf(more);
  };
  for (let state = 0; state < histories.length; state += 1) {
    const history = histories[state]!;
    chain.push({ below: stateOf([...history, 0]), at: stateOf([...history, 1]) });
  }
  return chain;
}

/** The chain answers for any word as the caution does. */
function expectAlike(n: number, chain: Chain): void {
  const stream = randomStream(TEST_SEED, n);
  for (let i = 0; i < 60; i += 1) {
    const word = Array.from({ length: 40 }, (): 0 | 1 => (stream.next() >>> 30 === 0 ? 0 : 1));
    let state = 0;
    for (const one of word) {
      if (state !== LIT) state = one === 1 ? chain[state]!.at : chain[state]!.below;
    }
    expect(state === LIT).toBe(isLitBy(n, word));
  }
}

/** Mean steps until it lights: (1 − P)·M = 1 over the dark states, by elimination. */
function meanTrials(chain: Chain, p: number): number {
  const size = chain.length;
  const rows = chain.map(({ below, at }, i) => {
    const row = Array.from({ length: size + 1 }, (_, j) => (j === i || j === size ? 1 : 0));
    if (below !== LIT) row[below]! -= 1 - p;
    if (at !== LIT) row[at]! -= p;
    return row;
  });
  for (let k = 0; k < size; k += 1) {
    for (let i = 0; i < size; i += 1) {
      if (i === k) continue;
      const share = rows[i]![k]! / rows[k]![k]!;
      for (let j = k; j <= size; j += 1) rows[i]![j]! -= share * rows[k]![j]!;
    }
  }
  return rows[0]![size]! / rows[0]![0]!;
}

/** Chance that it lights within so many steps. */
function litWithin(chain: Chain, p: number, steps: number): number {
  let dark: number[] = chain.map((_, i) => (i === 0 ? 1 : 0));
  let lit = 0;
  for (let step = 0; step < steps; step += 1) {
    const next = chain.map(() => 0);
    chain.forEach(({ below, at }, i) => {
      for (const [to, share] of [
        [below, 1 - p],
        [at, p],
      ] as const) {
        if (to === LIT) lit += share * dark[i]!;
        else next[to]! += share * dark[i]!;
      }
    });
    dark = next;
  }
  return lit;
}

const chains = new Map<number, Chain>();
function knownChain(n: number): Chain {
  const known = chains.get(n);
  if (known !== undefined) return known;
  const found = chainOf(n);
  expectAlike(n, found);
  chains.set(n, found);
  return found;
}

check("A-18", "mean steps to n exceedances in a row: the caution with that on-delay", () => {
  for (const [p, n, mean] of [
    [0.5, 3, 14],
    [0.1, 2, 110],
    [0.1, 3, 1110],
    [0.1, 5, 111_110],
    [0.05, 5, 3_368_420],
    [0.5, 10, 2046],
  ] as const) {
    near(meanTrials(knownChain(n), p), mean, 1e-9);
  }
  // Nine digits are printed.
  near(meanTrials(knownChain(10), 0.3), 241_928.397, 5e-4 / 241_928);
});

check("A-19", "of 1024 courses of ten steps 880 hold two in a row and 520 three", () => {
  for (const [n, share] of [
    [2, 0.859375],
    [3, 0.5078125],
  ] as const) {
    let lit = 0;
    for (let course = 0; course < 1024; course += 1) {
      const word = Array.from({ length: 10 }, (_, i) => ((course >> i) & 1) as 0 | 1);
      if (isLitBy(n, word)) lit += 1;
    }
    expect(lit / 1024).toBe(share);
    near(litWithin(knownChain(n), 0.5, 10), share, 1e-12);
  }
});
check("A-19", "n in a row within 100 to 36 000 steps", () => {
  // Digits as printed.
  near(litWithin(knownChain(3), 0.1, 100), 0.08476518, 5e-10 / 0.0847);
  near(litWithin(knownChain(5), 0.05, 3600), 0.00106701, 5e-10 / 1.067e-3);
  near(litWithin(knownChain(5), 0.02275013, 36_000), 2.14355e-4, 5e-10 / 2.14e-4);
});
