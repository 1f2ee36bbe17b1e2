// Records as they come over the link: each one once, in order, whatever was sent twice.
import { RECORD_BYTES, RECORD_SEQUENCE } from "../../shared/layout.ts";
import { ByteSink } from "../byte-sink.ts";
import type { FeedAnswer } from "./packet.ts";

export class RecordIntake {
  readonly #sink = new ByteSink();
  #nextSequence = 0;
  #waitingCount = 0;

  /** The device's sequence numbers start at 0 again. */
  reset(): void {
    this.#nextSequence = 0;
    this.#waitingCount = 0;
    this.#sink.take();
  }

  /** Keeps what is new of an answer's records. */
  take(answer: FeedAnswer): void {
    const { records } = answer;
    const view = new DataView(records.buffer, records.byteOffset, records.byteLength);
    for (let at = 0; at < records.byteLength; at += RECORD_BYTES) {
      const sequence = view.getUint32(at + RECORD_SEQUENCE, true);
      // Signed distance on the circle of 2³²: a record that found no room leaves a gap, which is told
      // by an event of its own.
      if (((sequence - this.#nextSequence) | 0) < 0) continue;
      this.#sink.add(records.subarray(at, at + RECORD_BYTES));
      this.#nextSequence = (sequence + 1) >>> 0;
    }
    this.#waitingCount = answer.waitingCount - records.byteLength / RECORD_BYTES;
  }

  /** One more than the sequence of the last record that is held. */
  get acknowledged(): number {
    return this.#nextSequence;
  }

  /** True where the device keeps records that did not fit its answer. */
  get areMoreWaiting(): boolean {
    return this.#waitingCount > 0;
  }

  /** What came since the last call. */
  drain(): Uint8Array {
    return this.#sink.take();
  }
}
