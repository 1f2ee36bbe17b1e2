// A bound on how long a firmware that is not our own may keep a call up: a loop in it may have no end,
// and nothing else in this thread runs before it comes back.
import { type Context, createContext, Script } from "node:vm";
import { isMainThread } from "node:worker_threads";

/** With one filter the debug build took a batch in 126 ms at most, on a machine four times as busy. */
export const CALL_MS_MAX = 30_000;

/** Code that is run in a context is the only one that can be cut off from within its own thread. */
const SCRIPT = new Script("work()");

/** What every sentence of a call that was cut off begins with, wherever it was thrown. */
export const CUT_OFF_WORDS = "the core did not come back within";

function codeOf(error: unknown): unknown {
  return (error as { code?: unknown } | undefined)?.code;
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
   * Effect    work that is cut off is left where it stands; what it worked on is of no more use.
   *           An interrupt cuts it off, too, and is then heard by those who listen to the process
   * Errors    an Error that says so in a sentence; an AbortError at an interrupt
   */
  run<T>(work: () => T): T {
    this.#slot.work = work;
    try {
      // A thread of a run is ended by the main one, which alone hears an interrupt.
      const options = { timeout: this.#ms, breakOnSigint: isMainThread };
      return SCRIPT.runInContext(this.#context, options) as T;
    } catch (error) {
      if (codeOf(error) === "ERR_SCRIPT_EXECUTION_INTERRUPTED") {
        process.emit("SIGINT");
        throw new DOMException("interrupted in a call of the core", "AbortError");
      }
      if (codeOf(error) !== "ERR_SCRIPT_EXECUTION_TIMEOUT") throw error;
      throw new Error(`${CUT_OFF_WORDS} ${this.#ms / 1000} s: a loop in it may have no end`, {
        cause: error,
      });
    } finally {
      delete this.#slot.work;
    }
  }
}
