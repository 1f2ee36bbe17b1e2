// The built-in core as a target: the wasm, called directly in this process.
import * as L from "../../shared/layout.ts";
import type { CallLimit } from "../../host/call-limit.ts";
import type { Core } from "../../host/core.ts";
import { ByteSink } from "../../host/byte-sink.ts";
import type { Counters } from "../../host/record-types.ts";
import { writeBlock } from "./block-bytes.ts";
import { type BlockCut, cutBatch } from "./block-cutter.ts";
import type { BlockBatch, Capabilities, ConfigEcho, Target } from "./target.ts";

/** Runs the signal path in this process. One configuration and one stream at a time. */
export class CoreTarget implements Target {
  readonly #core: Core;
  readonly #sink = new ByteSink();
  /** Samples a block at most: smaller ones show that the split does not matter. */
  readonly #blockSamplesMax: number;
  /** Of a core that is not our own: our own loops are bounded. */
  readonly #limit: CallLimit | undefined;
  #ticksPerSample = 0;
  #displaySamples = 0;

  constructor(core: Core, blockSamplesMax = 128, limit?: CallLimit) {
    this.#core = core;
    this.#blockSamplesMax = blockSamplesMax;
    this.#limit = limit;
  }

  /** Once for a batch, not for a block: a bounded call costs what some blocks do. */
  #bounded<T>(work: () => T): T {
    return this.#limit === undefined ? work() : this.#limit.run(work);
  }

  async open(signal: AbortSignal): Promise<Capabilities> {
    signal.throwIfAborted();
    return {
      kind: "core",
      identity: this.#core.identity,
      layoutVersion: this.#core.layoutVersion,
      numericsVersion: this.#core.numericsVersion,
      sampleFormats: ["f32", "i16"],
    };
  }

  async configure(bytes: Uint8Array): Promise<ConfigEcho> {
    const active = this.#bounded(() => {
      this.#core.configure(bytes);
      return this.#core.activeConfiguration();
    });
    const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.#ticksPerSample = view.getUint32(L.GLOBAL_TICKS_PER_SAMPLE, true);
    this.#displaySamples = view.getUint32(L.GLOBAL_DISPLAY_SAMPLES, true);
    return { bytes: active };
  }

  async feed(batch: BlockBatch): Promise<Uint8Array> {
    this.#bounded(() =>
      cutBatch(
        batch,
        this.#ticksPerSample,
        this.#displaySamples,
        (cut) => this.#block(batch, cut),
        this.#blockSamplesMax,
      ),
    );
    return this.#sink.take();
  }

  #block(batch: BlockBatch, cut: BlockCut): void {
    writeBlock(this.#core, this.#core.blockAddress, batch, cut, this.#ticksPerSample);
    this.#core.process();
    const records = this.#core.takeRecords();
    if (records.byteLength > 0) this.#sink.add(records);
  }

  async finish(): Promise<{ records: Uint8Array; counters: Counters }> {
    const counters = this.#bounded(() => this.#core.counters());
    return { records: this.#sink.take(), counters };
  }

  async reset(): Promise<void> {
    this.#bounded(() => this.#core.reset());
    this.#sink.take();
  }

  async close(): Promise<void> {}
}
