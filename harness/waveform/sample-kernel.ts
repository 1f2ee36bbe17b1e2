// Carries the sample loops (kernel/), one instance a thread. A chunk is made and taken away before the
// next begins, so all waveforms of a thread share its memory.
import { existsSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { xoroshiro128plusFromState } from "pure-rand/generator/xoroshiro128plus";
import { PACKAGE_ROOT } from "../../host/package-root.ts";
import { INSIDE, WIDTHS, gaussianOf } from "../random/gaussian.ts";
import type { StatefulStream } from "../random/stream.ts";
import { CHUNK_SAMPLES } from "./sample-clock.ts";

interface KernelExports {
  memory: WebAssembly.Memory;
  chunkSamples(): number;
  addressOut(): number;
  addressRe(): number;
  addressIm(): number;
  addressConverted(): number;
  addressStream(): number;
  addressWidths(): number;
  addressInside(): number;
  clear(): void;
  addSteady(from: number, until: number, ...numbers: number[]): void;
  addChirp(from: number, until: number, ...numbers: number[]): void;
  fillPhasor(count: number, ...numbers: number[]): void;
  addVarying(from: number, count: number, ...numbers: number[]): void;
  addNoise(from: number, rms: number): number;
  convertFloats(): void;
  convertCounts(step: number): void;
  convertCountsToFloats(step: number): void;
}

/** Two builds of the same loops: the bits are equal. */
export type KernelBuild = "simd" | "scalar";

const FILES: Record<KernelBuild, string> = {
  simd: join(PACKAGE_ROOT, "build", "core", "waveform-simd.wasm"),
  scalar: join(PACKAGE_ROOT, "build", "core", "waveform.wasm"),
};

export class SampleKernel {
  /** The loops themselves; they work on the views below. */
  readonly loops: KernelExports;
  /** The chunk that is made. */
  readonly out: Float64Array;
  /** A phasor over the chunk. */
  readonly re: Float64Array;
  readonly im: Float64Array;
  /** The chunk as a converter gives it, as either. */
  readonly floats: Float32Array;
  readonly counts: Int16Array;
  readonly #stream: Int32Array;

  constructor(build: KernelBuild) {
    const module = new WebAssembly.Module(new Uint8Array(readFileSync(FILES[build])));
    const loops = new WebAssembly.Instance(module).exports as unknown as KernelExports;
    if (loops.chunkSamples() !== CHUNK_SAMPLES) {
      throw new Error(`the kernel makes ${loops.chunkSamples()} samples, not ${CHUNK_SAMPLES}`);
    }
    const { buffer } = loops.memory;
    this.loops = loops;
    this.out = new Float64Array(buffer, loops.addressOut(), CHUNK_SAMPLES);
    this.re = new Float64Array(buffer, loops.addressRe(), CHUNK_SAMPLES);
    this.im = new Float64Array(buffer, loops.addressIm(), CHUNK_SAMPLES);
    this.floats = new Float32Array(buffer, loops.addressConverted(), CHUNK_SAMPLES);
    this.counts = new Int16Array(buffer, loops.addressConverted(), CHUNK_SAMPLES);
    this.#stream = new Int32Array(buffer, loops.addressStream(), 4);
    new Float64Array(buffer, loops.addressWidths(), WIDTHS.length).set(WIDTHS);
    new Int32Array(buffer, loops.addressInside(), INSIDE.length).set(INSIDE);
  }

  /**
   * Adds rms times the stream's next Gaussian numbers to the whole chunk; gives the stream as it then
   * stands. The numbers are those of `gaussianOf`.
   */
  addNoise(rms: number, stream: StatefulStream): StatefulStream {
    const state = this.#stream;
    state.set(stream.getState());
    for (let at = 0; ; at += 1) {
      at = this.loops.addNoise(at, rms);
      const now = xoroshiro128plusFromState([...state]);
      if (at === CHUNK_SAMPLES) return now;
      // About one in eighty lies at a layer's edge or in the tail.
      this.out[at] = this.out[at]! + rms * gaussianOf(now);
      state.set(now.getState());
    }
  }
}

let kernel: SampleKernel | undefined;

/** This thread's kernel: the build with SIMD where it is there and the machine takes it. */
export function sampleKernel(): SampleKernel {
  if (kernel === undefined) {
    const isTaken = existsSync(FILES.simd) && WebAssembly.validate(readFileSync(FILES.simd));
    kernel = new SampleKernel(isTaken ? "simd" : "scalar");
  }
  return kernel;
}
