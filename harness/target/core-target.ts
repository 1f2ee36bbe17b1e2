// The built-in core as a target: the wasm, called directly in this process.
import * as L from "../../shared/layout.ts";
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
  #ticksPerSample = 0;
  #displaySamples = 0;

  constructor(core: Core, blockSamplesMax = 128) {
    this.#core = core;
    this.#blockSamplesMax = blockSamplesMax;
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
    this.#core.configure(bytes);
    const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.#ticksPerSample = view.getUint32(L.GLOBAL_TICKS_PER_SAMPLE, true);
    this.#displaySamples = view.getUint32(L.GLOBAL_DISPLAY_SAMPLES, true);
    return { bytes: this.#core.activeConfiguration() };
  }

  async feed(batch: BlockBatch): Promise<Uint8Array> {
    cutBatch(
      batch,
      this.#ticksPerSample,
      this.#displaySamples,
      (cut) => this.#block(batch, cut),
      this.#blockSamplesMax,
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
    return { records: this.#sink.take(), counters: this.#core.counters() };
  }

  async reset(): Promise<void> {
    this.#core.reset();
    this.#sink.take();
  }

  async close(): Promise<void> {}
}
