// What is never written for a generator, and that nothing of it is left.
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { tooLong } from "../../../harness/stimulus/frame-writer.ts";
import { type StimulusJob, writeStimulus } from "../../../harness/stimulus/stimulus-job.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import {
  channelSignal,
  fittedWheel,
  monitorProfile,
  orderComponent,
  scene,
  shaftMotion,
  shaftProfile,
} from "../../kit/scene-builder.ts";
import { FULL_SCALE_V, extraEdgeScene, stimulusJob } from "./stimulus-kit.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline no stimulus "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const jobOf = (made: Scene, changes: Partial<StimulusJob> = {}): StimulusJob =>
  stimulusJob(folder, made, changes);

describe("a stimulus that may not be", () => {
  const left = (): string[] => readdirSync(folder).toSorted();

  async function refusal(job: StimulusJob): Promise<string> {
    const before = left();
    const said = await writeStimulus(job).catch((error: unknown) => error);
    expect(said).toBeInstanceOf(Error);
    expect(left()).toEqual(before);
    expect(existsSync(job.path)).toBe(false);
    return (said as Error).message;
  }
  const loud = (): Scene =>
    scene({ durationS: 1, channels: [channelSignal([orderComponent(1, 500, 0)])] });

  it("[STIM-010] over the input's limit it is refused, with where and how much", async () => {
    const limits = { inputV: 1, pulseV: FULL_SCALE_V };
    const said = await refusal(jobOf(loud(), { limits }));
    expect(said).toMatch(/channel fan would reach 1\.\d+ V at -?\d+\.\d+ s, above the input limit/);
  });

  it("[STIM-011] over the tachometer's limit it is refused, too", async () => {
    const said = await refusal(jobOf(loud(), { limits: { inputV: 5, pulseV: 1 } }));
    expect(said).toMatch(/tachometer fan would reach 2 V at .* above the input limit of 1 V/);
  });

  it("[STIM-012] over the full scale it is refused, never clipped", async () => {
    const limits = { inputV: 9, pulseV: 9 };
    const said = await refusal(jobOf(loud(), { limits, fullScaleV: 1, pulseV: 0.5 }));
    expect(said).toContain("above a full-scale sample of 1 V");
  });

  it("[STIM-013] with a sample that is no number it is refused", async () => {
    const faults = [{ kind: "not-finite" as const, atS: 0.25, samples: 1 }];
    const made = scene({
      durationS: 1,
      channels: [channelSignal([orderComponent(1, 10, 0)], { faults })],
    });
    expect(await refusal(jobOf(made))).toContain("channel fan at 0.2500 s is no number");
  });

  it("[STIM-014] with pulses that run into each other it is refused, and says what makes room", async () => {
    const made = extraEdgeScene();
    const said = await refusal(jobOf(made));
    const times = Number(/--oversample (\d+)/.exec(said)?.[1]);
    expect(times).toBeGreaterThan(1);
    const job = jobOf(made, { times });
    await writeStimulus(job);
    expect(existsSync(job.path)).toBe(true);
  });

  it("[STIM-015] the setting that makes room serves the whole run, not its slow start alone", async () => {
    const speed = [
      { timeS: 0, revPerS: 40 },
      { timeS: 2, revPerS: 70 },
    ];
    const made = scene({
      durationS: 2,
      profile: monitorProfile({ shafts: [shaftProfile({ positions: 60 })] }),
      shafts: [shaftMotion({ speed, wheel: fittedWheel({ positions: 60 }) })],
      channels: [channelSignal([orderComponent(1, 10, 0)])],
    });
    const said = await refusal(jobOf(made));
    // 60 positions at 70 rev/s and 12.8 kHz are 3.05 samples apart; six are needed, and a little room.
    const times = Number(/; --oversample (\d+) makes room/.exec(said)?.[1]);
    const job = jobOf(made, { times });
    await writeStimulus(job);
    expect(existsSync(job.path)).toBe(true);
    // A width that was stated stays as long: no number of samples alone makes room for it.
    const wide = await refusal(jobOf(made, { pulseWidthS: 240e-6 }));
    expect(wide).toContain(`a narrower --pulse-width with --oversample ${times} makes room`);
  });

  it("[WAVE-084] a limit that only the held part passes is refused, before a folder is made", async () => {
    const rows = [
      { timeS: 0, amplitudePk: 500, phaseLagRad: 0 },
      { timeS: 0.001, amplitudePk: 1, phaseLagRad: 0 },
    ];
    const envelope = { kind: "steps" as const, rows };
    const quantity = "acceleration" as const;
    const component = { kind: "order" as const, shaft: 0, order: 1, quantity, envelope };
    const made = scene({ durationS: 1, channels: [channelSignal([component])] });
    const limits = { inputV: 1, pulseV: FULL_SCALE_V };
    const path = join(folder, "not there", "x.wav");
    const said = await refusal(jobOf(made, { limits, path }));
    expect(existsSync(join(folder, "not there"))).toBe(false);
    expect(said).toMatch(
      /channel fan would reach 1\.25 V at -\d+\.\d+ s, above the input limit of 1 V/,
    );
  });

  it.each(["x.wav", "x.wav.json", "x.wav.part", "x.wav.json.part"])(
    "[WAVE-085] %s of somebody else's is left as it is",
    async (name) => {
      const inside = mkdtempSync(join(folder, "mine "));
      writeFileSync(join(inside, name), "mine");
      const job = jobOf(scene({ durationS: 1 }), { path: join(inside, "x.wav") });
      await expect(writeStimulus(job)).rejects.toThrow(/is there already; it is not written over/);
      expect(readdirSync(inside)).toEqual([name]);
      expect(readFileSync(join(inside, name), "utf8")).toBe("mine");
    },
  );

  it.each(["x.wav", "x.wav.json"])(
    "[WAVE-086] %s that comes while it is made is left as it is, and nothing beside it",
    async (name) => {
      const inside = mkdtempSync(join(folder, "race "));
      // Comes as soon as the writing has begun: all checks of what is there lie behind.
      const timer = setInterval(() => {
        const isBegun = readdirSync(inside).includes("x.wav.part");
        if (isBegun && !existsSync(join(inside, name))) writeFileSync(join(inside, name), "mine");
      });
      const job = jobOf(scene({ durationS: 30 }), { path: join(inside, "x.wav") });
      try {
        await expect(writeStimulus(job)).rejects.toThrow(/is there already/);
      } finally {
        clearInterval(timer);
      }
      expect(readdirSync(inside)).toEqual([name]);
      expect(readFileSync(join(inside, name), "utf8")).toBe("mine");
    },
  );

  it("[STIM-018] more samples than the edge clock serves are refused, with what it serves", async () => {
    // 80 MHz over 12.8 kHz is 6250 = 2·5⁵.
    expect(await refusal(jobOf(scene({ durationS: 1 }), { times: 4 }))).toMatch(
      /the edge clock of 80000000 Hz is no multiple of it; 1, 2, 5, 10, 25, 50 times serve/,
    );
  });

  it("[STIM-016] interrupted it leaves nothing", async () => {
    const controller = new AbortController();
    controller.abort();
    const before = left();
    const job = jobOf(loud(), { signal: controller.signal });
    await expect(writeStimulus(job)).rejects.toMatchObject({ name: "AbortError" });
    expect(left()).toEqual(before);
  });

  it.each([
    ["the samples are written", ".wav.part"],
    ["the truth is written", ".wav.json.part"],
  ])("[WAVE-070] interrupted while %s it leaves nothing", async (_when, ending) => {
    const controller = new AbortController();
    const before = left();
    // Looks again and again, as the process gets to hear a signal of the system.
    const timer = setInterval(() => {
      if (left().some((name) => name.endsWith(ending))) controller.abort();
    });
    const job = jobOf(scene({ durationS: 300 }), { signal: controller.signal });
    try {
      await expect(writeStimulus(job)).rejects.toMatchObject({ name: "AbortError" });
    } finally {
      clearInterval(timer);
    }
    expect(left()).toEqual(before);
  });

  it("[STIM-017] over what a WAV holds it is refused before it begins", async () => {
    const made = scene({ durationS: 200_000 });
    expect(await refusal(jobOf(made))).toContain("a WAV file holds 4 GiB");
  });

  it("[WAVE-091] a WAV is refused where the size of its RIFF would not go into 32 bits", () => {
    const names = ["a", "b", "c"];
    const layout = { sampleRateHz: 12_800, fullScaleV: 5, names, zeroSample: 0 };
    const HEAD_BYTES = 80;
    for (const [format, bytes] of [
      ["wav24", 9],
      ["wav-float", 12],
    ] as const) {
      const most = Math.floor((2 ** 32 - HEAD_BYTES - 16) / bytes);
      expect(tooLong(format, { ...layout, sampleCount: most })).toBeUndefined();
      const over = Math.ceil((2 ** 32 + 8 - HEAD_BYTES) / bytes);
      expect(tooLong(format, { ...layout, sampleCount: over })).toContain("holds 4 GiB");
    }
    expect(tooLong("csv", { ...layout, sampleCount: 1e12 })).toBeUndefined();
  });
});
