// Captured edges on their way out: in ascending order, equal ticks merged, lost ones left out.

/** Rounding of a time in ticks: an edge this little before a tick counts as on it. */
const TICK_GUARD = 1e-6;

const ROOM_MIN = 64;

export class EdgeOrder {
  #ticks = new Float64Array(ROOM_MIN);
  #count = 0;
  readonly #dropOuts: { fromTick: number; untilTick: number }[];

  constructor(dropOuts: { fromTick: number; untilTick: number }[]) {
    this.#dropOuts = dropOuts;
  }

  /** Captures an edge at floor(base + offset), where the input is alive. */
  put(baseTick: number, offsetTicks: number): void {
    const tick = baseTick + Math.floor(offsetTicks + TICK_GUARD);
    if (tick < 0) return;
    for (let i = 0; i < this.#dropOuts.length; i += 1) {
      const one = this.#dropOuts[i]!;
      if (tick >= one.fromTick && tick < one.untilTick) return;
    }
    if (this.#count === this.#ticks.length) this.#widen();
    const ticks = this.#ticks;
    let at = this.#count;
    while (at > 0 && ticks[at - 1]! > tick) at -= 1;
    if (at > 0 && ticks[at - 1] === tick) return;
    if (at < this.#count) ticks.copyWithin(at + 1, at, this.#count);
    ticks[at] = tick;
    this.#count += 1;
  }

  #widen(): void {
    const wider = new Float64Array(2 * this.#ticks.length);
    wider.set(this.#ticks);
    this.#ticks = wider;
  }

  /** Moves the edges before a tick to `into`, which grows as needed; returns buffer and count. */
  take(untilTick: number, into: Float64Array): { buffer: Float64Array; count: number } {
    let count = this.#count;
    while (count > 0 && this.#ticks[count - 1]! >= untilTick) count -= 1;
    const buffer = count > into.length ? new Float64Array(2 * count) : into;
    buffer.set(this.#ticks.subarray(0, count));
    this.#ticks.copyWithin(0, count, this.#count);
    this.#count -= count;
    return { buffer, count };
  }
}
