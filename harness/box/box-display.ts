// What readings alone tell of a display: by which steps it moves, and whether it was ever silent.
import type { DeviceSpecification } from "./device-file.ts";
import type { TimedReading } from "./box-judge.ts";

/** A share of a step by which a number may miss a multiple of it: decimal digits on a wire. */
const STEP_SLACK = 1e-3;
/**
 * So many different numbers, all on a coarser grid: of a display with the stated step no more than
 * 1 in 2^10 shows them by chance.
 */
const STEP_EVIDENCE = 11;
/**
 * Updates over which late ones add up: many enough that a rate that is too low outgrows the
 * latency's span, few enough that a clock of some ppm does not.
 */
const RATE_UPDATES = 32;
/** Times are seconds in double precision. */
const TIME_SLACK_S = 1e-6;

export interface StepFound {
  judged: number;
  /** Numbers that are no whole steps, and ones beyond the top. */
  off: number;
  beyondTop: number;
  firstS: number;
  /** The number moves by so many steps at once; 1: by the stated one; 0: it did not move enough. */
  coarseBy: number;
  /** Different numbers that tell it. */
  evidence: number;
}

/** Readings of one number over all that was played, and the truth's own where it stands. */
export class StepCheck {
  readonly #step: number;
  readonly #top: number;
  readonly #counts: number[] = [];
  /** The truth's number in steps where it is known to stand still, else NaN. */
  readonly #steady: number[] = [];
  readonly #found: StepFound = {
    judged: 0,
    off: 0,
    beyondTop: 0,
    firstS: 0,
    coarseBy: 0,
    evidence: 0,
  };

  constructor({ displayStep }: DeviceSpecification, top: number) {
    this.#step = displayStep;
    this.#top = top;
  }

  /** Takes a reading; `steady`: what it should show, where that stands still. */
  take({ shown, isValid, sceneS }: TimedReading, steady: number | undefined): void {
    if (isValid === false) return;
    const found = this.#found;
    const steps = shown / this.#step;
    const counts = Math.round(steps);
    found.judged += 1;
    const isOff = !(Math.abs(steps - counts) <= STEP_SLACK);
    const isBeyond = shown > this.#top + this.#step / 2;
    if (isOff) found.off += 1;
    else {
      this.#counts.push(counts);
      this.#steady.push(steady === undefined ? NaN : Math.round(steady / this.#step));
    }
    if (isBeyond) found.beyondTop += 1;
    if ((isOff || isBeyond) && found.off + found.beyondTop === 1) found.firstS = sceneS;
  }

  finish(): StepFound {
    const first = this.#counts[0] ?? 0;
    const by = this.#counts.reduce((all, one) => greatestDivisor(all, Math.abs(one - first)), 0);
    const found = { ...this.#found, coarseBy: by };
    if (by <= 1) return found;
    const isOnGrid = (counts: number): boolean => (counts - first) % by === 0;
    // Where the truth itself stands on the coarser grid, a finer display shows the same.
    const telling = this.#counts.filter((_, i) => !isOnGrid(this.#steady[i]!));
    found.evidence = new Set(telling).size;
    return found.evidence >= STEP_EVIDENCE ? found : { ...found, coarseBy: 0 };
  }
}

function greatestDivisor(a: number, b: number): number {
  return b === 0 ? a : greatestDivisor(b, a % b);
}

export interface SilenceFound {
  judged: number;
  /** Silences that are longer than may be. */
  late: number;
  longestS: number;
  /** The scenario's time at which the longest begins. */
  fromS: number;
  /** All of them together. */
  silentS: number;
  allowedS: number;
}

/**
 * Looks for updates that did not come. Update k comes at k periods and a latency, so that between
 * two readings there is no more than the periods between them and the latency's span: a number
 * stands that long and no longer. The box counts its periods by its own clock.
 *
 * Shape     readings of all that was played, ascending; only what touches the scenario is told
 */
export function findSilence(
  readings: readonly TimedReading[],
  { updateRateHz, latency, stimulus }: DeviceSpecification,
  durationS: number,
): SilenceFound {
  const periodS = 1 / updateRateHz;
  const spanS = latency.toS - latency.fromS + stimulus.timeS + TIME_SLACK_S;
  const found: SilenceFound = {
    judged: 0,
    late: 0,
    longestS: 0,
    fromS: 0,
    silentS: 0,
    allowedS: periodS + spanS,
  };
  const tell = (fromS: number, lengthS: number): void => {
    found.late += 1;
    found.silentS += lengthS;
    if (lengthS <= found.longestS) return;
    [found.longestS, found.fromS] = [lengthS, fromS];
  };
  let start = 0;
  for (let j = 1; j < readings.length; j += 1) {
    const [before, now] = [readings[j - 1]!, readings[j]!];
    const isOfScene = now.sceneS > 0 && before.sceneS < durationS;
    if (isOfScene) found.judged += 1;
    let isLate = false;
    for (let i = Math.max(start, j - RATE_UPDATES); i < j; i += 1) {
      if (now.timeS - readings[i]!.timeS > (j - i) * periodS + spanS) isLate = true;
    }
    if (!isLate) continue;
    if (isOfScene) tell(before.sceneS, now.timeS - before.timeS);
    // What comes after is held against what comes after.
    start = j;
  }
  const [first, last] = [readings[0], readings.at(-1)];
  if (first !== undefined && first.sceneS > found.allowedS + latency.toS) tell(0, first.sceneS);
  if (last !== undefined && last.sceneS < durationS - found.allowedS) {
    tell(last.sceneS, durationS - last.sceneS);
  }
  return found;
}
