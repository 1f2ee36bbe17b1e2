// How long to wait for an answer: the smoothed round trip and four times its deviation, as RFC 6298
// section 2 has it, with a floor and a cap of our own, and beside it the time that the bytes on their
// way take: a hello of 28 bytes says little of a block of 2,700 on a slow line.

/** Nothing is known yet: a port that was just opened may drop what comes in its first second. */
export const TIMEOUT_FIRST_MS = 2000;
/** A busy machine lets a program wait so long while nothing is lost; less would repeat for nothing. */
export const TIMEOUT_MIN_MS = 200;
/** A user waits: beyond this a longer wait finds no more answers. */
export const TIMEOUT_MAX_MS = 4000;
/** A credit of 16 kB takes so long at 2,000 bytes a second, slower than any port in use. */
export const CARRYING_MAX_MS = 8000;

/** RFC 6298: α = 1/8, β = 1/4, K = 4. */
const SHARE_MEAN = 1 / 8;
const SHARE_DEVIATION = 1 / 4;
const DEVIATIONS = 4;

export class RoundTrip {
  #meanMs: number | undefined;
  #deviationMs = 0;
  #timeoutMs = TIMEOUT_FIRST_MS;
  /** Of the slowest round trips of late: more than the line's own, since delays are in it. */
  #msPerByte = 0;

  /**
   * A round trip of a packet that was sent once (Karn: of another nobody knows which it was).
   *
   * Shape     bytes: its own, those on their way before it, and its answer's
   */
  take(ms: number, bytes: number): void {
    if (this.#meanMs === undefined) {
      this.#meanMs = ms;
      this.#deviationMs = ms / 2;
    } else {
      const off = Math.abs(this.#meanMs - ms);
      this.#deviationMs += SHARE_DEVIATION * (off - this.#deviationMs);
      this.#meanMs += SHARE_MEAN * (ms - this.#meanMs);
    }
    const timeoutMs = this.#meanMs + DEVIATIONS * this.#deviationMs;
    this.#timeoutMs = Math.min(TIMEOUT_MAX_MS, Math.max(TIMEOUT_MIN_MS, timeoutMs));
    const msPerByte = ms / bytes;
    const fading = this.#msPerByte + SHARE_MEAN * (msPerByte - this.#msPerByte);
    this.#msPerByte = Math.max(msPerByte, fading);
  }

  /** Nothing came in time: wait twice as long, once something was ever heard. */
  backOff(): void {
    if (this.#meanMs === undefined) return;
    this.#timeoutMs = Math.min(TIMEOUT_MAX_MS, 2 * this.#timeoutMs);
  }

  /** Shape: bytes on their way, and of the answer that is waited for. */
  timeoutMs(bytes: number): number {
    return this.#timeoutMs + Math.min(CARRYING_MAX_MS, this.#msPerByte * bytes);
  }
}
