// Looks for samples that stand still: at the recording's own ends, as a clipped crest does, and for
// long, as a dead channel does.

/** Samples of a crest that stand still at least: two side by side are a chance of the rounding. */
const CREST_LEAST = 3;
/** One crest alone may be chance; a limiter leaves more. */
const CRESTS_LEAST = 2;
/**
 * Steps of rounding by which a smooth crest may fall beside n ≥ 3 equal samples: a parabola that
 * stays within one step over n − 1 intervals has curvature 8/(n − 1)² at most, and n intervals from
 * its top it has fallen 4·n²/(n − 1)², 9 at n = 3 and fewer beyond.
 */
const FALL_STEPS = 9;
/** Of single precision, relative. */
const F32_STEP = 2 ** -23;

export interface StillSeen {
  count: number;
  stretches: number;
  firstSample: number;
  lastSample: number;
}

const nothingSeen = (): StillSeen => ({
  count: 0,
  stretches: 0,
  firstSample: Number.NaN,
  lastSample: Number.NaN,
});

function see(seen: StillSeen, from: number, count: number): void {
  if (seen.count === 0) seen.firstSample = from;
  seen.count += count;
  seen.stretches += 1;
  seen.lastSample = from + count - 1;
}

class ChannelWatch {
  readonly #flatLeast: number;
  readonly flat = nothingSeen();
  #high = nothingSeen();
  #low = nothingSeen();
  #greatest = -Infinity;
  #least = Infinity;
  /** The least change, and change of a change, that was seen: the rounding, or more. */
  #step = Infinity;
  #size = 0;
  #value = Number.NaN;
  #from = 0;
  #count = 0;
  #rise = 0;

  constructor(flatLeast: number) {
    this.#flatLeast = flatLeast;
  }

  take(value: number, sample: number): void {
    if (value === this.#value) {
      this.#count += 1;
      return;
    }
    const change = value - this.#value;
    this.#takeStep(change, Math.max(Math.abs(value), Math.abs(this.#value)));
    this.#takeStep(change - (this.#count > 1 ? 0 : this.#rise), Math.abs(value) + this.#size);
    this.#endRun(Math.abs(change));
    this.#size = Math.max(Math.abs(value), Math.abs(this.#value));
    this.#value = value;
    this.#from = sample;
    this.#count = 1;
    this.#rise = change;
    if (value > this.#greatest) [this.#greatest, this.#high] = [value, nothingSeen()];
    if (value < this.#least) [this.#least, this.#low] = [value, nothingSeen()];
  }

  /** Rounded values differ by whole steps; what is left by single precision is no step. */
  #takeStep(difference: number, size: number): void {
    const step = Math.abs(difference);
    if (step > 4 * F32_STEP * size && step < this.#step) this.#step = step;
  }

  #endRun(fall: number): void {
    if (this.#count >= this.#flatLeast) see(this.flat, this.#from, this.#count);
    if (this.#count < CREST_LEAST) return;
    const step = Math.max(this.#step, Math.abs(this.#value) * F32_STEP);
    if (!(Math.max(Math.abs(this.#rise), fall) > FALL_STEPS * step)) return;
    if (this.#value === this.#greatest) see(this.#high, this.#from, this.#count);
    if (this.#value === this.#least) see(this.#low, this.#from, this.#count);
  }

  end(): void {
    this.#endRun(0);
    this.#count = 0;
  }

  /** At either end together. */
  get crests(): StillSeen {
    const ends = [this.#high, this.#low].filter(({ stretches }) => stretches >= CRESTS_LEAST);
    return {
      count: ends.reduce((sum, { count }) => sum + count, 0),
      stretches: ends.reduce((sum, { stretches }) => sum + stretches, 0),
      firstSample: Math.min(...ends.map(({ firstSample }) => firstSample)),
      lastSample: Math.max(...ends.map(({ lastSample }) => lastSample)),
    };
  }
}

/** `flatLeast`: so many equal samples side by side are a channel that stands still. */
export class ConstantWatch {
  readonly #channels: ChannelWatch[];

  constructor(channelCount: number, flatLeast: number) {
    this.#channels = Array.from({ length: channelCount }, () => new ChannelWatch(flatLeast));
  }

  take(channels: readonly ArrayLike<number>[], firstSample: number): void {
    for (const [channel, samples] of channels.entries()) {
      const watch = this.#channels[channel]!;
      for (let i = 0; i < samples.length; i += 1) watch.take(samples[i]!, firstSample + i);
    }
  }

  /** After the last sample. */
  finish(): { crests: StillSeen[]; flat: StillSeen[] } {
    for (const watch of this.#channels) watch.end();
    return {
      crests: this.#channels.map(({ crests }) => crests),
      flat: this.#channels.map(({ flat }) => flat),
    };
  }
}
