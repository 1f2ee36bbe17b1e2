/** Bins in a factor of e: a pitch is told to a thousandth. */
const BINS_A_FOLD = 1000;

/** Pitches between edges, counted by size: memory does not grow with the edges. */
export class PitchTally {
  readonly #bins = new Map<number, { count: number; sum: number }>();
  #edgeCount = 0;
  #timeBefore = 0;

  /** Takes the next edge's time, which comes after the time before. */
  take(time: number): void {
    this.#edgeCount += 1;
    if (this.#edgeCount > 1) {
      const pitch = time - this.#timeBefore;
      const key = Math.floor(Math.log(pitch) * BINS_A_FOLD);
      const bin = this.#bins.get(key) ?? { count: 0, sum: 0 };
      bin.count += 1;
      bin.sum += pitch;
      this.#bins.set(key, bin);
    }
    this.#timeBefore = time;
  }

  get edgeCount(): number {
    return this.#edgeCount;
  }

  /**
   * The pitch that a share of all pitches lies under: the mean of the bin that it falls in.
   *
   * Accuracy  1e-3 of the pitch
   * Errors    RangeError where there are fewer than two edges
   */
  at(share: number): number {
    let left = share * (this.#edgeCount - 1);
    const keys = [...this.#bins.keys()].toSorted((a, b) => a - b);
    for (const key of keys) {
      const { count, sum } = this.#bins.get(key)!;
      if (left < count || key === keys.at(-1)) return sum / count;
      left -= count;
    }
    throw new RangeError("no pitch without two edges");
  }
}
