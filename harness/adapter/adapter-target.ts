// A target that an adapter gives, loaded when it is opened. What comes back is looked at: a promise of
// bits is worth nothing where the shape is wrong.
import type { Counters } from "../../host/record-types.ts";
import type { BlockBatch, Capabilities, ConfigEcho, Target } from "../target/target.ts";
import type { LevelBoxFacts } from "./adapter.ts";
import type { AdapterWatch } from "./adapter-watch.ts";
import type { LoadedAdapter } from "./load-adapter.ts";

/** What a box that shows levels says in place of capabilities. */
const LEVELS = { kind: "module", layoutVersion: 0, numericsVersion: 0, sampleFormats: [] };

/** A box that shows levels, as results name it. */
export const boxName = ({ name, identity }: LevelBoxFacts): string => `${name} ${identity}`;

function mustBeBytes(what: string, value: unknown): Uint8Array {
  if (value instanceof Uint8Array) return value;
  throw new Error(`the adapter's ${what} must give bytes (a Uint8Array)`);
}

export class AdapterTarget implements Target {
  readonly #load: () => Promise<LoadedAdapter>;
  readonly #watch: AdapterWatch;
  #target: Target | undefined;

  constructor(load: () => Promise<LoadedAdapter>, watch: AdapterWatch) {
    this.#load = load;
    this.#watch = watch;
  }

  async open(signal: AbortSignal): Promise<Capabilities> {
    const adapter = await this.#load();
    if (adapter.kind === "levels") {
      return { ...LEVELS, identity: boxName(adapter.facts) };
    }
    this.#target = adapter.target;
    const said = await this.#watch.wait("open()", () => adapter.target.open(signal), { signal });
    if (typeof said?.identity !== "string" || typeof said.numericsVersion !== "number") {
      throw new Error("the adapter's open() must say who it is: identity and numericsVersion");
    }
    return { ...said, kind: "module" };
  }

  async configure(bytes: Uint8Array): Promise<ConfigEcho> {
    const echo = await this.#asked("configure()", (target) => target.configure(bytes));
    return { bytes: mustBeBytes("configure()", echo?.bytes) };
  }

  async feed(batch: BlockBatch): Promise<Uint8Array> {
    return mustBeBytes("feed()", await this.#asked("feed()", (target) => target.feed(batch)));
  }

  async finish(): Promise<{ records: Uint8Array; counters: Counters }> {
    const last = await this.#asked("finish()", (target) => target.finish());
    if (typeof last?.counters !== "object" || last.counters === null) {
      throw new Error("the adapter's finish() must give records and counters");
    }
    return { records: mustBeBytes("finish()", last.records), counters: last.counters };
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

  async #asked<T>(what: string, call: (target: Target) => Promise<T>): Promise<T> {
    const target = this.#target;
    if (target !== undefined) return this.#watch.wait(what, () => call(target));
    throw new Error("a box that shows levels keeps no records: judge it by run with --device FILE");
  }
}
