import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { makeWaveform } from "../../../harness/waveform/waveform.ts";
import { channelSignal, orderComponent, scene, shaftMotion } from "../../kit/scene-builder.ts";
import { TEST_SEED } from "../../kit/seed.ts";
import { drawn } from "./batches.ts";

describe("waveform", () => {
  it("[WAVE-001] samples are the components at the angle of the shaft", () => {
    const one = scene({
      durationS: 2,
      shafts: [
        shaftMotion({
          speed: [
            { timeS: 0, revPerS: 20 },
            { timeS: 1.5, revPerS: 60 },
          ],
        }),
      ],
      channels: [channelSignal([orderComponent(1, 10, 30), orderComponent(3, 2, 200)])],
    });
    const { samples } = drawn(one);
    let worst = 0;
    for (const [i, value] of samples[0]!.entries()) {
      const t = i / 12_800;
      const ramp = Math.min(t, 1.5);
      const rev = 0.123 + 20 * ramp + (0.5 * 40 * ramp * ramp) / 1.5 + Math.max(0, t - 1.5) * 60;
      const a = 10 * Math.cos(2 * Math.PI * rev - Math.PI / 6);
      const b = 2 * Math.cos(6 * Math.PI * rev - (200 * Math.PI) / 180);
      worst = Math.max(worst, Math.abs(value - (a + b)));
    }
    // f32 holds 12 to half a unit of 2^-20, 4.8e-7; the rest is 1e-9.
    expect(worst).toBeLessThan(4.8e-7 + 2e-8);
  });

  it("[WAVE-002] the bytes do not depend on the size of a batch", () => {
    const one = scene({
      durationS: 0.7,
      seed: TEST_SEED,
      channels: [channelSignal([orderComponent(1, 10, 30), { kind: "noise", rms: 1 }])],
    });
    const whole = drawn(one);
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 700 }), { minLength: 1 }), (sizes) => {
        expect(drawn(one, sizes)).toEqual(whole);
      }),
      { seed: TEST_SEED, numRuns: 20 },
    );
  });

  it("[WAVE-003] a batch holds all and only the edges of its own ticks, ascending", () => {
    const source = makeWaveform(scene({ durationS: 3 }));
    let last = -1;
    let count = 0;
    for (;;) {
      const batch = source.next(1000);
      if (batch === undefined) break;
      for (const tick of batch.edges[0]!) {
        expect(tick).toBeGreaterThan(last);
        expect(tick).toBeGreaterThanOrEqual(batch.firstSample * 6250);
        expect(tick).toBeLessThan((batch.firstSample + batch.sampleCount) * 6250);
        last = tick;
        count += 1;
      }
    }
    expect(count).toBe(240);
  });
});
