// Straight lines through bands, one band at each whole number: is there one through all so far?

/** Corners beyond this many behind the last tangent are thrown away at once. */
const LEFT_BEHIND_MAX = 1024;

/**
 * A convex hull of corners that come from left to right: the one below them (side 1) or above (−1).
 * Corners that a tangent has left behind are not looked at again.
 */
class Hull {
  readonly #side: 1 | -1;
  #at: number[] = [];
  #value: number[] = [];
  #first = 0;

  constructor(side: 1 | -1) {
    this.#side = side;
  }

  #slope(i: number, at: number, value: number): number {
    return (value - this.#value[i]!) / (at - this.#at[i]!);
  }

  add(at: number, value: number): void {
    let last = this.#at.length - 1;
    while (last > this.#first) {
      const before = this.#slope(last - 1, this.#at[last]!, this.#value[last]!);
      if (this.#side * (this.#slope(last, at, value) - before) > 0) break;
      this.#at.pop();
      this.#value.pop();
      last -= 1;
    }
    this.#at.push(at);
    this.#value.push(value);
  }

  /** Slope of the tangent from a corner further right, which leaves behind what it does not touch. */
  tangent(at: number, value: number): number {
    let slope = this.#slope(this.#first, at, value);
    while (this.#first + 1 < this.#at.length) {
      const next = this.#slope(this.#first + 1, at, value);
      if (this.#side * (next - slope) < 0) break;
      slope = next;
      this.#first += 1;
    }
    if (this.#first > LEFT_BEHIND_MAX) {
      this.#at.splice(0, this.#first);
      this.#value.splice(0, this.#first);
      this.#first = 0;
    }
    return slope;
  }
}

/**
 * The slopes of all straight lines through bands that come one after the other.
 *
 * A line passes the bands [low, high] at 0 … n−1 exactly where its slope lies between the greatest
 * of (low_k − high_j)/(k − j) and the least of (high_k − low_j)/(k − j) over all j < k. Either is a
 * tangent from the new corner to a convex hull of the corners before it; what the tangent has left
 * behind is never touched again.
 *
 * Effect    a constant number of steps a band on average; memory grows with the hulls alone
 * Source    O'Rourke, An on-line algorithm for fitting straight lines between data ranges,
 *           Commun. ACM 24(9), 1981 (from memory)
 */
export class BandLine {
  readonly #lows = new Hull(-1);
  readonly #highs = new Hull(1);
  #count = 0;
  /** The steepest and the flattest line: slope, and a corner that it passes through. */
  #slopeLeast = -Infinity;
  #leastAt = 0;
  #leastValue = 0;
  #slopeMost = Infinity;
  #mostAt = 0;
  #mostValue = 0;

  get count(): number {
    return this.#count;
  }

  get slopeLeast(): number {
    return this.#slopeLeast;
  }

  get slopeMost(): number {
    return this.#slopeMost;
  }

  /** The least value that a line through all bands so far may have at the next one. */
  get reachLeast(): number {
    if (this.#count < 2) return -Infinity;
    return this.#leastValue + this.#slopeLeast * (this.#count - this.#leastAt);
  }

  /** The greatest such value. */
  get reachMost(): number {
    if (this.#count < 2) return Infinity;
    return this.#mostValue + this.#slopeMost * (this.#count - this.#mostAt);
  }

  /** Takes the next band; false, and the band is left out, where no line passes it as well. */
  take(low: number, high: number): boolean {
    const at = this.#count;
    const [least, most] = [this.reachLeast, this.reachMost];
    if (high < least || low > most) return false;
    // A band that reaches past the lines on a side does not bound them there.
    if (at > 0 && high < most) {
      this.#slopeMost = this.#lows.tangent(at, high);
      [this.#mostAt, this.#mostValue] = [at, high];
    }
    if (at > 0 && low > least) {
      this.#slopeLeast = this.#highs.tangent(at, low);
      [this.#leastAt, this.#leastValue] = [at, low];
    }
    this.#lows.add(at, low);
    this.#highs.add(at, high);
    this.#count += 1;
    return true;
  }
}
