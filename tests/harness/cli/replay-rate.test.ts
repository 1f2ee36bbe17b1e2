// The sample rate of a replay: from the file's times, as stated, as the profile has it.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { replayRequest } from "../../../harness/cli/replay.ts";
import { CallError } from "../../../harness/cli/command-errors.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline-rate-"));
afterAll(() => rmSync(folder, { recursive: true }));

const RATE_HZ = 12_800;
const SPEED = 40;

/** Eight seconds of a tone at shaft speed; times have four decimals, fewer than a row needs. */
function recorded(): string {
  const rows = ["time,a"];
  for (let i = 0; i < 8 * RATE_HZ; i += 1) {
    const a = 3 * Math.cos((2 * Math.PI * SPEED * i) / RATE_HZ);
    rows.push(`${(i / RATE_HZ).toFixed(4)},${a.toFixed(5)}`);
  }
  const path = join(folder, "few.csv");
  writeFileSync(path, `${rows.join("\n")}\n`);
  return path;
}

describe("sample rate of a replay", () => {
  const path = recorded();
  const asked = (rate?: string) =>
    replayRequest(path, { speedSpan: "10 %", slope: "rising", speed: "40 rev/s", rate });

  it("[REPLAY-030] tells the rate of the file's times with the digits that they leave it", async () => {
    const { sampleRateHz, timingWords, rateNotes } = await asked();
    const [, told, uncertain] = /^(\S+) Hz ± (\S+) Hz$/.exec(timingWords)!;
    expect(Math.abs(Number(told) - RATE_HZ)).toBeLessThanOrEqual(Number(uncertain) + 1e-9);
    // Two ends of half a tenth of a millisecond in eight seconds.
    expect(Number(uncertain)).toBeLessThanOrEqual((RATE_HZ * 1e-4) / 8 + 0.1);
    expect(Math.abs(sampleRateHz - RATE_HZ)).toBeLessThanOrEqual(Number(uncertain));
    expect(rateNotes).toEqual([]);
    const out = join(folder, "out");
    const call = ["replay", path, "--speed-near", "40 rev/s", "--out", out];
    const { code, stdout } = await amberlineHere(call);
    expect(code).toBe(0);
    expect(stdout).toContain(timingWords);
  });

  it.each([2.1, 2.5, 5.9])(
    "[REPLAY-045] tells %f samples in a revolution, and does not refuse them",
    async (samples) => {
      const rows = Array.from({ length: 6000 }, (_, i) => {
        const turn = 2 * Math.PI * (i / samples + 0.2);
        return `${(3 * Math.cos(turn)).toFixed(5)},${Math.sin(turn).toFixed(5)}`;
      });
      const few = join(folder, `few ${samples}.csv`);
      writeFileSync(few, `a,tach\n${rows.join("\n")}\n`);
      const speeds = [
        ["--speed", `${1 / samples} rev/sample`],
        ["--speed-near", `${1.01 / samples} rev/sample`, "--speed-span", "3 %"],
        ["--tachometer", "tach"],
      ];
      for (const speed of speeds) {
        const call = ["replay", few, ...speed, "--channel", "a", "--json"];
        const { code, stdout, stderr } = await amberlineHere([
          ...call,
          "--replace",
          "--out",
          join(folder, "few"),
        ]);
        expect([code, stderr]).toEqual([0, ""]);
        const { notes, filters, edgeTiming } = JSON.parse(stdout);
        expect(notes.join(" ")).toMatch(/Only \S+ samples in a period of order 1 \(20 are good\)/);
        // At two samples no tachometer's waveform has edges to be found.
        if (speed[0] !== "--tachometer") expect(filters[0].median / 3).toBeCloseTo(1, 1);
        else expect(edgeTiming.phaseDeg).toBeLessThan(360 / Math.sqrt(12) + 1e-9);
      }
    },
  );

  it("[REPLAY-046] takes a stretch in samples or in time alike, whether or not a rate is known", async () => {
    const median = async (from: string, until: string): Promise<[number, number]> => {
      const call = ["replay", path, "--speed", "40 rev/s", "--from", from, "--until", until];
      const out = ["--json", "--replace", "--out", join(folder, "stretch")];
      const { sampleCount, filters } = JSON.parse((await amberlineHere([...call, ...out])).stdout);
      return [sampleCount, filters[0].median];
    };
    // The rate is known to 4e-6: half a sample in ten seconds.
    const inTime = await median("1 s", "5 s");
    expect(await median("12800 samples", "64000 samples")).toEqual(inTime);
    expect(inTime[0]).toBe(51_200);
  });

  it("[REPLAY-032] tells how low a level may read where the shaft strays from a constant speed", async () => {
    // Straight from 1 % under to 1 % over 40 rev/s: 0.4 Hz off at the ends.
    const rows = ["a"];
    for (let i = 0; i < 20_000; i += 1) {
      const timeS = i / 2000;
      const angle = 39.6 * timeS + (0.8 * timeS * timeS) / 20;
      rows.push((3 * Math.cos(2 * Math.PI * angle)).toFixed(5));
    }
    const moving = join(folder, "moving.csv");
    writeFileSync(moving, `${rows.join("\n")}\n`);
    const call = ["replay", moving, "--rate", "2 kHz", "--speed-near", "40 rev/s", "--json"];
    const notesAt = async (bandwidth: string): Promise<string> => {
      const more = ["--bandwidth", bandwidth, "--replace", "--out", join(folder, "moving")];
      return JSON.parse((await amberlineHere([...call, ...more])).stdout).notes.join(" ");
    };
    // Half of 0.8 Hz: at the −3 dB point, 29 % low; segments show a little less than the ends.
    const told = /level of order 1 reads (\d+) % low/.exec(await notesAt("0.8 Hz"));
    expect(Number(told![1])).toBeGreaterThan(22);
    expect(Number(told![1])).toBeLessThanOrEqual(30);
    expect(await notesAt("20 Hz")).not.toContain("% low");
  });

  it("[REPLAY-031] takes a stated rate that agrees, tells one that is near, refuses another", async () => {
    const exact = await asked("12.8 kHz");
    expect([exact.sampleRateHz, exact.timingWords, exact.rateNotes]).toEqual([
      RATE_HZ,
      "12800 Hz",
      [],
    ]);
    const near = await asked("12805 Hz");
    expect(near.sampleRateHz).toBe(12_805);
    expect(near.rateNotes!.join(" ")).toMatch(
      /^--rate says 12805 Hz, the file's times give 12800\.\d+ Hz ± .* off by 0\.039 %\.$/,
    );
    await expect(asked("13 kHz")).rejects.toThrow(CallError);
    await expect(asked("13 kHz")).rejects.toThrow(
      /--rate says 13000 Hz, the file's times give 128/,
    );
    await expect(asked("0 Hz")).rejects.toThrow("--rate must be over 0");
  });
});
