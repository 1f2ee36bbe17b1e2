// Streams of random numbers from one seed: one for each thing that is random, far apart, so that
// none depends on how much another has drawn.
import { xoroshiro128plus } from "pure-rand/generator/xoroshiro128plus";
import { logarithm } from "./logarithm.ts";

export interface IntegerStream {
  /** 32 random bits as a signed integer. */
  next(): number;
}

/** A stream whose state may be taken out and put into another, as another language goes on with it. */
export type StatefulStream = ReturnType<typeof xoroshiro128plus>;

const TWO_POW_M32 = 1 / 4294967296;

/**
 * Stream `index` of a seed: the generator jumped 2^64 numbers ahead, index + 1 times.
 *
 * Range     seed any 32-bit integer; index 0, 1, 2 …
 * Source    Blackman, Vigna, Scrambled linear pseudorandom number generators, 2018 (xoroshiro128+)
 */
export function randomStream(seed: number, index: number): StatefulStream {
  const stream = xoroshiro128plus(seed | 0);
  for (let i = 0; i <= index; i += 1) stream.jump();
  return stream;
}

/** A number evenly between 0 and 1, neither included. */
export function uniformOf(stream: IntegerStream): number {
  return ((stream.next() >>> 0) + 0.5) * TWO_POW_M32;
}

/** A waiting time of a Poisson process, in units of its mean. */
export function waitOf(stream: IntegerStream): number {
  return -logarithm(uniformOf(stream));
}
