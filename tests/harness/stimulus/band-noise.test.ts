// Noise of a scenario that is written with more samples than it has: the spreading pulse by its own
// Fourier sum.
import { describe, expect, it } from "vitest";
import { BandNoise } from "../../../harness/stimulus/band-noise.ts";

/** What a single own value of 1 becomes; it is the `at`-th that is drawn. */
function pulse(times: number, at: number, ownCount: number): Float64Array {
  const noise = new BandNoise(times);
  let drawn = 0;
  const out = new Float64Array(ownCount * times);
  noise.add(out.length, out, (values) => {
    values.fill(0);
    if (at >= drawn && at < drawn + values.length) values[at - drawn] = 1;
    drawn += values.length;
  });
  return out;
}

describe("noise between a scenario's own moments", () => {
  it.each([2, 5, 50])(
    "[WAVE-081] keeps its density below half the own rate, ends above: %d",
    (times) => {
      const out = pulse(times, 64, 128);
      const energyAt = (ownCycles: number): number => {
        let [re, im] = [0, 0];
        out.forEach((value, i) => {
          const turn = 2 * Math.PI * ownCycles * (i / times);
          re += value * Math.cos(turn);
          im += value * Math.sin(turn);
        });
        return Math.hypot(re, im) / times;
      };
      // Kaiser's design: 80 dB, a band of transition of (80 − 7.95)/(14.36·2·32) = 0.078 of the rate.
      for (let f = 0; f <= 0.455; f += 0.005) expect(Math.abs(energyAt(f) - 1)).toBeLessThan(2e-4);
      for (let f = 0.545; f < times / 2; f += 0.045) expect(energyAt(f)).toBeLessThan(2e-4);
      // At the own rate's half it stands half-way: what folds there adds up to the whole.
      expect(energyAt(0.5)).toBeCloseTo(0.5, 3);
    },
  );

  it("[WAVE-082] gives the own values at the own moments, whatever the chunks", () => {
    const own = Float64Array.from({ length: 512 }, (_, i) => Math.sin(i * i));
    const spread = (chunk: number): Float64Array => {
      const noise = new BandNoise(5);
      let drawn = 0;
      const out = new Float64Array(1000);
      for (let at = 0; at < out.length; at += chunk) {
        const part = out.subarray(at, Math.min(out.length, at + chunk));
        noise.add(part.length, part, (values) => {
          values.forEach((_, i) => (values[i] = own[drawn + i] ?? 0));
          drawn += values.length;
        });
      }
      return out;
    };
    const all = spread(1000);
    for (let i = 0; i < 200; i += 1) expect(all[5 * i]).toBe(own[i]);
    for (const chunk of [1, 7, 128]) expect(spread(chunk)).toEqual(all);
  });
});
