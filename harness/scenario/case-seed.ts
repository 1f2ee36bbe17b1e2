// A case's seed: from its name and the user's seed, never from its place in a run.

/** Seed where the user states none. */
export const USER_SEED = 1;

/** One round of mixing, so that names that differ in one letter give unrelated seeds. */
function mix(hash: number): number {
  let bits = hash;
  bits = Math.imul(bits ^ (bits >>> 16), 0x85ebca6b);
  bits = Math.imul(bits ^ (bits >>> 13), 0xc2b2ae35);
  return (bits ^ (bits >>> 16)) >>> 0;
}

/**
 * 32 bits from a case's name and the user's seed.
 *
 * Source    FNV-1a over the name's UTF-8 bytes, then the finisher of a 32-bit hash; our own choice
 */
export function caseSeed(name: string, userSeed: number): number {
  let hash = 0x811c9dc5;
  for (const byte of new TextEncoder().encode(name)) {
    hash = Math.imul(hash ^ byte, 0x01000193);
  }
  return mix(mix(hash >>> 0) ^ mix(userSeed >>> 0) ^ Math.imul(userSeed >>> 0, 0x9e3779b1));
}
