// Noise of a scenario that is written with more samples than it has: the spreading pulse by its own
// Fourier sum, and what is written against what a run at the scenario's rate plays.
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { BandNoise } from "../../../harness/stimulus/band-noise.ts";
import { heldScene } from "../../../harness/stimulus/held-scene.ts";
import { writeStimulus } from "../../../harness/stimulus/stimulus-job.ts";
import type { ChannelFault, Scene } from "../../../harness/scene/scene.ts";
import { makeWaveform } from "../../../harness/waveform/waveform.ts";
import { suiteCases } from "../../kit/regression-suite.ts";
import { FULL_SCALE_V, stimulusJob } from "./stimulus-kit.ts";
import { readWav } from "./wav-file.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline band noise "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const STEP_V = FULL_SCALE_V / 2 ** 23;
const NOISY = "board/does-noise-in-counts-stay-within-its-spread.scenario.yaml";

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

  const FAULTS: [string, ChannelFault[]][] = [
    ["none", []],
    ["gain", [{ kind: "gain", fromS: 0.5, untilS: 1.2, factor: 0.5 }]],
    ["open", [{ kind: "open", fromS: 0.5, untilS: 1.2, share: 0.1 }]],
    ["clip", [{ kind: "clip", fromS: 0.5, untilS: 1.2, level: 0.01 }]],
    ["bias", [{ kind: "bias", fromS: 0.5, untilS: 1.2, value: 0.02 }]],
    ["flat", [{ kind: "flat", fromS: 0.5, untilS: 1.2, value: 0.003 }]],
    ["spike", [{ kind: "spike", atS: 0.70001, value: 0.05, samples: 3 }]],
    [
      "loose",
      [{ kind: "loose", fromS: 0.4, untilS: 1.4, burstPk: 0.05, burstsPerS: 9, lengthS: 0.03 }],
    ],
  ];

  it.each(
    FAULTS.flatMap(
      ([name, faults]) =>
        [
          ["f32", name, faults],
          ["i16", name, faults],
        ] as const,
    ),
  )(
    "[STIM-008] with more samples than it has, at its own moments all stays: %s, fault %s",
    async (format, _name, faults) => {
      const noisy = suiteCases(NOISY)[0]!;
      const channels = noisy.channels.map((signal) => ({
        ...signal,
        faults: [...faults],
        converter: format === "i16" ? signal.converter : { format, step: 0 },
      }));
      const made: Scene = { ...noisy, durationS: 2, channels };
      const times = 4;
      const job = stimulusJob(folder, made, { times, rampS: 0.5, holdS: 1 });
      const { facts } = await writeStimulus(job);
      expect(facts.file).toMatchObject({ samplesForOne: times, sampleRateHz: 3200 * times });
      const { zeroSample, endSample } = facts.file;
      const volts = readWav(job.path, FULL_SCALE_V).columns[0]!.subarray(zeroSample, endSample);
      const source = makeWaveform(heldScene(made, { rampUpS: 0.5, holdS: 1, tailS: 0 }));
      const batch = source.next(65_536)!;
      const step = format === "i16" ? made.profile.channels[0]!.countStep : 1;
      const own = Array.from(batch.samples[0]!, (value) => value * step).slice(1.5 * 3200);
      expect(volts.length).toBe(own.length * times);
      // Half a step of 24 bits, and what f32 rounds; a sum that lies half-way between two counts may
      // go to the other one.
      const rounding = STEP_V / 2 + job.voltsPerUnit[0]! * 2 ** -23;
      const limit = rounding * 1.01 + (format === "i16" ? step * job.voltsPerUnit[0]! : 0);
      const off = own.map((value, i) => Math.abs(volts[i * times]! - value * job.voltsPerUnit[0]!));
      expect(Math.max(...off)).toBeLessThanOrEqual(limit);
      expect(off.filter((one) => one > rounding * 1.01).length).toBeLessThan(0.01 * off.length);
    },
  );

  it("[WAVE-083] its rms between the own moments is that at them, less what the band's edge takes", async () => {
    const noisy = suiteCases(NOISY)[0]!;
    const channels = noisy.channels.map((signal) => ({
      ...signal,
      components: [{ kind: "noise" as const, rms: 0.01 }],
      converter: { format: "f32" as const, step: 0 },
    }));
    const times = 4;
    const made = { ...noisy, durationS: 20, channels };
    const job = stimulusJob(folder, made, { times, rampS: 0.5, holdS: 0 });
    const { facts } = await writeStimulus(job);
    const { zeroSample, endSample } = facts.file;
    const volts = readWav(job.path, FULL_SCALE_V).columns[0]!.subarray(zeroSample, endSample);
    const rmsAt = (place: number): number => {
      const values = volts.filter((_, i) => i % times === place);
      return Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length);
    };
    const wantedV = 0.01 * job.voltsPerUnit[0]!;
    // 64,000 looks: one standard deviation of an rms is 1/√(2·64,000) = 0.28 %, six of them 1.7 %.
    for (let place = 0; place < times; place += 1) {
      // Σ of the pulse's squares at this place, from the pulse alone.
      const weights = pulse(times, 64, 128).filter((_, i) => i % times === place);
      const share = Math.sqrt(weights.reduce((sum, w) => sum + w * w, 0));
      expect(Math.abs(rmsAt(place) / wantedV / share - 1)).toBeLessThan(0.017);
      expect(share).toBeGreaterThan(0.96);
      expect(share).toBeLessThanOrEqual(1);
    }
  });
});
