// What 1 in a recording stands for, and which column a name means, where heads carry units.
// 1 in = 25.4 mm exactly (international inch, 1959); standard gravity 9.80665 m/s² (3rd CGPM, 1901).
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { replayRequest } from "../../../harness/cli/replay.ts";
import { headParts } from "../../../harness/cli/replay-unit.ts";
import type { ReplayOptions } from "../../../harness/cli/replay-wish.ts";
import { runReplay } from "../../../harness/run/replay-run.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline-replay-unit-"));
afterAll(() => rmSync(folder, { recursive: true }));

const RATE_HZ = 2000;
const SPEED = 20;
/** Peak of order 1 as the file has it. */
const PEAK = 0.5;

/** Eight seconds: a tone and a pulse once per revolution, for each of the heads but the last. */
function recording(name: string, ...heads: string[]): string {
  const rows = [["time (s)", ...heads].join(",")];
  for (let i = 0; i < 8 * RATE_HZ; i += 1) {
    const turns = (SPEED * i) / RATE_HZ + 0.3;
    const tone = (PEAK * Math.cos(2 * Math.PI * turns)).toFixed(7);
    const pulse = turns % 1 < 0.1 ? 5 : 0;
    rows.push([(i / RATE_HZ).toFixed(4), ...heads.slice(1).map(() => tone), pulse].join(","));
  }
  const path = join(folder, name);
  writeFileSync(path, `${rows.join("\n")}\n`);
  return path;
}

function profile(name: string, level: string, ...channels: [name: string, measures: string][]) {
  const shares = channels.map(
    ([channel, measures]) =>
      `  ${channel}: { measures: ${measures}, range: ${RANGE[measures as keyof typeof RANGE]} }\n`,
  );
  const path = join(folder, `${name}.monitor.yaml`);
  writeFileSync(
    path,
    `monitor: Bench
sample rate: 2 kHz
display period: 250 ms
channels:
${shares.join("")}shafts:
  rotor: { positions: 1, index: none, lowest speed: 600 r/min, highest speed: 3600 r/min }
filters:
  first: { order: 1, channel: ${channels[0]![0]}, bandwidth: 2 Hz, level: ${level} }
`,
  );
  return path;
}

const RANGE = { displacement: "100 m pk", velocity: "100 m/s pk", acceleration: "100 g pk" };
const OPTIONS: ReplayOptions = { speedSpan: "10 %", slope: "rising", tachometer: "tach" };

async function replayed(path: string, options: Partial<ReplayOptions>) {
  const request = await replayRequest(path, { ...OPTIONS, ...options });
  const outcome = await runReplay(request, new AbortController().signal);
  return { level: outcome.filters[0]!.trace.level.at(-1)!, notes: outcome.notes.join(" ") };
}

describe("heads with units", () => {
  const mil = recording("mil.csv", "prox (mil)", "tach (V)");

  it("[REPLAY-047] a column is called by its head with its unit or without", async () => {
    for (const tachometer of ["tach", "tach (V)", "2"]) {
      const request = await replayRequest(mil, { ...OPTIONS, tachometer, channel: ["prox"] });
      expect(request.columns).toEqual([0]);
    }
    const two = recording("two.csv", "prox (mil)", "prox (um)", "tach");
    await expect(replayRequest(two, { ...OPTIONS, channel: ["prox"] })).rejects.toThrow(
      'names channel "prox", which ',
    );
    expect(headParts("tach [V]")).toEqual({ name: "tach", unit: "V" });
    expect(headParts("x (top) (g)")).toEqual({ name: "x (top)", unit: "g" });
    for (const whole of ["(g)", "tach", "a (b) c", "a (b"]) {
      expect(headParts(whole)).toEqual({ name: whole, unit: "" });
    }
  });

  it("[REPLAY-048] the unit in the heads is taken, an option goes before it, and it is told", async () => {
    const inMil = profile("mil", "mil pk-pk", ["prox", "displacement"]);
    const heads = await replayed(mil, { profile: inMil });
    expect(heads.level).toBeCloseTo(2 * PEAK, 3);
    expect(heads.notes).toContain("1 in the file is taken as 1 mil, as its heads say.");
    // A thousand micrometres are 1000/25.4 mil.
    const option = await replayed(mil, { profile: inMil, fileUnit: "1 mm" });
    expect(option.level / ((2 * PEAK * 1000) / 25.4)).toBeCloseTo(1, 3);
    expect(option.notes).not.toContain("1 in the file");
    const gravity = recording("g.csv", "frame (g)", "tach");
    const inSi = profile("si", "m/s² pk", ["frame", "acceleration"]);
    expect((await replayed(gravity, { profile: inSi })).level).toBeCloseTo(PEAK * 9.80665, 2);
  });

  it("[REPLAY-063] without a profile levels are told in the heads' units, or in the one stated", async () => {
    const unitsOf = async (path: string, options: Partial<ReplayOptions> = {}) => {
      const request = await replayRequest(path, { ...OPTIONS, bandwidth: "2 Hz", ...options });
      const { filters, notes } = await runReplay(request, new AbortController().signal);
      const levels = filters.map((one) => Number(one.trace.level.at(-1)!.toFixed(3)));
      return { units: filters.map(({ unit }) => unit), levels, notes: notes.join(" ") };
    };
    const heads = await unitsOf(mil);
    expect([heads.units, heads.levels]).toEqual([["mil pk"], [PEAK]]);
    expect(heads.notes).toContain("1 in the file is taken as 1 mil, as its heads say.");
    const two = recording("two units.csv", "frame (g)", "prox [mil]", "aux (left)", "tach (V)");
    const found = await unitsOf(two);
    expect(found.units).toEqual(["g pk", "mil pk", "units pk"]);
    expect(found.levels).toEqual([PEAK, PEAK, PEAK]);
    // Nothing is turned into another unit: 20 g at 1 are ten at a half.
    const bare = recording("plain.csv", "a", "tach");
    expect(await unitsOf(bare, { fileUnit: "20 g" })).toMatchObject({
      units: ["g pk"],
      levels: [20 * PEAK],
    });
    expect(await unitsOf(bare)).toMatchObject({ units: ["units pk"], levels: [PEAK] });
    await expect(unitsOf(bare, { fileUnit: "3 turns" })).rejects.toThrow(
      "--file-unit has an unknown unit",
    );
  });

  it("[REPLAY-048] without a unit SI is taken, and told", async () => {
    const bare = recording("bare.csv", "prox", "tach");
    const { level, notes } = await replayed(bare, {
      profile: profile("m", "m pk", ["prox", "displacement"]),
    });
    expect(level).toBeCloseTo(PEAK, 3);
    expect(notes).toContain("1 in the file is taken as 1 m: --file-unit may state another unit.");
  });

  it("[REPLAY-049] units that differ, or are of another quantity, are refused", async () => {
    const wrong = { profile: profile("v", "m/s pk", ["prox", "velocity"]) };
    await expect(replayed(mil, wrong)).rejects.toThrow(
      'the unit in the columns\' heads, "mil" is no velocity, which channel "prox" measures',
    );
    const both = profile("both", "m/s² pk", ["frame", "acceleration"], ["case", "velocity"]);
    const differ = recording("differ.csv", "frame (g)", "case (m/s)", "tach");
    await expect(replayed(differ, { profile: both })).rejects.toThrow("say different units");
    // Each has the SI unit of its own channel.
    const si = recording("si.csv", "frame (m/s²)", "case (m/s)", "tach");
    expect((await replayed(si, { profile: both })).level).toBeCloseTo(PEAK, 3);
    const swapped = recording("swapped.csv", "frame (m/s)", "case (m/s²)", "tach");
    await expect(replayed(swapped, { profile: both })).rejects.toThrow("say different units");
  });
});
