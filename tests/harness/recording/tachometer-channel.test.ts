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

  /** Edges at these times, as the sample after each tells them. */
  function middleOf(times: readonly number[], isWhole: boolean): number {
    const tally = new PitchTally();
    for (const time of times) tally.take(isWhole ? Math.ceil(time) : time);
    return tally.middle;
  }

  it.each([250 / 3, 83.9, 4.3, 1500.25])(
    "[REC-028] tells a steady pitch of %d samples to a sample over all, from edges in whole samples",
    (pitch) => {
      const times = Array.from({ length: 1200 }, (_, i) => 0.37 + pitch * i);
      expect(Math.abs(middleOf(times, true) - pitch)).toBeLessThanOrEqual(1 / 1199);
    },
  );

  it("[REC-028] leaves out a wheel's gap, lost edges, and what a run-up does beside the middle", () => {
    // Six positions less one, at a pitch of half a sample and at one of 7.3 samples.
    for (const pitch of [0.5, 7.3]) {
      const gapped = Array.from({ length: 1200 }, (_, i) => pitch * i).filter((_, i) => i % 6 > 0);
      expect(middleOf(gapped, false)).toBeCloseTo(pitch, 9);
    }
    // 40 to 120 samples, evenly: the middle one is 80, the mean of all too; then a long tail at 300.
    const times = [0];
    for (let i = 0; i < 801; i += 1) times.push(times.at(-1)! + 40 + i / 10);
    expect(Math.abs(middleOf(times, true) - 80)).toBeLessThanOrEqual(1);
    for (let i = 0; i < 400; i += 1) times.push(times.at(-1)! + 300);
    // 601 of the 1201 lie at 100 or under.
    expect(Math.abs(middleOf(times, true) - 100)).toBeLessThanOrEqual(1);
    expect(() => middleOf([3], false)).toThrow(RangeError);
  });
});
