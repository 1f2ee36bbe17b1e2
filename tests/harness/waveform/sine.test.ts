import { describe, expect, it } from "vitest";
import { cosineOfRev, sineOfRev } from "../../../harness/waveform/sine.ts";

describe("sine", () => {
  it("[WAVE-014] sine and cosine of a phase are within 1e-15", () => {
    let worst = 0;
    for (let i = -40_000; i <= 40_000; i += 1) {
      // A phase that 2π multiplies with little rounding of its own: |phase| ≤ 1.
      const phase = i / 40_000;
      worst = Math.max(worst, Math.abs(sineOfRev(phase) - Math.sin(2 * Math.PI * phase)));
      worst = Math.max(worst, Math.abs(cosineOfRev(phase) - Math.cos(2 * Math.PI * phase)));
    }
    // Math's own argument 2π·phase is rounded to 4.4e-16, and so is the phase + 1/4 of the cosine.
    expect(worst).toBeLessThan(2e-15);
  });

  it("[WAVE-015] quarters of a revolution are exact", () => {
    expect([0, 0.25, 0.5, 0.75, -0.25].map(sineOfRev).map((x) => x + 0)).toEqual([0, 1, 0, -1, -1]);
    expect([0, 0.25, 0.5, 0.75].map(cosineOfRev).map((x) => x + 0)).toEqual([1, 0, -1, 0]);
  });
});
