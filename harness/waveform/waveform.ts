// Scene → samples and edges. Portable arithmetic only: + − × ÷ √, comparisons, polynomials of our
// own. All is made in chunks on a fixed grid, so no byte depends on the size of a batch, and memory
// does not grow with the flight.
//
// Components, rotors and edges follow the TRUE shaft angle, the torsional ripple included: it is
// the shaft's own. Wheel errors and jitter touch edges only.
import { randomStream } from "../random/stream.ts";
import type { Scene } from "../scene/scene.ts";
import type { BlockBatch } from "../target/target.ts";
import { ChannelSource } from "./channel-source.ts";
import { convertChunk } from "./converter.ts";
import type { ConverterKind } from "./converter.ts";
import { EdgeSource } from "./edge-source.ts";
import { InputCursor } from "./input-rows.ts";
import { CHUNK_SAMPLES, sampleFrom } from "./sample-clock.ts";
import { ShaftTrack } from "./shaft-track.ts";
import type { NoiseSpread, WaveformSource } from "./types.ts";

const BATCH_SAMPLES_MAX = 65536;
/** Random streams: the shafts' jitter first, then so many a channel. */
const STREAM_CHANNELS = 16;
const STREAMS_PER_CHANNEL = 64;

/**
 * The waveform of a scene. `spread` is asked once for each channel where the scene's noise is that of
 * another rate than its profile's: what it draws are the same random numbers as at that rate.
 *
 * Shape     samples f32, or i16 counts where every converter is i16; edges ascending ticks
 * Range     a batch has at most 65,536 samples
 * Errors    throws at once on a scene that cannot be made (says what)
 * Accuracy  samples within 1e-9 of the amplitude before the converter; edges within 1e-6 tick
 *           before floor; angle within 1e-9 revolutions after ten hours
 */
export function makeWaveform(scene: Scene, spread?: () => NoiseSpread): WaveformSource {
  return new SceneWaveform(scene, spread);
}

class SceneWaveform implements WaveformSource {
  readonly sampleCount: number;
  readonly #channels: ChannelSource[];
  readonly #kinds: ConverterKind[];
  readonly #steps: number[];
  readonly #shafts: EdgeSource[];
  readonly #inputs: InputCursor;
  readonly #ticksPerSample: number;
  /** The chunk made last, where the batch before took only a part of it. */
  readonly #kept: (Float32Array | Int16Array)[];
  #chunkFirst = -CHUNK_SAMPLES;
  #position = 0;
  #buffers: (Float32Array | Int16Array)[] = [];
  readonly #edges: Float64Array[];

  constructor(scene: Scene, spread?: () => NoiseSpread) {
    const { sampleRateHz, clockHz } = scene.profile;
    this.#ticksPerSample = clockHz / sampleRateHz;
    if (!Number.isInteger(this.#ticksPerSample)) {
      throw new Error(`a clock of ${clockHz} Hz is no whole multiple of ${sampleRateHz} Hz`);
    }
    this.sampleCount = sampleFrom(scene.durationS, sampleRateHz);
    const tracks = scene.shafts.map((motion) => new ShaftTrack(motion, sampleRateHz));
    const clock = { sampleRateHz, ticksPerSample: this.#ticksPerSample };
    this.#shafts = scene.shafts.map((motion, shaft) => {
      const { pieces, ripple } = tracks[shaft]!;
      return new EdgeSource(motion, pieces, ripple, randomStream(scene.seed, shaft), clock);
    });
    this.#channels = scene.channels.map((signal, channel) => {
      const quantity = scene.profile.channels[channel]?.quantity;
      if (quantity === undefined) throw new Error(`the profile has no channel ${channel}`);
      const streamBase = STREAM_CHANNELS + channel * STREAMS_PER_CHANNEL;
      return new ChannelSource(signal, {
        quantity,
        tracks,
        sampleRateHz,
        seed: scene.seed,
        streamBase,
        ...(spread === undefined ? {} : { spread: spread() }),
      });
    });
    const isCounts = scene.channels.every((signal) => signal.converter.format === "i16");
    this.#kinds = scene.channels.map((signal) => {
      if (signal.converter.format === "f32") return "f32";
      return isCounts ? "i16" : "counts-as-f32";
    });
    this.#steps = scene.channels.map((signal) => signal.converter.step);
    this.#inputs = new InputCursor(scene.inputs, sampleRateHz);
    this.#kept = this.#kinds.map((kind) =>
      kind === "i16" ? new Int16Array(CHUNK_SAMPLES) : new Float32Array(CHUNK_SAMPLES),
    );
    this.#edges = scene.shafts.map(() => new Float64Array(64));
  }

  next(samplesMax: number): BlockBatch | undefined {
    const firstSample = this.#position;
    const count = Math.min(samplesMax, BATCH_SAMPLES_MAX, this.sampleCount - firstSample);
    if (!(samplesMax >= 1)) throw new Error(`a batch of ${samplesMax} samples`);
    if (count <= 0) return undefined;
    this.#ensure(count);
    let done = 0;
    while (done < count) {
      const isNew = firstSample + done >= this.#chunkFirst + CHUNK_SAMPLES;
      if (isNew && count - done >= CHUNK_SAMPLES) {
        this.#makeChunk(this.#buffers, done);
        done += CHUNK_SAMPLES;
        continue;
      }
      if (isNew) this.#makeChunk(this.#kept, 0);
      const from = firstSample + done - this.#chunkFirst;
      const part = Math.min(CHUNK_SAMPLES - from, count - done);
      for (const [i, kept] of this.#kept.entries()) {
        this.#buffers[i]!.set(kept.subarray(from, from + part), done);
      }
      done += part;
    }
    this.#position += count;
    const endTick = this.#position * this.#ticksPerSample;
    const edges = this.#shafts.map((shaft, i) => {
      const taken = shaft.take(endTick, this.#edges[i]!);
      this.#edges[i] = taken.buffer;
      return taken.buffer.subarray(0, taken.count);
    });
    return {
      firstSample,
      sampleCount: count,
      samples: this.#buffers.map((buffer) => buffer.subarray(0, count)),
      edges,
      inputs: this.#inputs.rowsOf(firstSample, count),
    };
  }

  /** Makes the next chunk of every channel, to its buffer from `at` on. */
  #makeChunk(into: (Float32Array | Int16Array)[], at: number): void {
    this.#chunkFirst += CHUNK_SAMPLES;
    for (let i = 0; i < this.#channels.length; i += 1) {
      this.#channels[i]!.make(this.#chunkFirst);
      into[i]!.set(convertChunk(this.#kinds[i]!, this.#steps[i]!), at);
    }
  }

  #ensure(count: number): void {
    if ((this.#buffers[0]?.length ?? 0) >= count) return;
    this.#buffers = this.#kinds.map((kind) =>
      kind === "i16" ? new Int16Array(count) : new Float32Array(count),
    );
  }
}
