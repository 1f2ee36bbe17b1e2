// What two equal poles make of a vector that runs straight between its values: the lag that a
// firmware with this bandwidth must have, by the poles' own differential equation.
import type { Bandwidth } from "../scene/scene.ts";
import type { VectorSeries } from "./box-signal.ts";

/** Time constant of one pole from the full width between the −3 dB points (check value F-02). */
export function poleTime(fullWidth: number): number {
  return Math.sqrt(Math.SQRT2 - 1) / (Math.PI * fullWidth);
}

/** Full width of a bandwidth at a speed; both in Hz, or both per sample. */
export function fullWidthAt(bandwidth: Bandwidth, speed: number, perUnit: number): number {
  return bandwidth.kind === "fixed"
    ? bandwidth.fullWidthHz * perUnit
    : bandwidth.fullWidthRatio * speed;
}

export interface LaggedVector {
  re: number;
  im: number;
  /** Of the vector's second derivative after the poles, modulus, per sample². */
  curvature: number;
  /** What is left of the start: (1 + x)·e^(−x), x the time constants gone by. */
  startShare: number;
}

interface Poles {
  first: number;
  second: number;
}

/**
 * Two poles after a time h of an input that runs from `from` to `until`.
 *
 * Source  y' = (u − y)/τ twice, u = u0 + s·t: own derivation
 */
export function stepPoles(
  poles: Poles,
  from: number,
  until: number,
  h: number,
  tau: number,
): Poles {
  const slope = (until - from) / h;
  const decay = Math.exp(-h / tau);
  const c1 = poles.first - from + slope * tau;
  const c2 = poles.second - from + 2 * slope * tau;
  return {
    first: until - slope * tau + c1 * decay,
    second: until - 2 * slope * tau + (c1 * (h / tau) + c2) * decay,
  };
}

/**
 * The vector after two poles, at ascending times.
 *
 * Shape     undefined at times before the second value or after the last; poles start at the first
 * Units     times in samples; `tauAt` the time constant there, samples
 */
export function lagged(
  series: VectorSeries,
  tauAt: (time: number) => number,
  times: readonly number[],
): (LaggedVector | undefined)[] {
  const { at, re, im } = series;
  const result: (LaggedVector | undefined)[] = times.map(() => undefined);
  if (at.length < 2) return result;
  let state = {
    re: { first: re[0]!, second: re[0]! },
    im: { first: im[0]!, second: im[0]! },
    constants: 0,
  };
  let next = times.findIndex((time) => time >= at[0]!);
  for (let i = 0; i + 1 < at.length && next >= 0; i += 1) {
    const whole = at[i + 1]! - at[i]!;
    const tau = tauAt(at[i]! + whole / 2);
    const advanced = (h: number): typeof state & { u: { re: number; im: number } } => {
      const share = h / whole;
      const u = {
        re: re[i]! + share * (re[i + 1]! - re[i]!),
        im: im[i]! + share * (im[i + 1]! - im[i]!),
      };
      if (h === 0) return { ...state, u };
      return {
        re: stepPoles(state.re, re[i]!, u.re, h, tau),
        im: stepPoles(state.im, im[i]!, u.im, h, tau),
        constants: state.constants + h / tau,
        u,
      };
    };
    for (; next < times.length && times[next]! <= at[i + 1]!; next += 1) {
      const now = advanced(times[next]! - at[i]!);
      const bent = (u: number, { first, second }: Poles): number =>
        (u - 2 * first + second) / tau ** 2;
      result[next] = {
        re: now.re.second,
        im: now.im.second,
        curvature: Math.hypot(bent(now.u.re, now.re), bent(now.u.im, now.im)),
        startShare: (1 + now.constants) * Math.exp(-now.constants),
      };
    }
    const { u: _, ...after } = advanced(whole);
    state = after;
  }
  return result;
}

/** Samples that a step of a series takes. */
const STEP_SAMPLES = 1e-3;

/** Each vector held until the next one's time: as the firmware's poles are given it. */
export function stepped({ at, re, im }: VectorSeries): VectorSeries {
  const steps: VectorSeries = { at: [], re: [], im: [] };
  for (let i = 0; i + 1 < at.length; i += 1) {
    steps.at.push(at[i]! + (i === 0 ? 0 : STEP_SAMPLES), at[i + 1]!);
    steps.re.push(re[i]!, re[i]!);
    steps.im.push(im[i]!, im[i]!);
  }
  return steps;
}
