// Captured edges on their way out: in ascending order, equal ticks merged, lost ones left out.

/** Rounding of a time in ticks: an edge this little before a tick counts as on it. */
const TICK_GUARD = 1e-6;

export class EdgeOrder {
  #ticks: number[] = [];
  #head = 0;
  readonly #dropOuts: { fromTick: number; untilTick: number }[];

  constructor(dropOuts: { fromTick: number; untilTick: number }[]) {
    this.#dropOuts = dropOuts;
  }

  /** Captures an edge at floor(base + offset), where the input is alive. */
  put(baseTick: number, offsetTicks: number): void {
    const tick = baseTick + Math.floor(offsetTicks + TICK_GUARD);
    if (tick < 0) return;
    for (const one of this.#dropOuts) {
      if (tick >= one.fromTick && tick < one.untilTick) return;
    }
    let at = this.#ticks.length;
    while (at > this.#head && this.#ticks[at - 1]! > tick) at -= 1;
    if (at > this.#head && this.#ticks[at - 1] === tick) return;
    if (at === this.#ticks.length) this.#ticks.push(tick);
    else this.#ticks.splice(at, 0, tick);
  }

  /** Moves the edges before a tick to `into`, which grows as needed; returns buffer and count. */
  take(untilTick: number, into: Float64Array): { buffer: Float64Array; count: number } {
    let end = this.#head;
    while (end < this.#ticks.length && this.#ticks[end]! < untilTick) end += 1;
    const count = end - this.#head;
    const buffer = count > into.length ? new Float64Array(2 * count) : into;
    for (let i = 0; i < count; i += 1) buffer[i] = this.#ticks[this.#head + i]!;
    this.#ticks.splice(0, end);
    this.#head = 0;
    return { buffer, count };
  }
}
