// Time for whoever waits. The link's client never looks at a clock of its own, so that tests give it
// a virtual one and an hour of time-outs costs nothing.

/** A wait that was started. */
export interface Wait {
  readonly atMs: number;
}

export interface Clock {
  /** Milliseconds since some moment; never goes back. */
  now(): number;
  /** Calls `act` once, after so many milliseconds. */
  after(ms: number, act: () => void): Wait;
  /** Forgets a wait; one that is over already does no harm. */
  cancel(wait: Wait): void;
}

interface RealWait extends Wait {
  readonly timer: NodeJS.Timeout;
}

/** The machine's own time. */
export const realClock: Clock = {
  now: () => performance.now(),
  after(ms, act): RealWait {
    return { atMs: performance.now() + ms, timer: setTimeout(act, ms) };
  },
  cancel(wait) {
    clearTimeout((wait as RealWait).timer);
  },
};

interface VirtualWait extends Wait {
  readonly order: number;
  readonly act: () => void;
}

/** All promises that can go on have gone on: ticks run when no other microtask is left. */
function settled(): Promise<void> {
  return new Promise((resolve) => process.nextTick(resolve));
}

/** Time that stands still until `run` lets it go on, from one wait to the next. */
export class VirtualClock implements Clock {
  #nowMs = 0;
  #order = 0;
  /** Latest first, so that the next one is popped. */
  readonly #waits: VirtualWait[] = [];

  now(): number {
    return this.#nowMs;
  }

  /** Waits that were started and are neither over nor forgotten. */
  get waitCount(): number {
    return this.#waits.length;
  }

  after(ms: number, act: () => void): Wait {
    const wait: VirtualWait = { atMs: this.#nowMs + Math.max(0, ms), order: this.#order, act };
    this.#order += 1;
    this.#waits.splice(this.#placeOf(wait), 0, wait);
    return wait;
  }

  cancel(wait: Wait): void {
    const place = this.#placeOf(wait as VirtualWait);
    if (this.#waits[place] === wait) this.#waits.splice(place, 1);
  }

  /** Where a wait stands or belongs; of two at one time the one that was started first acts first. */
  #placeOf(wait: VirtualWait): number {
    let low = 0;
    let high = this.#waits.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      const other = this.#waits[middle]!;
      const isLater =
        other.atMs > wait.atMs || (other.atMs === wait.atMs && other.order > wait.order);
      if (isLater) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  /**
   * Lets time go on until the work is done.
   *
   * Errors    what the work throws; an Error where nothing is left to wait for, or time is over
   */
  async run<T>(work: Promise<T>, untilMs: number): Promise<T> {
    const done = { isOver: false };
    const over = (): void => {
      done.isOver = true;
    };
    work.then(over, over);
    await settled();
    while (!done.isOver) {
      const next = this.#waits.pop();
      if (next === undefined) throw new Error("it hangs: nothing is left to wait for");
      if (next.atMs > untilMs) throw new Error(`it is not done after ${untilMs} ms`);
      this.#nowMs = next.atMs;
      next.act();
      await settled();
    }
    return work;
  }
}
