// A campaign of many cases: which of them a shard takes, and which a report draws.

/** A shard of a run: 1 … of. */
export interface Shard {
  number: number;
  of: number;
}

/** Right cases that a report draws, and up to which it draws all. */
export const DRAWN_MAX = 200;

/** Whether a shard takes the case: by remainder of the id, whose digits are as good as random. */
export function isInShard(id: string, { number, of }: Shard): boolean {
  return Number(BigInt(`0x${id}`) % BigInt(of)) === number - 1;
}

/**
 * Whether a report draws a case though it is right: all of a few, else DRAWN_MAX of them, evenly by
 * their place in the whole call, 0 … total − 1. Shards draw what the whole run would.
 */
export function isSampled(place: number, total: number): boolean {
  if (total <= DRAWN_MAX) return true;
  const upTo = (count: number): number => Math.floor((count * DRAWN_MAX) / total);
  return upTo(place + 1) > upTo(place);
}
