/** The two equal poles of a tracking filter for one real value: exact for a value that is held. */
export class TwoPoles {
  first = 0;
  second = 0;

  start(value: number): void {
    this.first = value;
    this.second = value;
  }

  /** One vector after h = T/τ. */
  step(value: number, h: number): void {
    this.hold(value, Math.exp(-h), h);
  }

  /**
   * A value that is held over `hTotal` time constants: n equal vectors in one go where
   * hTotal = n·h and decay = e^(−hTotal).
   */
  hold(value: number, decay: number, hTotal: number): void {
    const off = this.first - value;
    this.second = value + decay * (this.second - value + hTotal * off);
    this.first = value + decay * off;
  }
}

/** What the second of each pair of poles holds. */
export function secondsOf(poles: readonly TwoPoles[]): number[] {
  const seconds: number[] = [];
  for (const pole of poles) seconds.push(pole.second);
  return seconds;
}
