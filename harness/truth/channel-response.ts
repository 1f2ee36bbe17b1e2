// The complex response of a channel at one frequency, from the poles of its filters.
import type { Response } from "../scene/scene.ts";
import { over, polar, times } from "./complex.ts";
import type { Complex } from "./complex.ts";

/** Poles of the normalised low-pass: equal angles on the left half of the unit circle. */
function butterworthAt(order: number, ratio: number): Complex {
  let value: Complex = { re: 1, im: 0 };
  for (let i = 0; i < order; i += 1) {
    const angle = Math.PI / 2 + ((2 * i + 1) * Math.PI) / (2 * order);
    const pole = polar(1, angle);
    value = over(times(value, { re: -pole.re, im: -pole.im }), {
      re: -pole.re,
      im: ratio - pole.im,
    });
  }
  return value;
}

function tableAt(points: { frequencyHz: number; gain: number; phaseLagRad: number }[], f: number) {
  const first = points[0]!;
  const last = points[points.length - 1]!;
  if (f <= first.frequencyHz) return polar(first.gain, -first.phaseLagRad);
  if (f >= last.frequencyHz) return polar(last.gain, -last.phaseLagRad);
  const i = points.findIndex((point) => point.frequencyHz > f);
  const a = points[i - 1]!;
  const b = points[i]!;
  const u = (f - a.frequencyHz) / (b.frequencyHz - a.frequencyHz);
  const gain = (1 - u) * a.gain + u * b.gain;
  return polar(gain, -((1 - u) * a.phaseLagRad + u * b.phaseLagRad));
}

/**
 * Steady-state response at a frequency.
 *
 * Units     frequency in Hz, 0 or more; phase lag positive: H = gain·e^(−j·lag)
 * Source    Butterworth, On the theory of filter amplifiers, 1930 (from memory): poles at equal
 *           angles; the high-pass by f/fc → fc/f
 */
export function responseAt(response: Response, frequencyHz: number): Complex {
  if (response.kind === "none") return { re: 1, im: 0 };
  const delay = polar(1, -2 * Math.PI * frequencyHz * response.delayS);
  if (response.kind === "table") return times(tableAt(response.points, frequencyHz), delay);
  let value = delay;
  if (response.highPassOrder > 0) {
    // At rest nothing passes; the poles' formula would divide by zero.
    if (frequencyHz === 0) return { re: 0, im: 0 };
    // s → 1/s turns j·u into −j/u.
    value = times(value, butterworthAt(response.highPassOrder, -response.highPassHz / frequencyHz));
  }
  if (response.lowPassOrder > 0) {
    value = times(value, butterworthAt(response.lowPassOrder, frequencyHz / response.lowPassHz));
  }
  return value;
}

/** Frequencies at which the response has a kink. */
export function responseKinksHz(response: Response): number[] {
  return response.kind === "table" ? response.points.map((point) => point.frequencyHz) : [];
}
