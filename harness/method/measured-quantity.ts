// From what the channel gives to the quantity that is asked for: its response taken out, and
// integration by division with jω.
import type { Quantity, Response } from "../scene/scene.ts";

export interface Complex {
  re: number;
  im: number;
}

const times = (a: Complex, b: Complex): Complex => ({
  re: a.re * b.re - a.im * b.im,
  im: a.re * b.im + a.im * b.re,
});

const inverse = ({ re, im }: Complex): Complex => {
  const square = re * re + im * im;
  return { re: re / square, im: -im / square };
};

/**
 * The denominator of a Butterworth low-pass at s = jx, corner 1, as second-order sections.
 *
 * Source  Butterworth, 1930 (from memory): s² + 2·sin((2i − 1)π/2n)·s + 1, and s + 1 where n is odd
 */
function sections(order: number, x: number): Complex {
  let value: Complex = order % 2 === 1 ? { re: 1, im: x } : { re: 1, im: 0 };
  for (let i = 1; i <= order >> 1; i += 1) {
    const damping = 2 * Math.sin(((2 * i - 1) * Math.PI) / (2 * order));
    value = times(value, { re: 1 - x * x, im: damping * x });
  }
  return value;
}

function ofTable(points: (Response & { kind: "table" })["points"], hertz: number): Complex {
  const above = points.findIndex((one) => one.frequencyHz >= hertz);
  const high = points[above < 0 ? points.length - 1 : above]!;
  const low = above > 0 ? points[above - 1]! : high;
  const span = high.frequencyHz - low.frequencyHz;
  const share = span > 0 ? (hertz - low.frequencyHz) / span : 0;
  const gain = low.gain + share * (high.gain - low.gain);
  const lag = low.phaseLagRad + share * (high.phaseLagRad - low.phaseLagRad);
  return { re: gain * Math.cos(lag), im: -gain * Math.sin(lag) };
}

/** The response of a channel in the steady state; phase lag negative in the argument. */
export function channelGain(response: Response, hertz: number): Complex {
  if (response.kind === "none") return { re: 1, im: 0 };
  const turn = -2 * Math.PI * hertz * response.delayS;
  const delay = { re: Math.cos(turn), im: Math.sin(turn) };
  if (response.kind === "table") return times(delay, ofTable(response.points, hertz));
  let value = delay;
  if (response.lowPassOrder > 0) {
    value = times(value, inverse(sections(response.lowPassOrder, hertz / response.lowPassHz)));
  }
  if (response.highPassOrder > 0) {
    // The low-pass of 1/s, whose argument is −fc/f.
    const x = -response.highPassHz / hertz;
    value = times(value, inverse(sections(response.highPassOrder, x)));
  }
  return value;
}

const RANK: Readonly<Record<Quantity, number>> = {
  acceleration: 0,
  velocity: 1,
  displacement: 2,
  unstated: 0,
};

/** Times that a measured quantity is integrated to give another. */
export function integrations(measured: Quantity, wanted: Quantity): number {
  return RANK[wanted] - RANK[measured];
}

/** What a measured vector is multiplied by at a frequency to be the quantity, SI. */
export function quantityFactor(
  measured: Quantity,
  wanted: Quantity,
  response: Response,
  hertz: number,
): Complex {
  let value = inverse(channelGain(response, hertz));
  const count = integrations(measured, wanted);
  const omega = 2 * Math.PI * hertz;
  const step: Complex = count > 0 ? { re: 0, im: -1 / omega } : { re: 0, im: omega };
  for (let i = 0; i < Math.abs(count); i += 1) value = times(value, step);
  return value;
}
