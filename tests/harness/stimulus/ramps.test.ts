// Ramp, hold, scenario, ramp: the file against closed forms, read back by code of its own.
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { settlingHoldS } from "../../../harness/stimulus/hold-length.ts";
import type { SideFacts } from "../../../harness/stimulus/side-facts.ts";
import { type StimulusJob, writeStimulus } from "../../../harness/stimulus/stimulus-job.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import {
  channelSignal,
  filterProfile,
  monitorProfile,
  orderComponent,
  scene,
} from "../../kit/scene-builder.ts";
import { FULL_SCALE_V, PULSE_V, stimulusJob } from "./stimulus-kit.ts";
import { crossings, readWav } from "./wav-file.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline ramps "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const STEP_V = FULL_SCALE_V / 2 ** 23;
const RAMP_S = 0.5;
const HOLD_S = 1.5;

async function written(
  made: Scene,
  changes: Partial<StimulusJob> = {},
): Promise<{ job: StimulusJob; facts: SideFacts; columns: Float64Array[] }> {
  const job = stimulusJob(folder, made, { rampS: RAMP_S, holdS: HOLD_S, ...changes });
  const { facts } = await writeStimulus(job);
  return { job, facts, columns: readWav(job.path, FULL_SCALE_V).columns };
}

/** Gain of a raised cosine as a square of a sine, at a share of the ramp. */
const raised = (share: number): number =>
  Math.sin((Math.PI / 2) * Math.min(1, Math.max(0, share))) ** 2;

function gainAt(i: number, { holdSample, endSample, sampleCount }: SideFacts["file"]): number {
  const down = (sampleCount - 1 - i) / (sampleCount - endSample);
  return raised(i / holdSample) * raised(down);
}

describe("the ramps and the hold of a stimulus", () => {
  it("[STIM-003] hold the first moment, in phase with the scenario, and ramp at both ends", async () => {
    const made = scene({
      durationS: 1,
      channels: [
        channelSignal([
          orderComponent(1, 120, 40),
          orderComponent(3, 60, -75),
          {
            kind: "tone",
            frequencyHz: 50,
            quantity: "acceleration",
            amplitudePk: 30,
            phaseLagRad: 0.4,
          },
        ]),
      ],
    });
    const { job, facts, columns } = await written(made);
    const { file } = facts;
    const { revPerS } = made.shafts[0]!.speed[0]!;
    const { startAngleRev } = made.shafts[0]!;
    expect(file.rampS + file.holdS).toBe(RAMP_S + HOLD_S);
    expect(file.sampleCount / file.sampleRateHz).toBeCloseTo(HOLD_S + 1 + 2 * RAMP_S, 9);
    let worst = 0;
    columns[0]!.forEach((value, i) => {
      const timeS = (i - file.zeroSample) / file.sampleRateHz;
      const theta = 2 * Math.PI * (startAngleRev + revPerS * timeS);
      const asked =
        120 * Math.cos(theta - (40 * Math.PI) / 180) +
        60 * Math.cos(3 * theta + (75 * Math.PI) / 180) +
        30 * Math.cos(2 * Math.PI * 50 * timeS - 0.4);
      worst = Math.max(worst, Math.abs(value - gainAt(i, file) * asked * job.voltsPerUnit[0]!));
    });
    // Half a step of 24 bits, and half a last bit of f32 of the sum of the amplitudes.
    const rounding = STEP_V / 2 + 256 * 2 ** -24 * job.voltsPerUnit[0]!;
    expect(worst).toBeLessThanOrEqual(rounding);
  });

  it("[WAVE-071] both ramps are raised cosines, monotonic, and begin and end in silence", async () => {
    const made = scene({ durationS: 1, channels: [channelSignal([], { mean: 1000 })] });
    const { job, facts, columns } = await written(made);
    const { file } = facts;
    const [volts] = columns as [Float64Array];
    const topV = 1000 * job.voltsPerUnit[0]!;
    const off = volts.map((value, i) => Math.abs(value - topV * gainAt(i, file)));
    expect(Math.max(...off)).toBeLessThanOrEqual(STEP_V / 2 + 1e-9);
    expect([volts[0], volts.at(-1)]).toEqual([0, 0]);
    expect(volts.length).toBe(file.sampleCount);
    // A raised cosine's steepest step, π/2 over its samples; never back, never beyond the top.
    const steepest = (samples: number): number => (topV * Math.PI) / 2 / samples + STEP_V;
    for (let i = 1; i < volts.length; i += 1) {
      const step = volts[i]! - volts[i - 1]!;
      if (i <= file.holdSample) expect(step).toBeGreaterThanOrEqual(0);
      else if (i < file.endSample) expect(step).toBe(0);
      else expect(step).toBeLessThanOrEqual(0);
      const samples = i <= file.holdSample ? file.holdSample : file.sampleCount - file.endSample;
      expect(Math.abs(step)).toBeLessThanOrEqual(steepest(samples));
    }
  });

  // 80 turns a second at 12.8 kHz; at 0.0125 turns an edge falls on the last sample but one.
  it.each([0, 0.3, 0.0125])(
    "[WAVE-072] no pulse comes during the ramp up, none is cut at the end, from %d turns",
    async (startAngleRev) => {
      const made = scene({ durationS: 1 });
      made.shafts[0]!.startAngleRev = startAngleRev;
      const { facts, columns } = await written(made);
      const { file, tachometers } = facts;
      const pulses = columns[1]!;
      const edges = crossings(pulses, PULSE_V / 2);
      const { revPerS } = made.shafts[0]!.speed[0]!;
      const pitch = file.sampleRateHz / revPerS;
      expect(edges.length).toBe(tachometers[0]!.edgeCount);
      expect(edges[0]!).toBeGreaterThanOrEqual(file.holdSample - 1e-2);
      expect(edges[0]!).toBeLessThanOrEqual(file.holdSample + pitch + 1);
      expect(edges.at(-1)!).toBeGreaterThan(file.sampleCount - pitch - 5);
      // Equal distances through hold, scenario and ramp down: the angle runs on at time 0.
      edges.forEach((edge, i) => {
        const turns = startAngleRev + (revPerS * (edge - file.zeroSample)) / file.sampleRateHz;
        expect(Math.abs(turns - Math.round(turns)) * pitch).toBeLessThan(1e-2);
        expect(Math.abs(edge - edges[0]! - i * pitch)).toBeLessThan(1e-2);
      });
      expect(pulses.at(-1)).toBe(0);
      expect(
        crossings(
          pulses.map((value) => -value),
          -PULSE_V / 2,
        ).length,
      ).toBe(edges.length);
      expect(Math.max(...pulses)).toBeCloseTo(PULSE_V, 6);
    },
  );

  it("[WAVE-073] the hold is as long as lock, filters, smoothing and delays need", () => {
    const caution = {
      levelCounts: 50,
      hysteresisCounts: 4,
      onDelaySteps: 30,
      offDelaySteps: 50,
      delayRunsUnderInhibit: false,
      whenInvalid: "end" as const,
    };
    const { display } = filterProfile();
    const base = scene({ profile: monitorProfile() });
    const withFilter = (over: Parameters<typeof filterProfile>[0]): Scene => ({
      ...base,
      profile: { ...base.profile, filters: [filterProfile(over)] },
    });
    const plain = settlingHoldS(withFilter({}));
    const periodS = base.profile.displayPeriodS;
    // Two poles of 1 Hz full width: τ = √(√2 − 1)/(2π·0.5 Hz); what is left, (1 + x)·e^(−x), is a
    // ten-thousandth at x = 11.756.
    const tauS = Math.sqrt(Math.SQRT2 - 1) / Math.PI;
    const slow = settlingHoldS(withFilter({ bandwidth: { kind: "fixed", fullWidthHz: 0.5 } }));
    expect((1 + 11.7564) * Math.exp(-11.7564)).toBeCloseTo(1e-4, 8);
    expect(plain).toBeGreaterThan(11.756 * tauS);
    expect(slow - plain).toBeCloseTo(11.7564 * tauS, 4);
    const smooth = settlingHoldS(withFilter({ display: { ...display, smoothingS: 2 } }));
    expect(Math.exp(-(smooth - plain) / 2)).toBeCloseTo(1e-4, 9);
    const delayed = settlingHoldS(withFilter({ display: { ...display, caution } }));
    expect(delayed - plain).toBeCloseTo(50 * periodS, 9);
    const locking = {
      ...base,
      profile: {
        ...base.profile,
        shafts: base.profile.shafts.map((one) => ({ ...one, lockRevolutions: 13 })),
      },
    };
    const { revPerS } = base.shafts[0]!.speed[0]!;
    const { lockRevolutions } = base.profile.shafts[0]!;
    const moreS = (13 - lockRevolutions) / revPerS;
    expect(settlingHoldS(locking) - settlingHoldS(base)).toBeCloseTo(moreS, 9);
  });

  it("[WAVE-087] what stands at the first moment has stood, what stands at the last goes on", async () => {
    const faults = [
      { kind: "bias" as const, fromS: 0, untilS: 0.25, value: 500 },
      { kind: "bias" as const, fromS: 0.5, untilS: 1, value: -250 },
      { kind: "spike" as const, atS: 0, value: 100, samples: 1 },
    ];
    const made = scene({ durationS: 1, channels: [channelSignal([], { mean: 1000, faults })] });
    const { job, facts, columns } = await written(made);
    const { zeroSample, holdSample, endSample, sampleRateHz } = facts.file;
    columns[0]!.forEach((value, i) => {
      const timeS = (i - zeroSample) / sampleRateHz;
      const stands = timeS < 0.25 ? 500 : timeS < 0.5 ? 1000 : -250;
      const asked = stands + (i === zeroSample ? 100 : 0);
      const volts = asked * gainAt(i, facts.file) * job.voltsPerUnit[0]!;
      expect(Math.abs(value - volts)).toBeLessThanOrEqual(STEP_V / 2 + 1e-9);
    });
    expect(holdSample).toBeLessThan(zeroSample);
    expect(endSample).toBeLessThan(columns[0]!.length);
  });

  it("[WAVE-074] without a hold the scenario follows the ramp, and the side file says so", async () => {
    const made = scene({ durationS: 1 });
    const { facts } = await written(made, { holdS: 0 });
    expect(facts.file.holdS).toBe(0);
    expect(facts.file.zeroSample).toBe(facts.file.holdSample);
    expect(facts.truthFromS).toBe(0);
  });
});
