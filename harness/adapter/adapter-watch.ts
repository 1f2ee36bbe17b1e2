// Waits for code of the user's own: not for ever, and not only for its answer. What such code throws
// beside an answer, from a timer or a promise that nobody waits for, would end the command; here it
// fails the call that is waited for, or the next one.
import { messageOf } from "../../host/error-message.ts";

/** An adapter's call may take so long where nothing else is said. */
export const PATIENCE_MS = 60_000;

/** The adapter came to no end, or threw where nothing can be relied on any more. */
export class AdapterGone extends Error {}

const STRAY = ["uncaughtException", "unhandledRejection"] as const;

export class AdapterWatch {
  readonly #patienceMs: number;
  readonly #isPatienceSaid: boolean;
  /** After it nothing is asked any more. */
  #gone: AdapterGone | undefined;
  #fail: ((error: AdapterGone) => void) | undefined;

  constructor(giveUpMs?: number) {
    this.#patienceMs = giveUpMs ?? PATIENCE_MS;
    this.#isPatienceSaid = giveUpMs !== undefined;
    for (const event of STRAY) process.on(event, this.#onStray);
  }

  readonly #onStray = (error: unknown): void => {
    const said = `the adapter threw outside its calls: ${messageOf(error)}`;
    this.#gone ??= new AdapterGone(said, { cause: error });
    this.#fail?.(this.#gone);
  };

  get isGone(): boolean {
    return this.#gone !== undefined;
  }

  /**
   * What a call gives.
   *
   * Shape     leastMs: patience where none was said; signal: ends the wait, with its reason
   * Errors    AdapterGone after the patience, or where something was thrown beside it; the call's
   *           own
   */
  async wait<T>(
    what: string,
    call: () => T | Promise<T>,
    { leastMs = 0, signal }: { leastMs?: number; signal?: AbortSignal } = {},
  ): Promise<T> {
    if (this.#gone !== undefined) throw this.#gone;
    const patienceMs = this.#isPatienceSaid
      ? this.#patienceMs
      : Math.max(this.#patienceMs, leastMs);
    let timer: NodeJS.Timeout | undefined;
    let onAbort = (): void => {};
    const gone = new Promise<never>((_, reject) => {
      this.#fail = reject;
      onAbort = () => reject(signal?.reason as Error);
      signal?.addEventListener("abort", onAbort, { once: true });
      const seconds = Number((patienceMs / 1000).toPrecision(3));
      const late = `the adapter has not come back from ${what} within ${seconds} s`;
      timer = setTimeout(() => reject((this.#gone ??= new AdapterGone(late))), patienceMs);
    });
    // What is thrown in the call itself is thrown here; a promise that is lost to the race is held.
    const answer = (async () => call())();
    answer.catch(() => {});
    try {
      return await Promise.race([answer, gone]);
    } finally {
      clearTimeout(timer);
      signal?.removeEventListener("abort", onAbort);
      this.#fail = undefined;
    }
  }

  /** No more calls. */
  end(): void {
    for (const event of STRAY) process.off(event, this.#onStray);
  }
}
