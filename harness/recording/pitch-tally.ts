/** Bins in a factor of e: a pitch is told to a thousandth. */
const BINS_A_FOLD = 1000;

/** An edge that falls between two samples of a steep pulse is told by one of them. */
const SAMPLE = 1;

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

  /**
   * The middle pitch. Pitches of steep pulses are whole samples: the middle one of 83, 83, 84 is
   * 83, though the shaft takes 83.33. So it is the mean of all within a sample of the middle one,
   * or within half of it, which a wheel's gap is not.
   *
   * Accuracy  of a steady speed a sample over the whole stretch; else a sample or half the pitch
   * Errors    RangeError where there are fewer than two edges
   */
  get middle(): number {
    const median = this.at(0.5);
    const room = Math.min(SAMPLE, 0.5 * median);
    // Above a thousand samples one bin holds more than a sample: it is taken whole.
    const near = [...this.#bins.values()].filter(
      ({ count, sum }) => Math.abs(sum / count - median) <= room,
    );
    const count = near.reduce((all, bin) => all + bin.count, 0);
    return near.reduce((all, bin) => all + bin.sum, 0) / count;
  }
}
