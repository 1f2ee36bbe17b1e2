// What counters and samples say against the levels of a replay, told before the first number. The
// counts that are expected are counted here, from the samples as they were written.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { WaveFile } from "wavefile";
import { afterAll, describe, expect, it } from "vitest";
import { replayRequest } from "../../../harness/cli/replay.ts";
import type { ReplayOptions } from "../../../harness/cli/replay-wish.ts";
import { replayLines, replayView } from "../../../harness/cli/replay-words.ts";
import { replayPage } from "../../../harness/report/replay-page.ts";
import { runReplay } from "../../../harness/run/replay-run.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline-doubts-"));
afterAll(() => rmSync(folder, { recursive: true }));

const RATE_HZ = 2000;
const SECONDS = 20;
const COUNT = SECONDS * RATE_HZ;
const SPEED = 20;
/** m/s² */
const RANGE = 40;

function written(name: string, content: string): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

const PROFILE = written(
  "bench.monitor.yaml",
  `monitor: Bench
sample rate: 2 kHz
display period: 250 ms
channels:
  frame:
    transducer: charge
    measures: acceleration
    range: ${RANGE} m/s² pk
    health: { clipped samples: 100000, flat below: 1 m/s² pk-pk }
shafts:
  fan: { lowest speed: 600 r/min, highest speed: 3600 r/min }
filters:
  fan: { channel: frame, bandwidth: 2 Hz, level: m/s² pk }
`,
);

const turnsAt = (sample: number): number => (SPEED * sample) / RATE_HZ + 0.3;
const toneAt = (sample: number, size: number): number =>
  size * Math.cos(2 * Math.PI * turnsAt(sample));

function recording(name: string, valueAt: (sample: number) => number): string {
  const rows = ["time (s),frame"];
  for (let i = 0; i < COUNT; i += 1)
    rows.push(`${(i / RATE_HZ).toFixed(4)},${valueAt(i).toFixed(5)}`);
  return written(name, `${rows.join("\n")}\n`);
}

/** Times of one edge a revolution, but for those left out; `more` are added. */
function edges(name: string, isLeftOut: (edge: number) => boolean, more: number[] = []): string {
  const times = Array.from({ length: SECONDS * SPEED }, (_, edge) => (edge + 0.7) / SPEED);
  const kept = times.filter((_, edge) => !isLeftOut(edge)).concat(more);
  const rows = kept.toSorted((a, b) => a - b).map((time) => time.toFixed(9));
  return written(name, `${rows.join("\n")}\n`);
}

const EVERY_EDGE = edges("every.csv", () => false);

async function replayed(path: string, options: Partial<ReplayOptions> = {}) {
  const wish = { speedSpan: "10 %", slope: "rising", profile: PROFILE, edges: EVERY_EDGE } as const;
  const request = await replayRequest(path, { ...wish, ...options });
  const outcome = await runReplay(request, new AbortController().signal);
  const view = replayView(path, request, outcome, "again");
  return { outcome, view, lines: replayLines(view, outcome, "out"), page: replayPage(view) };
}

function expectDoubtsFirst(page: string, lines: string[]): void {
  const box = page.indexOf("Levels not to be relied on");
  expect(box).toBeGreaterThan(0);
  expect(box).toBeLessThan(page.indexOf("Samples a channel"));
  expect(page).toContain('<p class="verdict wrong">not to be relied on</p>');
  const told = lines.findIndex((line) => line.startsWith("! NOT TO BE RELIED ON"));
  const first = lines.findIndex((line) => line.includes("Samples a channel"));
  expect(told).toBeGreaterThan(0);
  expect(told).toBeLessThan(first);
  expect(lines.some((line) => line.startsWith("! fan, m/s² pk"))).toBe(true);
}

describe("doubts about a replay", () => {
  it("[REPLAY-060] says nothing of a recording that nothing speaks against", async () => {
    const { view, lines, page } = await replayed(recording("right.csv", (i) => toneAt(i, 30)));
    expect(view.doubts).toEqual([]);
    expect(view.filters.map((filter) => filter.isDoubtful)).toEqual([false]);
    expect(lines.join("\n")).not.toContain("!");
    expect(page).not.toContain("relied");
  });

  it("[REPLAY-060] tells clipped samples, their share and their times before the number", async () => {
    const from = 5 * RATE_HZ;
    const valueAt = (i: number): number =>
      i < from ? toneAt(i, 20) : Math.max(-RANGE, Math.min(RANGE, toneAt(i, 60)));
    const at = Array.from({ length: COUNT }, (_, i) => i).filter(
      (i) => Math.abs(valueAt(i)) >= RANGE,
    );
    const { view, lines, page } = await replayed(recording("clipped.csv", valueAt));
    const share = Number(((100 * at.length) / COUNT).toPrecision(2));
    expect(view.doubts).toEqual([
      `Channel "frame": ${at.length} of ${COUNT} samples are clipped, at or over the channel's range ` +
        `(${share} %), the first at ${at[0]! / RATE_HZ} s, the last at ${at.at(-1)! / RATE_HZ} s.`,
    ]);
    expectDoubtsFirst(page, lines);
  });

  it("[REPLAY-060] tells the same without a profile of a file at the end of its numbers", async () => {
    const counts = Array.from({ length: COUNT }, (_, i) =>
      Math.max(-32768, Math.min(32767, Math.round(toneAt(i, 40000)))),
    );
    const wav = new WaveFile();
    wav.fromScratch(1, RATE_HZ, "16", counts);
    const path = join(folder, "clipped.wav");
    writeFileSync(path, wav.toBuffer());
    const clipped = counts.filter((count) => count === 32767 || count === -32768).length;
    const { view } = await replayed(path, { profile: undefined });
    expect(view.doubts).toHaveLength(1);
    expect(view.doubts[0]).toContain(`${clipped} of ${COUNT} samples are clipped, at the end of`);
    // One alone is the peak that a file was scaled to.
    const scaled = new WaveFile();
    scaled.fromScratch(
      1,
      RATE_HZ,
      "16",
      counts.map((_, i) => (i === 777 ? 32767 : Math.round(toneAt(i, 15000)))),
    );
    writeFileSync(path, scaled.toBuffer());
    expect((await replayed(path, { profile: undefined })).view.doubts).toEqual([]);
  });

  it("[REPLAY-061] tells a channel that is flat, since when and how long", async () => {
    const isFlat = (i: number): boolean => i > 6 * RATE_HZ && i <= 8 * RATE_HZ;
    const path = recording("flat.csv", (i) => (isFlat(i) ? 0 : toneAt(i, 30)));
    const { view, lines, page } = await replayed(path);
    expect(view.doubts).toEqual([
      'Channel "frame" is flat while the shaft turns: since 6.25 s, over at 8.25 s (found on 8 ' +
        "display steps).",
    ]);
    expectDoubtsFirst(page, lines);
  });

  it("[REPLAY-064] tells without a profile what is clipped below the file's own ends", async () => {
    const valueAt = (i: number): number => Math.max(-2, Math.min(2, toneAt(i, 3)));
    const clipped = Array.from({ length: COUNT }, (_, i) => valueAt(i));
    const ends = clipped.flatMap((value, i) => (Math.abs(value) === 2 ? [i] : []));
    const path = recording("own ends.csv", valueAt);
    const { view, lines, page } = await replayed(path, { profile: undefined });
    expect(view.doubts).toHaveLength(1);
    expect(view.doubts[0]).toContain("stand still at the recording's own greatest or least value");
    const [, count] = /: (\d+) of 40000 samples/.exec(view.doubts[0]!)!;
    // The first crest has no sample before it.
    expect(ends.length - Number(count)).toBeGreaterThanOrEqual(0);
    expect(ends.length - Number(count)).toBeLessThan(RATE_HZ / SPEED);
    expect(page.indexOf("Levels not to be relied on")).toBeGreaterThan(0);
    expect(lines.some((line) => line.startsWith("! NOT TO BE RELIED ON"))).toBe(true);
  });

  it.each([0.01, 0.3, 1, 3])(
    "[REPLAY-064] says nothing of a crest that is flat by rounding to %d alone",
    async (step) => {
      const path = recording("coarse.csv", (i) => step * Math.round(toneAt(i, 30) / step));
      expect((await replayed(path, { profile: undefined })).view.doubts).toEqual([]);
    },
  );

  it.each([
    ["the whole", 0, 100],
    ["the second half", COUNT / 2, 50],
  ])("[REPLAY-065] tells without a profile that %s is flat", async (_name, from, percent) => {
    const path = recording("still.csv", (i) => (i < from ? toneAt(i, 30) : 0.25));
    const { view, lines } = await replayed(path, { profile: undefined });
    expect(view.doubts).toEqual([
      `Channel "frame": ${COUNT - from} of ${COUNT} samples lie in flat stretches of one value ` +
        `(${percent} %), the first at ${from / RATE_HZ} s, the last at ${(COUNT - 1) / RATE_HZ} s.`,
    ]);
    expect(lines.some((line) => line.startsWith("! NOT TO BE RELIED ON"))).toBe(true);
  });

  it("[REPLAY-061] tells samples that are no number", async () => {
    const path = recording("gone.csv", (i) => (i % 4000 === 2000 ? Number.NaN : toneAt(i, 30)));
    const { view } = await replayed(path);
    expect(view.doubts).toEqual([
      `10 samples of "frame" were no number and were dropped (0.025 % of ${COUNT}).`,
    ]);
    expect(view.filters[0]!.isDoubtful).toBe(true);
  });

  it("[REPLAY-062] tells edges that were bridged, and of glitches without a mark", async () => {
    const path = recording("edges.csv", (i) => toneAt(i, 30));
    const missing = edges("missing.csv", (edge) => edge % 50 === 25);
    const bridged = await replayed(path, { edges: missing });
    // The first two edges find the reference, and are not counted.
    expect(bridged.view.doubts).toEqual([
      'Tachometer of shaft "fan": 8 of 398 edges were missed and bridged (2 %).',
    ]);
    expectDoubtsFirst(bridged.page, bridged.lines);
    const early = edges("early.csv", () => false, [7.213, 12.511]);
    const { view, outcome, lines } = await replayed(path, { edges: early });
    expect(outcome.counters[0]!.edgesEarly[0]).toBe(2);
    expect(view.doubts).toEqual([]);
    expect(view.notes[0]).toContain("2 of 400 edges came too early and were dropped as glitches");
    expect(lines.some((line) => line.startsWith("!"))).toBe(false);
  });

  it("[REPLAY-062] tells where the reference was lost, and that no level stands there", async () => {
    const path = recording("lost.csv", (i) => toneAt(i, 30));
    const gap = edges("gap.csv", (edge) => edge >= 200 && edge < 260);
    const { view } = await replayed(path, { edges: gap });
    expect(view.notes[0]).toMatch(/its reference was lost 1 time, first at 10\.\d+ s \(time-out\)/);
  });
});
