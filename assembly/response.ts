// A channel's known response at one frequency, by which each revolution's vector is divided.
import { RESPONSE_ORDER_MAX, RESPONSE_POINTS_MAX } from "../shared/capacity.ts";
import * as L from "../shared/layout.ts";
import { RESPONSE_FILTERS, RESPONSE_NONE } from "../shared/units.ts";
import { phaseOf, phasorIm, phasorRe, phasorSet } from "./math/phasor.ts";

export let responseRe: f32 = 1;
export let responseIm: f32 = 0;

const REVOLUTIONS_PER_RAD: f32 = 0.159154943;

/** Divides the response by s + 1, or s² + b·s + 1, at s = ju. */
function divideFirst(u: f32): void {
  divide(1, u);
}
function divideSecond(u: f32, b: f32): void {
  divide(1 - u * u, b * u);
}
function divide(re: f32, im: f32): void {
  const inverse: f32 = 1 / (re * re + im * im);
  const next: f32 = (responseRe * re + responseIm * im) * inverse;
  responseIm = (responseIm * re - responseRe * im) * inverse;
  responseRe = next;
}

/**
 * Divides by the Butterworth polynomial of an order at s = ju.
 *
 * Source    poles on the unit circle at equal angles (Butterworth 1930): order 3 and 4 as products
 */
function divideButterworth(order: i32, u: f32): void {
  assert(order <= RESPONSE_ORDER_MAX);
  if (order == 1 || order == 3) divideFirst(u);
  if (order == 2) divideSecond(u, 1.41421356);
  if (order == 3) divideSecond(u, 1);
  if (order == 4) {
    divideSecond(u, 0.765366865);
    divideSecond(u, 1.84775907);
  }
}

/** Turns the response by a phase lag in revolutions. */
function lagBy(revolutions: f32): void {
  phasorSet(0 - phaseOf(revolutions));
  const next: f32 = responseRe * phasorRe - responseIm * phasorIm;
  responseIm = responseRe * phasorIm + responseIm * phasorRe;
  responseRe = next;
}

/** Gain and phase lag from the table: straight between rows, held at its ends. */
function fromTable(channel: usize, frequencyHz: f32): void {
  const rows = load<i32>(channel + L.CHANNEL_TABLE_COUNT);
  assert(rows >= 1 && rows <= RESPONSE_POINTS_MAX);
  let row = channel + L.CHANNEL_TABLE;
  let gain = load<f32>(row, 4);
  let lag = load<f32>(row, 8);
  for (let i: i32 = 1; i < rows && frequencyHz > load<f32>(row); i++) {
    const next = row + L.RESPONSE_POINT_BYTES;
    const share: f32 = (frequencyHz - load<f32>(row)) / (load<f32>(next) - load<f32>(row));
    if (share < 1) {
      gain = load<f32>(row, 4) + (load<f32>(next, 4) - load<f32>(row, 4)) * share;
      lag = load<f32>(row, 8) + (load<f32>(next, 8) - load<f32>(row, 8)) * share;
      break;
    }
    row = next;
    gain = load<f32>(row, 4);
    lag = load<f32>(row, 8);
  }
  responseRe = gain;
  responseIm = 0;
  lagBy(lag * REVOLUTIONS_PER_RAD);
}

/**
 * Sets responseRe, responseIm to a channel's response; false where there is nothing to divide by.
 *
 * Shape     channel = address of its configuration; frequency in Hz, > 0
 */
export function responseSet(channel: usize, frequencyHz: f32): bool {
  const kind = load<i32>(channel + L.CHANNEL_RESPONSE);
  if (kind == RESPONSE_NONE) return false;
  responseRe = 1;
  responseIm = 0;
  if (kind == RESPONSE_FILTERS) {
    const high = load<i32>(channel + L.CHANNEL_HIGH_PASS_ORDER);
    const low = load<i32>(channel + L.CHANNEL_LOW_PASS_ORDER);
    // A Butterworth polynomial reads the same backward: s^n/B(s) = 1/B(1/s), and 1/(ju) = j(−1/u).
    if (high > 0) {
      divideButterworth(high, -load<f32>(channel + L.CHANNEL_HIGH_PASS_HZ) / frequencyHz);
    }
    if (low > 0) divideButterworth(low, frequencyHz / load<f32>(channel + L.CHANNEL_LOW_PASS_HZ));
  } else {
    fromTable(channel, frequencyHz);
  }
  const delay: f32 = load<f32>(channel + L.CHANNEL_DELAY_S) * frequencyHz;
  if (delay != 0) lagBy(delay);
  return true;
}
