// A replay by a tachometer channel, called by name or number, and what is said of its phase.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { WaveFile } from "wavefile";
import { afterAll, describe, expect, it } from "vitest";
import { replayRequest } from "../../../harness/cli/replay.ts";
import type { ReplayOptions } from "../../../harness/cli/replay-wish.ts";
import { runReplay } from "../../../harness/run/replay-run.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline-tachometer-"));
afterAll(() => rmSync(folder, { recursive: true }));

const RATE_HZ = 6400;
const SECONDS = 8;
const LAG_DEG = 40;

/** A WAV of some tones a quarter of full scale, and last a pulse of two values at whole angles. */
function recorded(name: string, speed: number, tones = 2): string {
  const count = SECONDS * RATE_HZ;
  const angleAt = (i: number): number => speed * (i / RATE_HZ) + 0.3;
  const toneOf = (order: number): number[] =>
    Array.from({ length: count }, (_, i) => {
      const turn = 2 * Math.PI * order * angleAt(i) - (LAG_DEG * Math.PI) / 180;
      return Math.round(8192 * Math.cos(turn));
    });
  const pulse = Array.from({ length: count }, (_, i) => (angleAt(i) % 1 < 0.1 ? 20_000 : 0));
  const channels = [...Array.from({ length: tones }, (_, c) => toneOf(c + 1)), pulse];
  const wav = new WaveFile();
  wav.fromScratch(channels.length, RATE_HZ, "16", channels);
  const path = join(folder, name);
  writeFileSync(path, wav.toBuffer());
  return path;
}

async function replayed(path: string, options: Partial<ReplayOptions>) {
  const request = await replayRequest(path, { speedSpan: "10 %", slope: "rising", ...options });
  return { request, outcome: await runReplay(request, new AbortController().signal) };
}

describe("replay by a tachometer channel", () => {
  it("[REPLAY-033] the phase lies within what is stated of an edge, in degrees of order 1", async () => {
    // 157.7 samples in a revolution: a pulse of two values is known to within a sample.
    const path = recorded("phase.wav", 40.6);
    const { outcome } = await replayed(path, { tachometer: "3" });
    const { phaseDeg, total } = outcome.edgeTiming!;
    expect(phaseDeg).toBeCloseTo((360 * total * 40.6) / RATE_HZ, 2);
    expect(total).toBeGreaterThan(0.28);
    expect(total).toBeLessThan(0.35);
    expect(outcome.notes.join(" ")).toContain("° of order 1 at the middle speed");
    for (const lag of outcome.filters[0]!.trace.phaseLagDeg) {
      expect(Math.abs(lag - LAG_DEG)).toBeLessThan(2 * phaseDeg);
    }
  });

  it("[REPLAY-034] takes channels by number where no name is theirs, the tachometer's left out", async () => {
    const path = recorded("numbers.wav", 40);
    const names = async (options: Partial<ReplayOptions>): Promise<string[]> =>
      (await replayed(path, options)).outcome.filters.map((filter) => filter.name);
    expect(await names({ tachometer: "3" })).toEqual(["channel 1 order 1", "channel 2 order 1"]);
    expect(await names({ tachometer: "channel 3", channel: ["2", "channel 2"] })).toEqual([
      "channel 2 order 1",
    ]);
    const csv = join(folder, "named.csv");
    const rows = Array.from({ length: 2000 }, (_, i) => `${i % 50},${i % 40 < 4 ? 9 : 0},${i % 7}`);
    writeFileSync(csv, `a,1,2\n${rows.join("\n")}\n`);
    // Here "1" and "2" are names.
    const request = await replayRequest(csv, {
      speedSpan: "10 %",
      slope: "rising",
      tachometer: "1",
      channel: ["2", "3"],
    });
    expect(request.columns).toEqual([2]);
    expect(request.speed.notes[0]).toContain('channel "1", rising');
  });

  it("[REPLAY-035] takes as many channels a pass as the firmware has room for, or says why none", async () => {
    // 533 samples in a revolution with one edge, and half as many more to slow down: room for two.
    const path = recorded("slow.wav", 12, 4);
    const { outcome } = await replayed(path, { tachometer: "5", bandwidth: "2 Hz" });
    expect(outcome.filters.map((filter) => filter.name.slice(0, 9))).toEqual(
      [1, 2, 3, 4].map((n) => `channel ${n}`),
    );
    expect(outcome.filters[0]!.median).toBeCloseTo(0.25, 3);
    expect(outcome.counters.length).toBe(2);
    const slower = recorded("slower.wav", 3);
    await expect(replayed(slower, { tachometer: "3" })).rejects.toThrow(
      /slower\.wav: the shaft turns too slowly for this sample rate: 32\d\d samples in a revolution/,
    );
  });
});
