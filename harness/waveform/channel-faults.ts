// Faults of a transducer, its cable or its converter, in the order of the signal's way: sensitivity
// and lead (signal with noise), mean, loose connector, spike, clipping, flat line, not finite.
import { randomStream, uniformOf, waitOf } from "../random/stream.ts";
import type { IntegerStream } from "../random/stream.ts";
import type { ChannelFault } from "../scene/scene.ts";
import { sampleFrom } from "./sample-clock.ts";
import { sineOfRev } from "./sine.ts";

/** A fault's work on the samples of a chunk. */
interface FaultStage {
  apply(chunkFirst: number, count: number, out: Float64Array): void;
}

type Change = (value: number, sinceStart: number) => number;

/** A fault that changes each sample of its window by itself. */
class WindowStage implements FaultStage {
  readonly #from: number;
  readonly #until: number;
  readonly #change: Change;

  constructor(from: number, until: number, change: Change) {
    this.#from = from;
    this.#until = until;
    this.#change = change;
  }

  apply(chunkFirst: number, count: number, out: Float64Array): void {
    const from = Math.max(this.#from - chunkFirst, 0);
    const until = Math.min(this.#until - chunkFirst, count);
    for (let i = from; i < until; i += 1) {
      out[i] = this.#change(out[i]!, chunkFirst + i - this.#from);
    }
  }
}

/** The largest value of sin(πu)·(1 − u), at tan(πu) = π(1 − u). */
const BURST_TOP = 0.5792303273565197;

/** Shape of a burst over its length: a half-sine that decays, of peak 1. */
export function burstShape(u: number): number {
  return u <= 0 || u >= 1 ? 0 : (sineOfRev(0.5 * u) * (1 - u)) / BURST_TOP;
}

/** Bursts of a loose connector: their starts a Poisson process, each sign by chance. */
class LooseStage implements FaultStage {
  readonly #fault: Extract<ChannelFault, { kind: "loose" }>;
  readonly #rateHz: number;
  readonly #stream: IntegerStream;
  #nextS: number;
  #bursts: { startS: number; peak: number }[] = [];

  constructor(
    fault: Extract<ChannelFault, { kind: "loose" }>,
    stream: IntegerStream,
    sampleRateHz: number,
  ) {
    this.#fault = fault;
    this.#rateHz = sampleRateHz;
    this.#stream = stream;
    this.#nextS = fault.fromS + waitOf(stream) / fault.burstsPerS;
  }

  apply(chunkFirst: number, count: number, out: Float64Array): void {
    const { untilS, burstPk, burstsPerS, lengthS } = this.#fault;
    const endS = (chunkFirst + count) / this.#rateHz;
    while (this.#nextS < Math.min(endS, untilS)) {
      const peak = uniformOf(this.#stream) < 0.5 ? -burstPk : burstPk;
      this.#bursts.push({ startS: this.#nextS, peak });
      this.#nextS += waitOf(this.#stream) / burstsPerS;
    }
    const startS = chunkFirst / this.#rateHz;
    this.#bursts = this.#bursts.filter((burst) => burst.startS + lengthS > startS);
    for (const burst of this.#bursts) {
      for (let i = 0; i < count; i += 1) {
        const sinceS = (chunkFirst + i) / this.#rateHz - burst.startS;
        out[i] = out[i]! + burst.peak * burstShape(sinceS / lengthS);
      }
    }
  }
}

const NOT_FINITE = [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY] as const;

function clipped(value: number, level: number): number {
  return value > level ? level : value < -level ? -level : value;
}

function changeOf(fault: Exclude<ChannelFault, { kind: "loose" }>, mean: number): Change {
  switch (fault.kind) {
    case "gain":
      return (value) => value * fault.factor;
    case "open":
      return (value) => value * fault.share;
    case "bias":
      return (value) => value - mean + fault.value;
    case "spike":
      return (value) => value + fault.value;
    case "clip":
      return (value) => clipped(value, fault.level);
    case "flat":
      return () => fault.value;
    case "not-finite":
      return (_, since) => NOT_FINITE[since % 3]!;
  }
}

/** Kinds before the mean is added, and after it, each in the order of the signal's way. */
const BEFORE_MEAN = ["gain", "open"] as const;
const AFTER_MEAN = ["bias", "loose", "spike", "clip", "flat", "not-finite"] as const;

/** The faults of one channel. */
export class ChannelFaults {
  readonly #before: FaultStage[];
  readonly #after: FaultStage[];

  /** Random streams streamBase, streamBase + 1, … serve the loose connectors in turn. */
  constructor(
    faults: readonly ChannelFault[],
    setting: { mean: number; sampleRateHz: number; seed: number; streamBase: number },
  ) {
    const { mean, sampleRateHz, seed, streamBase } = setting;
    let stream = streamBase;
    const stages = faults.map((fault) => {
      if (fault.kind === "loose") {
        stream += 1;
        return new LooseStage(fault, randomStream(seed, stream - 1), sampleRateHz);
      }
      const isPoint = fault.kind === "spike" || fault.kind === "not-finite";
      const from = sampleFrom(isPoint ? fault.atS : fault.fromS, sampleRateHz);
      const until = isPoint ? from + fault.samples : sampleFrom(fault.untilS, sampleRateHz);
      return new WindowStage(from, until, changeOf(fault, mean));
    });
    const ofKinds = (kinds: readonly string[]): FaultStage[] =>
      kinds.flatMap((kind) => stages.filter((_, i) => faults[i]!.kind === kind));
    this.#before = ofKinds(BEFORE_MEAN);
    this.#after = ofKinds(AFTER_MEAN);
  }

  applyBeforeMean(chunkFirst: number, count: number, out: Float64Array): void {
    for (const stage of this.#before) stage.apply(chunkFirst, count, out);
  }

  applyAfterMean(chunkFirst: number, count: number, out: Float64Array): void {
    for (const stage of this.#after) stage.apply(chunkFirst, count, out);
  }
}
