// The signal worked out directly from the scene with Math, for short times: another way than the
// waveform's, and not the truth's.
import type { ShaftMotion } from "../../../harness/scene/scene.ts";

const TAU = 2 * Math.PI;

export interface DirectMotion {
  meanRev: number;
  /** True angle, and its derivatives. */
  rev: number;
  revPerS: number;
  revPerS2: number;
  smoothRevPerS: number;
}

/** Angle by summing trapezia of the speed, one row after another. */
export function directMotion(motion: ShaftMotion, timeS: number): DirectMotion {
  let mean = motion.startAngleRev;
  let speed = motion.speed[0]!.revPerS;
  let slope = 0;
  for (const [i, row] of motion.speed.entries()) {
    if (row.timeS > timeS) break;
    const next = motion.speed[i + 1];
    const untilS = Math.min(timeS, next?.timeS ?? timeS);
    slope =
      next === undefined || next.timeS === row.timeS
        ? 0
        : (next.revPerS - row.revPerS) / (next.timeS - row.timeS);
    speed = row.revPerS + slope * (untilS - row.timeS);
    mean += 0.5 * (row.revPerS + speed) * (untilS - row.timeS);
  }
  let rev = mean;
  let first = 1;
  let second = 0;
  for (const { order, amplitudeRev } of motion.ripple) {
    rev += amplitudeRev * Math.sin(TAU * order * mean);
    first += amplitudeRev * TAU * order * Math.cos(TAU * order * mean);
    second -= amplitudeRev * (TAU * order) ** 2 * Math.sin(TAU * order * mean);
  }
  return {
    meanRev: mean,
    rev,
    revPerS: speed * first,
    revPerS2: slope * first + speed * speed * second,
    smoothRevPerS: speed,
  };
}

/** Time at which the true angle reaches a value, by bisection. */
export function directTime(motion: ShaftMotion, rev: number, untilS: number): number {
  let low = 0;
  let high = untilS;
  for (let i = 0; i < 200; i += 1) {
    const middle = 0.5 * (low + high);
    if (middle === low || middle === high) break;
    if (directMotion(motion, middle).rev < rev) low = middle;
    else high = middle;
  }
  return high;
}
