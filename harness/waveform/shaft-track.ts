// The motion of one shaft over the samples of one chunk, shared by all that follows the shaft.
import type { ShaftMotion } from "../scene/scene.ts";
import { rippleIsMonotone } from "./ripple.ts";
import type { Ripple } from "./ripple.ts";
import { sampleFrom, sampleTime } from "./sample-clock.ts";
import type { SampleRange } from "./sample-clock.ts";
import { speedPieces, stateInPiece } from "./shaft-angle.ts";
import type { ShaftState, SpeedPiece } from "./shaft-angle.ts";
import type { TwoPart } from "./two-part.ts";

/** Samples of a chunk that lie in one straight stretch of the speed. */
export interface ShaftSpan extends SampleRange {
  piece: SpeedPiece;
  /** Time and motion at the span's first sample. */
  timeS: number;
  state: ShaftState;
}

export class ShaftTrack {
  readonly pieces: SpeedPiece[];
  readonly ripple: Ripple[];
  /** Spans of the chunk prepared last, in order, without gaps. */
  spans: ShaftSpan[] = [];
  readonly #starts: number[];
  readonly #rateHz: number;
  #piece = 0;
  #chunkFirst = -1;

  constructor(motion: ShaftMotion, sampleRateHz: number) {
    this.pieces = speedPieces(motion);
    this.ripple = motion.ripple.filter((one) => one.amplitudeRev !== 0);
    if (!rippleIsMonotone(this.ripple)) throw new Error("ripple turns the shaft backwards");
    this.#starts = this.pieces.map((piece) => sampleFrom(piece.startS, sampleRateHz));
    this.#rateHz = sampleRateHz;
  }

  /** Cuts a chunk into spans; chunks come in order, and one may be asked for again. */
  prepare(chunkFirst: number, count: number): void {
    if (chunkFirst === this.#chunkFirst) return;
    this.#chunkFirst = chunkFirst;
    this.spans = [];
    let at = chunkFirst;
    while (at < chunkFirst + count) {
      while ((this.#starts[this.#piece + 1] ?? Infinity) <= at) this.#piece += 1;
      const next = this.#starts[this.#piece + 1] ?? Infinity;
      const until = Math.min(chunkFirst + count, next);
      const piece = this.pieces[this.#piece]!;
      const time = this.timeOf(at);
      const state = stateInPiece(piece, time);
      const from = at - chunkFirst;
      this.spans.push({ piece, from, until: until - chunkFirst, timeS: time.hi, state });
      at = until;
    }
  }

  /** Mean angle, speed and acceleration at a sample of a span. */
  stateAt(span: ShaftSpan, sample: number): ShaftState {
    return stateInPiece(span.piece, this.timeOf(sample));
  }

  timeOf(sample: number): TwoPart {
    return sampleTime(sample, this.#rateHz);
  }
}
