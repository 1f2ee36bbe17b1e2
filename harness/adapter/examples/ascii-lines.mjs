// A device with a protocol of its own: lines of text, bytes as hexadecimal. Here a small simulated device
// stands for it, so that the example runs as it is:
//
//   npx amberline run harness/scenarios/board --target module:harness/adapter/examples/ascii-lines.mjs
//
// For a real one put its port in place of `SimulatedDevice`: a line goes out, a line comes back.
import { fileURLToPath } from "node:url";
import { BlockRefused, ConfigurationRefused, Core } from "../../../build/host/core.js";
import { writeBlock } from "../../../build/harness/target/block-bytes.js";
import { cutBatch } from "../../../build/harness/target/block-cutter.js";
import * as L from "../../../build/shared/layout.js";

const CORE = fileURLToPath(new URL("../../../build/core/release.wasm", import.meta.url));
const hex = (bytes) => Buffer.from(bytes).toString("hex");
const bytesOf = (text) => new Uint8Array(Buffer.from(text, "hex"));

/** The device's side: takes a line, answers with a line. Yours is at the end of a cable. */
class SimulatedDevice {
  #core = Core.fromFile(CORE);

  async ask(line) {
    const [word, data = ""] = line.split(" ");
    try {
      switch (word) {
        case "WHO":
          return `IAM ${this.#core.identity} ${this.#core.layoutVersion} ${this.#core.numericsVersion}`;
        case "SET":
          this.#core.configure(bytesOf(data));
          return `IS ${hex(this.#core.activeConfiguration())}`;
        case "TAKE": {
          const bytes = bytesOf(data);
          new Uint8Array(this.#core.words.buffer).set(bytes, this.#core.blockAddress);
          this.#core.process();
          return `GIVE ${hex(this.#core.takeRecords())}`;
        }
        case "COUNT":
          return `COUNTED ${JSON.stringify(this.#core.counters())}`;
        case "AGAIN":
          this.#core.reset();
          return "READY";
        default:
          return `WHAT ${word}`;
      }
    } catch (error) {
      if (error instanceof ConfigurationRefused) {
        return `UNFIT ${error.rule} ${error.fieldOffset} ${error.found} ${error.limit}`;
      }
      if (error instanceof BlockRefused) return `LEFT ${error.status}`;
      return `NO ${error.message}`;
    }
  }
}

/** The host's side: the whole interface, so every bit is promised and judged. */
class AsciiTarget {
  #device;
  #scratch = new ArrayBuffer(L.BLOCK_BYTES_MAX);
  #ticksPerSample = 0;
  #displaySamples = 0;

  constructor(device) {
    this.#device = device;
  }

  /** Asks, and takes nothing but the answer that belongs to it. */
  async #ask(line, expected) {
    const answer = await this.#device.ask(line);
    const [word, ...numbers] = answer.split(" ");
    // What the firmware refuses is told as such: the user then learns which setting to change.
    if (word === "UNFIT") throw new ConfigurationRefused(...numbers.map(Number));
    if (word === "LEFT") throw new BlockRefused(Number(numbers[0]));
    if (!answer.startsWith(`${expected} `) && answer !== expected) {
      throw new Error(`the device answered "${answer.slice(0, 60)}" to ${line.split(" ")[0]}`);
    }
    return answer.slice(expected.length + 1);
  }

  async open() {
    const [identity, layout, numerics] = (await this.#ask("WHO", "IAM")).split(" ");
    return {
      kind: "ascii",
      identity,
      layoutVersion: Number(layout),
      numericsVersion: Number(numerics),
      sampleFormats: ["f32", "i16"],
    };
  }

  async configure(bytes) {
    const echo = bytesOf(await this.#ask(`SET ${hex(bytes)}`, "IS"));
    // Only once it is active: a refused configuration changes nothing.
    const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.#ticksPerSample = view.getUint32(L.GLOBAL_TICKS_PER_SAMPLE, true);
    this.#displaySamples = view.getUint32(L.GLOBAL_DISPLAY_SAMPLES, true);
    return { bytes: echo };
  }

  async feed(batch) {
    const memory = {
      words: new Uint32Array(this.#scratch),
      floats: new Float32Array(this.#scratch),
      halves: new Int16Array(this.#scratch),
    };
    const blocks = [];
    cutBatch(batch, this.#ticksPerSample, this.#displaySamples, (cut) => {
      const length = writeBlock(memory, 0, batch, cut, this.#ticksPerSample);
      blocks.push(hex(new Uint8Array(this.#scratch, 0, length)));
    });
    const records = [];
    for (const block of blocks) records.push(bytesOf(await this.#ask(`TAKE ${block}`, "GIVE")));
    return new Uint8Array(Buffer.concat(records));
  }

  async finish() {
    const counters = JSON.parse(await this.#ask("COUNT", "COUNTED"));
    return { records: new Uint8Array(0), counters };
  }

  async reset() {
    await this.#ask("AGAIN", "READY");
  }

  async close() {}
}

export const makeTarget = () => new AsciiTarget(new SimulatedDevice());
