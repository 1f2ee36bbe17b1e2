// How far a run has come on a line that takes its time: what to expect at the start, then a line
// now and then.
import { figure } from "../results/scene-words.ts";
import type { Scene } from "../scene/scene.ts";
import type { TargetSpec } from "../run/target-spec.ts";

/** Between two lines. */
const EVERY_MS = 10_000;
/** Start bit, eight bits, stop bit. */
const BITS_A_BYTE = 10;
const SAMPLE_BYTES = 4;
const SHOWN_DIGITS = 3;

/** Seconds as a person tells them. */
export function lasting(seconds: number): string {
  if (seconds < 100) return `${figure(seconds, 2)} s`;
  const minutes = seconds / 60;
  return minutes < 100 ? `${figure(minutes, 2)} min` : `${figure(minutes / 60, 2)} h`;
}

/** What is simulated in all; scenes whose time counts samples have no seconds. */
export function simulatedS(scenes: readonly Scene[]): number {
  return scenes
    .filter(({ profile }) => profile.timeUnit === "s")
    .reduce((sum, { durationS }) => sum + durationS, 0);
}

/** What a serial line takes for the samples alone, if it keeps to its rate: few but UARTs do. */
function lineLeastS(scenes: readonly Scene[], target: TargetSpec): number {
  if (target.kind !== "serial") return 0;
  const bytes = scenes.reduce(
    (sum, { profile, durationS }) =>
      sum + durationS * profile.sampleRateHz * profile.channels.length * SAMPLE_BYTES,
    0,
  );
  return (bytes * BITS_A_BYTE) / target.baud;
}

/** What to expect of a run over a line, before it begins; undefined where it is soon over. */
export function expectedWords(scenes: readonly Scene[], target: TargetSpec): string | undefined {
  if (target.kind === "core" || target.kind === "log") return undefined;
  const totalS = simulatedS(scenes);
  if (totalS === 0) return undefined;
  const cases = scenes.length === 1 ? "1 case" : `${scenes.length} cases`;
  const leastS = lineLeastS(scenes, target);
  const rate =
    target.kind === "serial"
      ? ` Where the port keeps to ${target.baud} baud the samples alone take ${lasting(leastS)}.`
      : "";
  return `${lasting(totalS)} to be simulated in ${cases}.${rate} How fast it goes is told as it goes.`;
}

/** Tells how far a run has come, and what is left at the rate so far. */
export class Pace {
  #totalS: number;
  #doneS = 0;
  #toldAt: number;
  readonly #from: number;
  readonly #now: () => number;
  readonly #tell: (words: string) => void;

  constructor(totalS: number, tell: (words: string) => void, now: () => number = Date.now) {
    this.#totalS = totalS;
    this.#tell = tell;
    this.#now = now;
    this.#from = now();
    this.#toldAt = this.#from;
  }

  /** So much was carried; or, of a run gone on with, was there before. */
  take(seconds: number, isThere: boolean): void {
    if (isThere) {
      this.#totalS -= seconds;
      return;
    }
    this.#doneS += seconds;
    const at = this.#now();
    if (at - this.#toldAt < EVERY_MS) return;
    this.#toldAt = at;
    const goneS = (at - this.#from) / 1000;
    const rate = this.#doneS / goneS;
    const left = Math.max(0, this.#totalS - this.#doneS) / rate;
    this.#tell(
      `${figure(this.#doneS, SHOWN_DIGITS)} of ${figure(this.#totalS, SHOWN_DIGITS)} s simulated in ` +
        `${lasting(goneS)}: ${figure(rate, 2)} s a second, about ${lasting(left)} left`,
    );
  }
}
