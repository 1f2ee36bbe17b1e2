// What the page of a replay draws and lists.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { replayRequest } from "../../../harness/cli/replay.ts";
import type { ReplayOptions } from "../../../harness/cli/replay-wish.ts";
import { replayLines, replayView } from "../../../harness/cli/replay-words.ts";
import { gaussianOf } from "../../../harness/random/gaussian.ts";
import { randomStream } from "../../../harness/random/stream.ts";
import { phaseAxisStart, phaseLine } from "../../../harness/report/phase-path.ts";
import { replayPage } from "../../../harness/report/replay-page.ts";
import { runReplay } from "../../../harness/run/replay-run.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline-page-"));
afterAll(() => rmSync(folder, { recursive: true }));

const RATE_HZ = 3200;
const SECONDS = 20;
/** 20 to 40 rev/s, straight. */
const angleAt = (timeS: number): number => 20 * timeS + (timeS * timeS) / 2;
const speedAt = (timeS: number): number => 20 + timeS;

interface Making {
  /** pk of order 1 at a speed in rev/s. */
  amplitude: (speed: number) => number;
  lagDeg: (timeS: number) => number;
  channels?: number;
  /** Rms of white noise. */
  noise?: number;
  /** No pulses from 10 s to 13 s. */
  isDropped?: boolean;
}

function recorded(
  name: string,
  { amplitude, lagDeg, channels = 1, noise = 0, isDropped }: Making,
): string {
  const names = Array.from({ length: channels }, (_, c) => `a${c + 1}`);
  const rows = [["time", ...names, "tach"].join(",")];
  const stream = randomStream(TEST_SEED, 30);
  for (let i = 0; i < SECONDS * RATE_HZ; i += 1) {
    const timeS = i / RATE_HZ;
    const angle = angleAt(timeS) + 0.3;
    const tone = amplitude(speedAt(timeS)) * Math.cos(2 * Math.PI * (angle - lagDeg(timeS) / 360));
    const value = tone + noise * gaussianOf(stream);
    const phase = ((angle + 0.5) % 1) - 0.5;
    const isSeen = isDropped !== true || timeS < 10 || timeS >= 13;
    const tach = isSeen ? Math.max(-1, Math.min(1, phase * 20)) * (phase > 0.25 ? -1 : 1) : -1;
    const cells = names.map(() => value.toFixed(5));
    rows.push([timeS.toFixed(6), ...cells, tach.toFixed(5)].join(","));
  }
  const path = join(folder, name);
  writeFileSync(path, `${rows.join("\n")}\n`);
  return path;
}

async function replayed(path: string, options: Partial<ReplayOptions> = {}) {
  const request = await replayRequest(path, {
    speedSpan: "10 %",
    slope: "rising",
    tachometer: "tach",
    bandwidth: "2 Hz",
    ...options,
  });
  const outcome = await runReplay(request, new AbortController().signal);
  const view = replayView(path, request, outcome, "again");
  return { outcome, view, page: replayPage(view) };
}

/** Subpaths of a curve, each as its points in pixels. */
function subpaths(page: string, className: string, index: number): [number, number][][] {
  const paths = [...page.matchAll(new RegExp(`<path class="${className}" d="([^"]*)"`, "g"))];
  return paths[index]![1]!.split("M")
    .slice(1)
    .map((part) =>
      part.split("L").map((point) => point.split(" ").map(Number) as [number, number]),
    );
}

/** Pixels from one display step, a tenth of a second, to the next. */
const STEP_PX = 892 / (10 * SECONDS);

/** Pixels that a line rises or falls in a display step at most; straight points may be left out. */
function steepest(points: [number, number][]): number {
  let most = 0;
  for (const [i, [x, y]] of points.slice(1).entries()) {
    const steps = Math.max(1, Math.round((x - points[i]![0]) / STEP_PX));
    most = Math.max(most, Math.abs(y - points[i]![1]) / steps);
  }
  return most;
}

describe("phase line", () => {
  it("[REPLAY-041] takes the turn that the angles leave least often, and breaks where they do", () => {
    const angles = [350, 355, 2, 8, 358, 4];
    expect(phaseAxisStart(angles)).toBe(-180);
    expect(phaseAxisStart([100, 200, 300])).toBe(0);
    // All round and round: every turn is left as often.
    expect(phaseAxisStart([0, 90, 180, 270, 0, 90, 180, 270])).toBe(0);
    const time = angles.map((_, i) => i);
    expect(phaseLine(time, angles, -180, 0.1)).toEqual({
      time,
      angleDeg: [-10, -5, 2, 8, -2, 4],
    });
    expect(phaseLine(time, angles, 0, 0.1)).toEqual({
      time: [0, 1, 2, 2, 3, 4, 4, 4.1, 5, 5, 5.1],
      angleDeg: [350, 355, NaN, 2, 8, NaN, 358, 358, NaN, 4, 4],
    });
    expect(phaseLine([0, 1, 2], [10, NaN, 30], 0, 0.1).angleDeg).toEqual([
      10,
      10,
      NaN,
      NaN,
      30,
      30,
    ]);
  });
});

describe("page of a replay", () => {
  it("[REPLAY-041] draws no line across the picture where a phase goes round", async () => {
    const lagDeg = (timeS: number): number => 8 * Math.sin((2 * Math.PI * timeS) / 5);
    const near = recorded("near.csv", { amplitude: () => 1, lagDeg });
    const { page, outcome } = await replayed(near);
    const lags = outcome.filters[0]!.trace.phaseLagDeg;
    expect(Math.max(...lags)).toBeGreaterThan(350);
    expect(Math.min(...lags)).toBeLessThan(10);
    expect(page).toContain("One turn is drawn, from −180 to 180");
    for (const points of subpaths(page, "found", 1)) expect(steepest(points)).toBeLessThan(45);
    // The phase of noise goes round anywhere.
    const noise = recorded("noise.csv", { amplitude: () => 0, lagDeg, noise: 1 });
    const paths = subpaths((await replayed(noise, { bandwidth: "8 Hz" })).page, "found", 1);
    expect(paths.length).toBeGreaterThan(3);
    // Half of the picture's 90 pixels is the way round.
    for (const points of paths) expect(steepest(points)).toBeLessThanOrEqual(45.1);
  });

  it("[REPLAY-042] leaves a gap where there was no level", async () => {
    const dropped = recorded("dropped.csv", {
      amplitude: () => 1,
      lagDeg: () => 90,
      isDropped: true,
    });
    const { page, outcome } = await replayed(dropped);
    const { time, level } = outcome.filters[0]!.trace;
    const gap = level.findIndex(Number.isNaN);
    expect(time[gap - 1]).toBeLessThan(10.5);
    expect(time[gap]).toBeGreaterThan(13);
    expect(level.filter(Number.isNaN).length).toBe(1);
    const [before, after, ...others] = subpaths(page, "found", 0);
    expect(others).toEqual([]);
    expect(after![0]![0] - before!.at(-1)![0]).toBeGreaterThan(100);
    expect(subpaths(page, "speed", 0).length).toBe(2);
  });

  it("[REPLAY-043] lists levels of each order against speed, with edges, counts, unit, detector", async () => {
    // As the square of the speed, as unbalance far below a resonance.
    const grown = recorded("grown.csv", {
      amplitude: (speed) => (speed / 40) ** 2,
      lagDeg: () => 10,
    });
    const { outcome, view, page } = await replayed(grown, {
      order: [1, 2],
      speedBin: "150 r/min",
    });
    expect(outcome.speedBins).toEqual({ width: 150, unit: "r/min" });
    const [first, second] = outcome.filters;
    expect(first).toMatchObject({ channel: "a1", order: 1, unit: "units pk" });
    const settled = first!.bySpeed.reduce((sum, bin) => sum + bin.count, 0);
    expect(settled).toBe(first!.settledCount);
    for (const { from, until, count, median } of first!.bySpeed) {
      expect(until - from).toBe(150);
      if (count < 20) continue;
      // The level follows later by as much as is told; within a bin it grows about straight.
      const middle = (from + until) / 120 - outcome.levelLag;
      expect(median / (middle / 40) ** 2).toBeCloseTo(1, 1);
      expect(Math.abs(median / (middle / 40) ** 2 - 1)).toBeLessThan(0.03);
    }
    for (const { greatest } of second!.bySpeed) expect(greatest).toBeLessThan(0.02);
    const table = view.tables[0]!;
    expect(table.caption).toBe("a1: levels against speed, units pk");
    expect(table.columns.map((column) => column.head)).toEqual([
      "From, r/min",
      "to under, r/min",
      "Steps",
      "order 1: median",
      "greatest",
      "order 2: median",
      "greatest",
    ]);
    expect(table.rows[3]!.slice(0, 3)).toEqual(["1575", "1725", "25"]);
    expect(table.note).toMatch(
      /^Bins of 150 r\/min about its multiples\. .* later, by 0\.\d+ s at/,
    );
    expect(page).toContain("a1: levels against speed, units pk");
    const told = replayLines(view, outcome, "out/x").join(" ").replaceAll(/\s+/g, " ");
    expect(told).toContain("levels against speed in bins of 150 r/min");
  });

  it("[REPLAY-044] names what an event is of, tells the shaft's once, and no exceedance where no level is", async () => {
    const many = recorded("many.csv", { amplitude: () => 1, lagDeg: () => 10, channels: 5 });
    const { outcome, view, page } = await replayed(many, { order: [1, 2] });
    expect(outcome.counters.length).toBe(2);
    const found = outcome.events.filter((event) => event.name === "reference-found");
    expect(found.map((event) => event.of)).toEqual(["shaft 1"]);
    const valid = outcome.events.filter((event) => event.name === "valid");
    expect(new Set(valid.map((event) => event.of)).size).toBe(10);
    expect(valid[0]!.of).toBe("a1 order 1");
    expect(view.tables.map((table) => table.caption).at(-1)).toBe("Events");
    expect(page).not.toContain("Exceedances");
    const told = replayLines(view, outcome, "out/x").join(" ");
    expect(told).toContain("events, no caution level is configured.");
  });
});
