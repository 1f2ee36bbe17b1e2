import { describe, expect, it } from "vitest";
import { EdgeDetector } from "../../../harness/recording/edge-detector.ts";
import { PitchTally } from "../../../harness/recording/pitch-tally.ts";
import { tachometerChannel } from "../../../harness/recording/tachometer-channel.ts";
import { recordingOf } from "../../kit/made-recording.ts";

const SAMPLES = Float32Array.from({ length: 5000 }, (_, i) => Math.sin(i / 3 + (i * i) / 50_000));

describe("tachometer channel", () => {
  const settings = { threshold: 0, hysteresis: 0.3, slope: "rising" } as const;
  const wheel = { positions: 1, revolutions: 1, index: "none" } as const;

  it.each([3, 64, 5000])(
    "[REC-009] hands over every edge within its own run, however the runs of %i samples fall",
    async (runLength) => {
      const expected = new EdgeDetector(settings).process(SAMPLES);
      const recording = recordingOf([new Float32Array(SAMPLES.length), SAMPLES], runLength);
      const stretch = { fromSample: 0, untilSample: Infinity };
      const speed = await tachometerChannel(recording, 1, settings, wheel, stretch);
      const edges = speed.makeEdges();
      const found: number[] = [];
      let until = 0;
      const take = (): void => {
        const from = until;
        until = Math.min(SAMPLES.length, from + runLength);
        const taken = edges.take(until);
        expect(taken.every((time) => time >= from && time < until)).toBe(true);
        found.push(...taken);
      };
      let isFirst = true;
      for await (const run of recording.runs()) {
        edges.see!(run);
        if (!isFirst) take();
        isFirst = false;
      }
      take();
      expect(found).toEqual(expected);
      expect(found.length).toBeGreaterThan(200);
    },
  );

  it("[REC-027] tells shares of the pitches to a thousandth", () => {
    const pitches = Array.from({ length: 1001 }, (_, i) => 5 + ((i * 37) % 1001) / 100);
    const tally = new PitchTally();
    let time = 0;
    tally.take(time);
    for (const pitch of pitches) tally.take((time += pitch));
    expect(tally.edgeCount).toBe(1002);
    for (const share of [0, 0.01, 0.5, 0.99]) {
      const exact = 5 + Math.floor(share * 1001) / 100;
      // Bins a thousandth wide, and pitches a hundredth apart.
      expect(Math.abs(tally.at(share) / exact - 1)).toBeLessThan(1e-3 + 0.01 / exact);
    }
    expect(() => new PitchTally().at(0.5)).toThrow(RangeError);
  });
});
