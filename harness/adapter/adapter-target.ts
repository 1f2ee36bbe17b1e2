// A target that an adapter gives, loaded when it is opened. What comes back is looked at: a promise of
// bits is worth nothing where the shape is wrong.
import { messageOf } from "../../host/error-message.ts";
import type { Counters } from "../../host/record-types.ts";
import type { BlockBatch, Capabilities, ConfigEcho, Target } from "../target/target.ts";
import type { LevelBoxFacts } from "./adapter.ts";
import { bytesOf, plainBytes, plainCapabilities, plainCounters } from "./adapter-answer.ts";
import type { AdapterWatch } from "./adapter-watch.ts";
import type { LoadedAdapter } from "./load-adapter.ts";

/** What a box that shows levels says in place of capabilities. */
const LEVELS = { kind: "module", layoutVersion: 0, numericsVersion: 0, sampleFormats: [] };

/** A box that shows levels, as results name it. */
export const boxName = ({ name, identity }: LevelBoxFacts): string => `${name} ${identity}`;

export class AdapterTarget implements Target {
  readonly #file: string;
  readonly #load: () => Promise<LoadedAdapter>;
  readonly #watch: AdapterWatch;
  #target: Target | undefined;
  #signal: AbortSignal | undefined;

  /** file: as it is told where something is wrong with what it gives. */
  constructor(file: string, load: () => Promise<LoadedAdapter>, watch: AdapterWatch) {
    this.#file = file;
    this.#load = load;
    this.#watch = watch;
  }

  async open(signal: AbortSignal): Promise<Capabilities> {
    const adapter = await this.#load();
    if (adapter.kind === "levels") {
      return { ...LEVELS, identity: boxName(adapter.facts) };
    }
    this.#target = adapter.target;
    this.#signal = signal;
    const said = await this.#asked("open()", (target) => target.open(signal), signal);
    return { ...plainCapabilities(this.#file, said), kind: "module" };
  }

  async configure(bytes: Uint8Array): Promise<ConfigEcho> {
    const echo = await this.#asked("configure()", (target) => target.configure(bytes));
    return { bytes: bytesOf(this.#file, "configure()", echo, "bytes") };
  }

  async feed(batch: BlockBatch): Promise<Uint8Array> {
    const records = await this.#asked("feed()", (target) => target.feed(batch));
    return plainBytes(this.#file, "feed()", records);
  }

  async finish(): Promise<{ records: Uint8Array; counters: Counters }> {
    const last = await this.#asked("finish()", (target) => target.finish());
    const records = bytesOf(this.#file, "finish()", last, "records");
    return { records, counters: plainCounters(this.#file, last) };
  }

  reset(): Promise<void> {
    return this.#asked("reset()", (target) => target.reset());
  }

  async close(): Promise<void> {
    const target = this.#target;
    this.#target = undefined;
    // What does not answer is not waited for again, and its own failure stays the one that is told.
    if (target !== undefined && !this.#watch.isGone)
      await this.#watch.wait("close()", () => target.close());
  }

  async #asked<T>(
    what: string,
    call: (target: Target) => Promise<T>,
    signal?: AbortSignal,
  ): Promise<T> {
    const target = this.#target;
    if (target === undefined) {
      const said = "a box that shows levels keeps no records: judge it by run with --device FILE";
      throw new Error(said);
    }
    try {
      return await this.#watch.wait(what, () => call(target), { signal });
    } catch (error) {
      const isAbort = error instanceof Error && error.name === "AbortError";
      if (!isAbort || this.#signal?.aborted === true) throw error;
      // An abort of the adapter's own is a failure of it, and no interrupt of the run.
      throw new Error(`it aborted: ${messageOf(error)}`, { cause: error });
    }
  }
}
