// The built-in core as a target: the wasm, called directly in this process.
import * as L from "../../shared/layout.ts";
import { FORMAT_F32, FORMAT_I16 } from "../../shared/units.ts";
import type { Core } from "../../host/core.ts";
import type { Counters } from "../../host/record-types.ts";
import { type BlockCut, cutBatch } from "./block-cutter.ts";
import type { BlockBatch, Capabilities, ConfigEcho, Target } from "./target.ts";

const TWO_32 = 4294967296;
const HEADER_WORDS = L.BLOCK_HEADER_BYTES >> 2;

/** Bytes that grow; handed out as a copy and emptied. */
class ByteSink {
  #bytes = new Uint8Array(64 * 1024);
  #length = 0;
  add(part: Uint8Array): void {
    while (this.#length + part.byteLength > this.#bytes.byteLength) {
      const wider = new Uint8Array(this.#bytes.byteLength * 2);
      wider.set(this.#bytes.subarray(0, this.#length));
      this.#bytes = wider;
    }
    this.#bytes.set(part, this.#length);
    this.#length += part.byteLength;
  }
  take(): Uint8Array {
    const taken = this.#bytes.slice(0, this.#length);
    this.#length = 0;
    return taken;
  }
}

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
    const { words, floats, halves } = this.#core;
    const base = this.#core.blockAddress;
    const first = batch.firstSample + cut.sampleFrom;
    const isI16 = batch.samples[0] instanceof Int16Array;
    const firstTick = first * this.#ticksPerSample;
    const firstLow = firstTick % TWO_32;
    let word = base >> 2;
    // Loops in place of fill, set and subarray: a block is so short that calls and views cost more.
    for (let i = 0; i < HEADER_WORDS; i += 1) words[word + i] = 0;
    words[(base + L.BLOCK_LAYOUT) >> 2] = L.LAYOUT_VERSION;
    words[(base + L.BLOCK_FORMAT) >> 2] = isI16 ? FORMAT_I16 : FORMAT_F32;
    words[(base + L.BLOCK_FIRST_LOW) >> 2] = first % TWO_32;
    words[(base + L.BLOCK_FIRST_HIGH) >> 2] = Math.floor(first / TWO_32);
    words[(base + L.BLOCK_SAMPLE_COUNT) >> 2] = cut.sampleCount;
    words[(base + L.BLOCK_INPUTS) >> 2] = cut.inputs;
    word += HEADER_WORDS;
    for (const samples of batch.samples) {
      const { sampleFrom, sampleCount } = cut;
      if (samples instanceof Int16Array) {
        const half = word << 1;
        for (let i = 0; i < sampleCount; i += 1) halves[half + i] = samples[sampleFrom + i]!;
        if ((sampleCount & 1) === 1) halves[half + sampleCount] = 0;
        word += (sampleCount + 1) >> 1;
      } else {
        floats.set(samples.subarray(sampleFrom, sampleFrom + sampleCount), word);
        word += sampleCount;
      }
    }
    for (let shaft = 0; shaft < batch.edges.length; shaft += 1) {
      const count = cut.edgeCount[shaft]!;
      const from = cut.edgeFrom[shaft]!;
      words[((base + L.BLOCK_EDGE_COUNTS) >> 2) + shaft] = count;
      // Offsets from the block's first tick are small; the low 32 bits of a sum are the sum of them.
      const edges = batch.edges[shaft]!;
      for (let i = 0; i < count; i += 1) words[word + i] = edges[from + i]! - firstTick + firstLow;
      word += count;
    }
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
