// A device at the other end of a line as a target.
import { BLOCK_EDGES_MAX, BLOCK_SAMPLES_MAX } from "../../shared/capacity.ts";
import * as L from "../../shared/layout.ts";
import { FORMAT_F32, FORMAT_I16 } from "../../shared/units.ts";
import { LinkClient, type LinkClientOptions, type OutgoingBlock } from "../../host/link/client.ts";
import { missingCapability } from "../../host/link/link-error.ts";
import type { HelloAnswer } from "../../host/link/packet.ts";
import type { Counters } from "../../host/record-types.ts";
import { type BlockMemory, writeBlock } from "./block-bytes.ts";
import { type BlockCut, cutBatch } from "./block-cutter.ts";
import type { BlockBatch, Capabilities, ConfigEcho, Target } from "./target.ts";

export interface LinkTargetOptions extends LinkClientOptions {
  /** What the results call it. */
  kind: string;
  /** Samples a block at most, where fewer are wished than the device takes. */
  blockSamplesMax?: number;
}

const FORMATS = ["f32", "i16"] as const;

/** One configuration and one stream at a time, one session for its life. */
export class LinkTarget implements Target {
  readonly client: LinkClient;
  readonly #options: LinkTargetOptions;
  readonly #scratch: BlockMemory & { bytes: Uint8Array };
  #hello: HelloAnswer | undefined;
  #blockSamplesMax = BLOCK_SAMPLES_MAX;
  #ticksPerSample = 0;
  #displaySamples = 0;

  constructor(options: LinkTargetOptions) {
    this.#options = options;
    this.client = new LinkClient(options);
    const memory = new ArrayBuffer(L.BLOCK_BYTES_MAX);
    this.#scratch = {
      bytes: new Uint8Array(memory),
      words: new Uint32Array(memory),
      floats: new Float32Array(memory),
      halves: new Int16Array(memory),
    };
  }

  async open(signal: AbortSignal): Promise<Capabilities> {
    const hello = await this.client.open(signal);
    this.#hello = hello;
    const { blockSamplesMax = BLOCK_SAMPLES_MAX } = this.#options;
    this.#blockSamplesMax = Math.min(blockSamplesMax, hello.samplesMax);
    return {
      kind: this.#options.kind,
      identity: hello.identity,
      layoutVersion: hello.layout,
      numericsVersion: hello.numerics,
      sampleFormats: FORMATS.filter((_, format) => (hello.formats & (1 << format)) !== 0),
    };
  }

  async configure(bytes: Uint8Array): Promise<ConfigEcho> {
    const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.#mustHold(view);
    const echo = await this.client.configure(bytes);
    this.#ticksPerSample = view.getUint32(L.GLOBAL_TICKS_PER_SAMPLE, true);
    this.#displaySamples = view.getUint32(L.GLOBAL_DISPLAY_SAMPLES, true);
    return { bytes: echo };
  }

  /** Errors: LinkError where the device has not the room that is asked for. */
  #mustHold(configuration: DataView): void {
    const hello = this.#hello;
    if (hello === undefined || configuration.byteLength !== L.CONFIG_BYTES) return;
    const parts = [
      ["channels", L.GLOBAL_CHANNEL_COUNT, hello.channelsMax],
      ["shafts", L.GLOBAL_SHAFT_COUNT, hello.shaftsMax],
      ["filters", L.GLOBAL_FILTER_COUNT, hello.filtersMax],
    ] as const;
    for (const [what, offset, most] of parts) {
      const count = configuration.getUint32(offset, true);
      if (count > most) throw missingCapability(`${what}: ${count} wanted, ${most} there`);
    }
    const { samplesMax, edgesMax, bodyMax } = hello;
    const channels = configuration.getUint32(L.GLOBAL_CHANNEL_COUNT, true);
    const shafts = configuration.getUint32(L.GLOBAL_SHAFT_COUNT, true);
    const samples = this.#blockSamplesMax;
    const bytes = L.BLOCK_HEADER_BYTES + 4 * (channels * samples + shafts * BLOCK_EDGES_MAX);
    if (edgesMax < BLOCK_EDGES_MAX || samplesMax < 1 || bodyMax < bytes) {
      const most = `${samplesMax} samples, ${edgesMax} edges and ${bodyMax} bytes`;
      throw missingCapability(`blocks of ${bytes} bytes, it takes at most ${most}`);
    }
  }

  async feed(batch: BlockBatch): Promise<Uint8Array> {
    const format = batch.samples[0] instanceof Int16Array ? FORMAT_I16 : FORMAT_F32;
    if (((this.#hello?.formats ?? 0) & (1 << format)) === 0) {
      throw missingCapability(`samples as ${FORMATS[format]}`);
    }
    const blocks: OutgoingBlock[] = [];
    cutBatch(
      batch,
      this.#ticksPerSample,
      this.#displaySamples,
      (cut) => blocks.push(this.#block(batch, cut)),
      this.#blockSamplesMax,
    );
    return this.client.feed(blocks);
  }

  #block(batch: BlockBatch, cut: BlockCut): OutgoingBlock {
    const firstSample = batch.firstSample + cut.sampleFrom;
    const end = firstSample + cut.sampleCount;
    const period = this.#displaySamples;
    const stepsBefore = firstSample === 0 ? 0 : Math.floor((firstSample - 1) / period);
    const bytes = writeBlock(this.#scratch, 0, batch, cut, this.#ticksPerSample);
    return {
      bytes: this.#scratch.bytes.slice(0, bytes),
      firstSample,
      bringsRecords: Math.floor((end - 1) / period) > stepsBefore,
    };
  }

  async finish(): Promise<{ records: Uint8Array; counters: Counters }> {
    const records = await this.client.feed([]);
    const { path } = await this.client.counters();
    return { records, counters: path };
  }

  reset(): Promise<void> {
    return this.client.reset();
  }

  close(): Promise<void> {
    return this.client.close();
  }
}
