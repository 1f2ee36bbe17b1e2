// A line between host and device in memory, with faults that are asked for by name and drawn from a
// seed. One write is one frame. It keeps the order of bytes, as a serial line does: what is late makes
// all behind it late.
import { xoroshiro128plus } from "pure-rand/generator/xoroshiro128plus";
import { uniformFloat64 } from "pure-rand/distribution/uniformFloat64";
import type { Clock } from "./clock.ts";
import type { BytePort } from "./port.ts";

export type FaultName =
  /** A frame does not arrive. */
  | "loss"
  /** A frame arrives twice. */
  | "duplicate"
  /** One bit of a frame arrives turned over. */
  | "flip"
  /** A frame arrives in two pieces, with a pause between them. */
  | "split"
  /** A frame, and all behind it, arrives late. */
  | "delay"
  /** From this frame on nothing arrives any more; nobody is told. */
  | "clog"
  /** Both ports close. */
  | "cut";

export type Direction = "to device" | "to host";

export interface LineFault {
  name: FaultName;
  direction: Direction;
  /** Share of frames that it meets, 0 … 1. */
  rate: number;
  /** Frames of its direction that pass before it may come. */
  fromFrame?: number;
}

export interface MemoryLineOptions {
  clock: Clock;
  seed?: number;
  faults?: readonly LineFault[];
  /** Rate of the line, both ways. */
  bytesPerS?: number;
  /** Time that a byte takes beside that. */
  latencyMs?: number;
  /** Range of a delay and of the pause of a split. */
  delayMsMin?: number;
  delayMsMax?: number;
}

/** Where delays lie unless told otherwise: shorter and longer than the least time-out. */
const DELAY_MS_MIN = 10;
const DELAY_MS_MAX = 600;
/** A line over USB or a pseudo-terminal passes about so much, so late. */
const BYTES_PER_S = 100_000;
const LATENCY_MS = 1;

type Random = () => number;

/** One end of the line. */
class MemoryPort implements BytePort {
  isOpen = false;
  #take: (bytes: Uint8Array) => void = () => {};
  #closed: (reason: string) => void = () => {};
  readonly #send: (bytes: Uint8Array) => void;

  constructor(send: (bytes: Uint8Array) => void) {
    this.#send = send;
  }

  async open(): Promise<void> {
    this.isOpen = true;
  }

  write(bytes: Uint8Array): void {
    if (this.isOpen) this.#send(bytes);
  }

  onBytes(take: (bytes: Uint8Array) => void): void {
    this.#take = take;
  }

  onClosed(take: (reason: string) => void): void {
    this.#closed = take;
  }

  async close(): Promise<void> {
    this.isOpen = false;
  }

  /** What was sent while nobody had the port open is gone. */
  arrive(bytes: Uint8Array): void {
    if (this.isOpen) this.#take(bytes);
  }

  cut(reason: string): void {
    if (!this.isOpen) return;
    this.isOpen = false;
    this.#closed(reason);
  }
}

/** One way of the line: a queue in time. */
class Lane {
  readonly #options: MemoryLineOptions;
  readonly #faults: readonly LineFault[];
  readonly #random: Random;
  readonly #arrive: (bytes: Uint8Array) => void;
  readonly #met: (name: FaultName) => void;
  #freeAtMs = 0;
  #frames = 0;
  #isClogged = false;

  constructor(
    options: MemoryLineOptions,
    direction: Direction,
    random: Random,
    arrive: (bytes: Uint8Array) => void,
    met: (name: FaultName) => void,
  ) {
    this.#options = options;
    this.#faults = (options.faults ?? []).filter((one) => one.direction === direction);
    this.#random = random;
    this.#arrive = arrive;
    this.#met = met;
  }

  send(frame: Uint8Array): void {
    const met = new Set<FaultName>();
    for (const { name, rate, fromFrame } of this.#faults) {
      // One number is drawn for every fault and frame, so that one fault's rate moves no other's.
      if (this.#random() < rate && this.#frames >= (fromFrame ?? 0)) met.add(name);
    }
    this.#frames += 1;
    for (const name of met) this.#met(name);
    if (met.has("clog")) this.#isClogged = true;
    if (this.#isClogged || met.has("cut") || met.has("loss")) return;
    const bytes = met.has("flip") ? this.#flipped(frame) : frame;
    if (met.has("delay")) this.#freeAtMs = Math.max(this.#now(), this.#freeAtMs) + this.#delayMs();
    if (met.has("split") && bytes.byteLength > 1) {
      const at = 1 + Math.floor(this.#random() * (bytes.byteLength - 1));
      this.#carry(bytes.subarray(0, at));
      this.#freeAtMs += this.#delayMs();
      this.#carry(bytes.subarray(at));
    } else {
      this.#carry(bytes);
    }
    if (met.has("duplicate")) this.#carry(bytes);
  }

  #now(): number {
    return this.#options.clock.now();
  }

  #delayMs(): number {
    const { delayMsMin = DELAY_MS_MIN, delayMsMax = DELAY_MS_MAX } = this.#options;
    return delayMsMin + this.#random() * (delayMsMax - delayMsMin);
  }

  #flipped(frame: Uint8Array): Uint8Array {
    const bytes = frame.slice();
    const bit = Math.floor(this.#random() * 8 * bytes.byteLength);
    bytes[bit >> 3]! ^= 1 << (bit & 7);
    return bytes;
  }

  #carry(bytes: Uint8Array): void {
    const { clock, bytesPerS = BYTES_PER_S, latencyMs = LATENCY_MS } = this.#options;
    const now = clock.now();
    this.#freeAtMs = Math.max(now, this.#freeAtMs) + (1000 * bytes.byteLength) / bytesPerS;
    clock.after(this.#freeAtMs + latencyMs - now, () => this.#arrive(bytes));
  }
}

export interface MemoryLine {
  host: BytePort;
  device: BytePort;
  /** How often each fault came. */
  met: Record<FaultName, number>;
}

/** A pair of ports and the line between them. */
export function memoryLine(options: MemoryLineOptions): MemoryLine {
  const met = { loss: 0, duplicate: 0, flip: 0, split: 0, delay: 0, clog: 0, cut: 0 };
  const generator = xoroshiro128plus(options.seed ?? 1);
  const random: Random = () => uniformFloat64(generator);
  const onMet = (name: FaultName): void => {
    met[name] += 1;
    if (name !== "cut") return;
    for (const port of [host, device]) port.cut("the line was cut");
  };
  const toDevice = new Lane(options, "to device", random, (bytes) => device.arrive(bytes), onMet);
  const toHost = new Lane(options, "to host", random, (bytes) => host.arrive(bytes), onMet);
  const host = new MemoryPort((bytes) => toDevice.send(bytes));
  const device = new MemoryPort((bytes) => toHost.send(bytes));
  return { host, device, met };
}
