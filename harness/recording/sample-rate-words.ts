// A sample rate as it is told: no more digits than its uncertainty leaves.

/** Digits of a rate that is stated, or known better than any clock keeps it. */
const DIGITS_MAX = 9;

function decimal(value: number, step: number): string {
  const places = Math.max(0, -Math.round(Math.log10(step)));
  return (Math.round(value / step) * step).toFixed(places);
}

/**
 * `12800.04 Hz ± 0.05 Hz`, or `48000 Hz` where nothing is known of its uncertainty: one digit of
 * that, rounded up so that it holds the rounding of the rate as well.
 */
export function sampleRateWords(rateHz: number, uncertaintyHz: number | undefined): string {
  if (uncertaintyHz === undefined || uncertaintyHz < rateHz * 10 ** -DIGITS_MAX) {
    return `${Number(rateHz.toPrecision(DIGITS_MAX))} Hz`;
  }
  const step = 10 ** Math.floor(Math.log10(uncertaintyHz));
  const rounding = Math.abs(Math.round(rateHz / step) * step - rateHz);
  const steps = Math.ceil((uncertaintyHz + rounding) / step - 1e-9);
  return `${decimal(rateHz, step)} Hz ± ${decimal(steps * step, step)} Hz`;
}
