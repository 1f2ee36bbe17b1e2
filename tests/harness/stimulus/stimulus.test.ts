// What is written for a generator, read back by other code: a library for WAV, a straight line between
// samples for edges, closed forms for the ramp.
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createHash } from "node:crypto";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { WaveFile } from "wavefile";
import { afterAll, describe, expect, it } from "vitest";
import { configurationBytes } from "../../../host/profile/configuration.ts";
import { decodeRecords } from "../../../host/records.ts";
import type { FrameFormat } from "../../../harness/stimulus/frame-writer.ts";
import {
  type StimulusDone,
  type StimulusJob,
  writeStimulus,
} from "../../../harness/stimulus/stimulus-job.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { CoreTarget } from "../../../harness/target/core-target.ts";
import { makeWaveform } from "../../../harness/waveform/waveform.ts";
import { loadCore } from "../../kit/play-scene.ts";
import { suiteCases } from "../../kit/regression-suite.ts";
import { channelSignal, orderComponent, scene } from "../../kit/scene-builder.ts";
import { FULL_SCALE_V, PULSE_V, RAMP_S, extraEdgeScene, stimulusJob } from "./stimulus-kit.ts";

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

/** Times at which a column rises through a level, in samples: a straight line between two. */
function crossings(column: Float64Array, level: number): number[] {
  const found: number[] = [];
  for (let i = 1; i < column.length; i += 1) {
    const [before, after] = [column[i - 1]!, column[i]!];
    if (before < level && after >= level) found.push(i - 1 + (level - before) / (after - before));
  }
  return found;
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

describe("a stimulus", () => {
  it.each(BOARD)("[STIM-001] holds the very samples that a run plays: %s", async (file) => {
    const made = suiteCases(file)[0]!;
    const job = jobOf(made);
    const { facts } = await writeStimulus(job);
    const columns = columnsOf(job.path, "wav24");
    const { samples } = played(made);
    expect(columns[0]!.length).toBe(facts.file.zeroSample + samples[0]!.length);
    samples.forEach((values, channel) => {
      const volts = columns[channel]!.subarray(facts.file.zeroSample);
      const asked = values.map((value) => value * job.voltsPerUnit[channel]!);
      const worst = Math.max(...asked.map((value, i) => Math.abs(value - volts[i]!)));
      // Half a step of 24 bits, and the last bits of f64.
      expect(worst).toBeLessThanOrEqual((FULL_SCALE_V / I24 / 2) * (1 + 1e-6));
      expect(worst).toBeGreaterThan(0);
    });
  });

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
        const inScene = found.filter((at) => at > -0.5 / rateHz);
        const asked = ticks.map((tick) => (tick / clockHz) * rateHz);
        // The last edge's flank may be cut off by the end of the file.
        const count = Math.min(inScene.length, asked.length);
        expect(asked.length - count).toBeLessThanOrEqual(1);
        expect(count).toBeGreaterThan(30);
        const worst = Math.max(...asked.slice(0, count).map((at, i) => Math.abs(at - inScene[i]!)));
        // Two samples of half a step each, over the flank's slope a sample.
        expect(worst).toBeLessThanOrEqual((FULL_SCALE_V / I24 / (PULSE_V / 2)) * 1.01);
        // No pulse of the ramp comes within a pitch of the first of the scenario.
        expect(found.length).toBeGreaterThan(inScene.length);
      });
    },
  );

  it("[STIM-003] ramps up from silence by half a cosine, in phase with what follows", async () => {
    const amplitudePk = 120;
    const phaseDeg = 40;
    const made = scene({
      durationS: 1,
      channels: [channelSignal([orderComponent(1, amplitudePk, phaseDeg)])],
    });
    const job = jobOf(made);
    const { facts } = await writeStimulus(job);
    const [volts] = columnsOf(job.path, "wav24");
    const { zeroSample } = facts.file;
    const { revPerS } = made.shafts[0]!.speed[0]!;
    const { startAngleRev } = made.shafts[0]!;
    for (let i = 0; i < zeroSample + 200; i += 1) {
      const timeS = (i - zeroSample) / made.profile.sampleRateHz;
      const turn = 2 * Math.PI * (startAngleRev + revPerS * timeS) - (phaseDeg * Math.PI) / 180;
      const gain = i < zeroSample ? Math.sin((Math.PI * i) / zeroSample / 2) ** 2 : 1;
      const asked = gain * amplitudePk * job.voltsPerUnit[0]! * Math.cos(turn);
      expect(Math.abs(volts![i]! - asked)).toBeLessThan(1e-6);
    }
    expect(volts![0]).toBe(0);
  });

  it.each(["f32", "i16"] as const)(
    "[STIM-008] with more samples than it has, noise is held: at its own moments it stays (%s)",
    async (format) => {
      const noisy = suiteCases(BOARD[4]!)[0]!;
      const channels = noisy.channels.map((signal) => ({
        ...signal,
        converter: format === "i16" ? signal.converter : { format, step: 0 },
      }));
      const made = { ...noisy, durationS: 2, channels };
      const times = 4;
      const job = jobOf(made, { times });
      const { facts } = await writeStimulus(job);
      expect(facts.file).toMatchObject({ samplesForOne: times, sampleRateHz: 3200 * times });
      const volts = columnsOf(job.path, "wav24")[0]!.subarray(facts.file.zeroSample);
      const [own] = played(made).samples;
      expect(volts.length).toBe(own!.length * times);
      // Half a step of 24 bits, and what f32 rounds where noise and signal were made apart; with a
      // converter a sum that lies half-way may go to the next count.
      const rounding = FULL_SCALE_V / I24 / 2 + job.voltsPerUnit[0]! * 2 ** -23;
      const count = job.voltsPerUnit[0]! * made.profile.channels[0]!.countStep;
      const limit = rounding * 1.01 + (format === "i16" ? count : 0);
      const off = own!.map((value, i) =>
        Math.abs(volts[i * times]! - value * job.voltsPerUnit[0]!),
      );
      expect(Math.max(...off)).toBeLessThanOrEqual(limit);
      expect(off.filter((one) => one > rounding * 1.01).length).toBeLessThan(0.01 * off.length);
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
    await writeStimulus(job);
    await writeStimulus(wav);
    const [head, ...rows] = readFileSync(job.path, "utf8").trimEnd().split("\n");
    expect(head).toBe("time,forward,aft,N1,N2");
    const columns = columnsOf(wav.path, "wav24");
    expect(rows.length).toBe(columns[0]!.length);
    let worst = 0;
    rows.forEach((row, i) => {
      const [time, ...values] = row.split(",").map(Number);
      worst = Math.max(worst, ...values.map((value, at) => Math.abs(value - columns[at]![i]!)));
      expect(Math.abs(time! + RAMP_S - i / 3200)).toBeLessThan(1e-9);
    });
    expect(worst).toBeLessThanOrEqual((FULL_SCALE_V / I24 / 2) * (1 + 1e-6) + 1e-8);
  });

  it.each(BOARD)(
    "[STIM-007] played back through the signal path it reads what its side file says: %s",
    async (file) => {
      const made = suiteCases(file)[0]!;
      const job = jobOf(made);
      const { sidePath, facts } = await writeStimulus(job);
      const side = JSON.parse(readFileSync(sidePath, "utf8")) as {
        truth: { columns: string[]; rows: (number | string | null)[][] };
      };
      const levels = await playedBack(made, job, facts);
      const at = (name: string): number => side.truth.columns.indexOf(name);
      let judged = 0;
      for (const row of side.truth.rows) {
        const [level, tolerance] = [row[at("level")], row[at("levelTolerance")]];
        if (typeof level !== "number" || typeof tolerance !== "number") continue;
        if (row[at("validity")] !== "valid") continue;
        const key = `${String(row[at("filter")])} ${Number(row[at("timeS")]).toFixed(3)}`;
        const found = levels.get(key);
        expect(found, key).toBeDefined();
        const factor = made.profile.filters[0]!.levelFactor;
        const roundingV = FULL_SCALE_V / I24;
        const rounding = (factor * roundingV) / job.voltsPerUnit[0]!;
        expect(Math.abs(found! - level), key).toBeLessThanOrEqual(tolerance + rounding);
        judged += 1;
      }
      expect(judged).toBeGreaterThan(20);
    },
  );
});

/** Levels of the built-in core on the scenario's part of a file, by filter and time. */
async function playedBack(
  made: Scene,
  job: StimulusJob,
  facts: StimulusDone["facts"],
): Promise<Map<string, number>> {
  const { clockHz, sampleRateHz } = made.profile;
  const columns = columnsOf(job.path, "wav24");
  const { zeroSample } = facts.file;
  const count = columns[0]!.length - zeroSample;
  const samples = made.channels.map((_, i) =>
    Float32Array.from(columns[i]!.subarray(zeroSample), (v) => v / job.voltsPerUnit[i]!),
  );
  const edges = made.shafts.map((_, i) => {
    const found = crossings(columns[made.channels.length + i]!, PULSE_V / 2);
    const ticks = found.map((at) => Math.round(((at - zeroSample) / sampleRateHz) * clockHz));
    return Float64Array.from(ticks.filter((tick) => tick >= 0));
  });
  const target = new CoreTarget(loadCore());
  await target.configure(configurationBytes(made.profile));
  const inputs = [{ fromSample: 0, bits: 0 }];
  const records = await target.feed({ firstSample: 0, sampleCount: count, samples, edges, inputs });
  const levels = new Map<string, number>();
  for (const record of decodeRecords(records)) {
    if (record.kind !== "level") continue;
    const name = made.profile.filters[record.filter]!.name;
    levels.set(`${name} ${(record.tick / clockHz).toFixed(3)}`, record.level);
  }
  return levels;
}
