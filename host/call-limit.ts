// A bound on how long a firmware that is not our own may keep a call up: a loop in it may have no end,
// and nothing in this thread, an interrupt included, runs before it comes back.
import { type Context, createContext, Script } from "node:vm";

/** With one filter the debug build took a batch in 126 ms at most, on a machine four times as busy. */
export const CALL_MS_MAX = 30_000;

/** Code that is run in a context is the only one that can be cut off from within its own thread. */
const SCRIPT = new Script("work()");

function isCutOff(error: unknown): boolean {
  return (error as { code?: unknown } | undefined)?.code === "ERR_SCRIPT_EXECUTION_TIMEOUT";
}

/** Calls what may not come back. */
export class CallLimit {
  readonly #ms: number;
  readonly #slot: { work?: () => unknown } = {};
  readonly #context: Context;

  constructor(ms = CALL_MS_MAX) {
    this.#ms = Math.ceil(ms);
    this.#context = createContext(this.#slot);
  }

  /**
   * What the work gives, or throws.
   *
   * Effect    work that is cut off is left where it stands; what it worked on is of no more use
   * Errors    an Error that says so in a sentence
   */
  run<T>(work: () => T): T {
    this.#slot.work = work;
    try {
      return SCRIPT.runInContext(this.#context, { timeout: this.#ms }) as T;
    } catch (error) {
      if (!isCutOff(error)) throw error;
      throw new Error(
        `the core did not come back within ${this.#ms / 1000} s: a loop in it may have no end ` +
          "(--time-out gives it another time)",
        { cause: error },
      );
    } finally {
      delete this.#slot.work;
    }
  }
}
