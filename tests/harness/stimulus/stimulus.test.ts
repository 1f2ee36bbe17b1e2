// What is written for a generator, read back by other code: a library for WAV, a straight line between
// samples for edges.
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createHash } from "node:crypto";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { WaveFile } from "wavefile";
import { afterAll, describe, expect, it } from "vitest";
import type { FrameFormat } from "../../../harness/stimulus/frame-writer.ts";
import { type StimulusJob, writeStimulus } from "../../../harness/stimulus/stimulus-job.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { makeWaveform } from "../../../harness/waveform/waveform.ts";
import { suiteCases } from "../../kit/regression-suite.ts";
import { channelSignal, orderComponent, scene } from "../../kit/scene-builder.ts";
import { FULL_SCALE_V, PULSE_V, extraEdgeScene, stimulusJob } from "./stimulus-kit.ts";
import { crossings, readWav } from "./wav-file.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline stimulus "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const I24 = 2 ** 23;
const jobOf = (made: Scene, changes: Partial<StimulusJob> = {}): StimulusJob =>
  stimulusJob(folder, made, changes);

/** The columns of a WAV in volts, as the library reads them. */
function columnsOf(path: string, format: FrameFormat): Float64Array[] {
  const wav = new WaveFile(readFileSync(path));
  const samples = wav.getSamples(false, Float64Array) as unknown as Float64Array | Float64Array[];
  const columns = Array.isArray(samples) ? samples : [samples];
  const scale = format === "wav24" ? FULL_SCALE_V / I24 : FULL_SCALE_V;
  return columns.map((column) => column.map((value) => value * scale));
}

/** All that a scene plays. */
function played(made: Scene): { samples: number[][]; edges: number[][] } {
  const source = makeWaveform(made);
  const samples: number[][] = made.channels.map(() => []);
  const edges: number[][] = made.shafts.map(() => []);
  for (let batch = source.next(1000); batch !== undefined; batch = source.next(1000)) {
    const { samples: all } = batch;
    all.forEach((one, i) => {
      const step = one instanceof Int16Array ? made.profile.channels[i]!.countStep : 1;
      for (const value of one) samples[i]!.push(value * step);
    });
    batch.edges.forEach((ticks, i) => edges[i]!.push(...ticks));
  }
  return { samples, edges };
}

const BOARD = [
  "board/does-a-caution-come-and-go-in-counts.scenario.yaml",
  "board/do-two-shafts-in-counts-keep-apart.scenario.yaml",
  "board/does-a-speed-under-the-minimum-end-the-number-in-counts.scenario.yaml",
  "board/are-missed-edges-bridged-on-counts.scenario.yaml",
  "board/does-noise-in-counts-stay-within-its-spread.scenario.yaml",
];

/** A rotor through its resonance, gears, a second shaft with ripple, company that grows with speed. */
const MOVING = [
  "board/does-a-resonance-read-true-in-counts.scenario.yaml",
  "board/are-counts-read-true-through-gears.scenario.yaml",
  "company/does-ripple-of-the-other-shaft-leak-as-computed.scenario.yaml",
  "ramps/does-company-that-grows-with-speed-stay-out-of-a-ramp.scenario.yaml",
];

describe("a stimulus", () => {
  it.each([...BOARD.slice(0, 4), ...MOVING])(
    "[STIM-001] holds the very samples that a run plays: %s",
    async (file) => {
      const made = suiteCases(file)[0]!;
      // Many positions a turn need more samples for their pulses; a run has every fifth.
      const times = 5;
      const job = jobOf(made, { times });
      const { facts } = await writeStimulus(job);
      const columns = columnsOf(job.path, "wav24");
      const { samples } = played(made);
      const { zeroSample, endSample } = facts.file;
      expect(endSample - zeroSample).toBe(samples[0]!.length * times);
      samples.forEach((values, channel) => {
        const volts = columns[channel]!.subarray(zeroSample, endSample);
        const asked = values.map((value) => value * job.voltsPerUnit[channel]!);
        const off = asked.map((value, i) => Math.abs(value - volts[i * times]!));
        // Half a step of 24 bits; two roundings to f32 where no converter makes counts.
        const isCounts = made.channels[channel]!.converter.format === "i16";
        const peakV = asked.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
        const rounding = (FULL_SCALE_V / I24 / 2) * (1 + 1e-6) + (isCounts ? 0 : peakV * 2 ** -23);
        expect(Math.max(...off)).toBeLessThanOrEqual(rounding);
        expect(Math.max(...off)).toBeGreaterThan(0);
      });
    },
  );

  it.each([...BOARD.slice(0, 4), "extra edge"])(
    "[STIM-002] rises through half the level at each edge's own time: %s",
    async (file) => {
      const isExtra = file === "extra edge";
      const made = isExtra ? extraEdgeScene() : suiteCases(file)[0]!;
      const times = isExtra ? 2 : 1;
      const job = jobOf(made, { times });
      const { facts } = await writeStimulus(job);
      const columns = columnsOf(job.path, "wav24");
      const { clockHz } = made.profile;
      const rateHz = made.profile.sampleRateHz * times;
      played(made).edges.forEach((ticks, shaft) => {
        const column = columns[made.channels.length + shaft]!;
        const found = crossings(column, PULSE_V / 2).map((at) => at - facts.file.zeroSample);
        const tick = rateHz / clockHz;
        const inScene = found.filter((at) => at > -1.5 * tick);
        const asked = ticks.map((one) => one * tick);
        expect(inScene.length).toBeGreaterThanOrEqual(asked.length);
        expect(asked.length).toBeGreaterThan(30);
        const worst = Math.max(...asked.map((at, i) => Math.abs(at - inScene[i]!)));
        // Two samples of half a step each, over the flank's slope a sample; and a tick, where an edge
        // lies on one and its angle is summed from an earlier start.
        expect(worst).toBeLessThanOrEqual((FULL_SCALE_V / I24 / (PULSE_V / 2)) * 1.01 + tick);
        // The hold has pulses, too.
        expect(found.length).toBeGreaterThan(inScene.length);
      });
    },
  );

  it("[STIM-004] tells peak and rms as the closed form of a sine has them", async () => {
    const made = scene({ durationS: 2, channels: [channelSignal([orderComponent(1, 100, 0)])] });
    made.shafts[0]!.startAngleRev = 0;
    const job = jobOf(made);
    const { facts } = await writeStimulus(job);
    const [channel] = facts.channels;
    const peakV = 100 * job.voltsPerUnit[0]!;
    // Eighty turns a second, 160 samples a turn: whole turns, a sample on each peak.
    expect(channel!.peakV).toBeCloseTo(peakV, 5);
    expect(channel!.rmsV).toBeCloseTo(peakV / Math.SQRT2, 5);
  });

  it.each(["wav24", "wav-float"] as const)(
    "[WAVE-080] peak and rms are those of all that is written, as it is written: %s",
    async (format) => {
      const made = suiteCases(BOARD[1]!)[0]!;
      const job = jobOf(made, { format });
      const { facts } = await writeStimulus(job);
      const { columns } = readWav(job.path, FULL_SCALE_V);
      const told = [...facts.channels, ...facts.tachometers];
      expect(told.length).toBe(columns.length);
      columns.forEach((column, i) => {
        const { zeroSample, endSample } = facts.file;
        const rms = (part: Float64Array): number =>
          Math.sqrt(part.reduce((sum, value) => sum + value * value, 0) / part.length);
        expect(told[i]!.peakV).toBe(column.reduce((most, v) => Math.max(most, Math.abs(v)), 0));
        // Sums of some ten thousand squares, in f64.
        expect(told[i]!.fileRmsV / rms(column)).toBeCloseTo(1, 11);
        expect(told[i]!.rmsV / rms(column.subarray(zeroSample, endSample))).toBeCloseTo(1, 11);
      });
    },
  );

  it.each(["wav24", "wav-float"] as const)(
    "[STIM-005] has the head of RIFF/WAVE for %s",
    async (format) => {
      const job = jobOf(suiteCases(BOARD[0]!)[0]!, { format });
      const { facts } = await writeStimulus(job);
      const bytes = readFileSync(job.path);
      const wav = new WaveFile(bytes);
      const width = format === "wav24" ? 24 : 32;
      const fmt = wav.fmt as Record<string, unknown>;
      expect(fmt).toMatchObject({
        audioFormat: 0xfffe,
        numChannels: 2,
        sampleRate: 3200,
        bitsPerSample: width,
        validBitsPerSample: width,
        blockAlign: (2 * width) / 8,
        byteRate: (3200 * 2 * width) / 8,
        dwChannelMask: 0,
      });
      expect((fmt["subformat"] as number[])[0]).toBe(format === "wav24" ? 1 : 3);
      // Multimedia Programming Interface 1.0: the size of a chunk leaves out its own head.
      expect(bytes.readUInt32LE(4)).toBe(bytes.length - 8);
      expect(facts.file.sampleCount).toBe((bytes.length - 80) / ((2 * width) / 8));
      expect(facts.file.sha256).toBe(createHash("sha256").update(bytes).digest("hex"));
    },
  );

  it("[STIM-006] written as CSV it says the same as WAV", async () => {
    const made = suiteCases(BOARD[1]!)[0]!;
    const job = jobOf(made, { format: "csv", path: join(folder, "same.csv") });
    const wav = jobOf(made);
    const { facts } = await writeStimulus(job);
    await writeStimulus(wav);
    const [head, ...rows] = readFileSync(job.path, "utf8").trimEnd().split("\n");
    expect(head).toBe("time,forward,aft,N1,N2");
    const columns = columnsOf(wav.path, "wav24");
    expect(rows.length).toBe(columns[0]!.length);
    let worst = 0;
    rows.forEach((row, i) => {
      const [time, ...values] = row.split(",").map(Number);
      worst = Math.max(worst, ...values.map((value, at) => Math.abs(value - columns[at]![i]!)));
      expect(Math.abs(time! - (i - facts.file.zeroSample) / 3200)).toBeLessThan(1e-9);
    });
    expect(worst).toBeLessThanOrEqual((FULL_SCALE_V / I24 / 2) * (1 + 1e-6) + 1e-8);
  });
});
