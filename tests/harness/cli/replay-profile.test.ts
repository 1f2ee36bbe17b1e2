// A recording replayed through a monitor profile of the user's own: its wheel, number and caution.
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { WaveFile } from "wavefile";
import { afterAll, describe, expect, it } from "vitest";
import { replayRequest } from "../../../harness/cli/replay.ts";
import type { ReplayOptions } from "../../../harness/cli/replay-wish.ts";
import { replayView } from "../../../harness/cli/replay-words.ts";
import { replayPage } from "../../../harness/report/replay-page.ts";
import { runReplay } from "../../../harness/run/replay-run.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline-replay-profile-"));
afterAll(() => rmSync(folder, { recursive: true }));

const RATE_HZ = 4000;
const SPEED = 20;
const POSITIONS = 12;
const LAG_DEG = 130;
const SECONDS = 20;
/** Angle at sample 0: the recording starts anywhere in a revolution. */
const ANGLE_START = 0.37;

function written(name: string, content: string): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

const angleAt = (timeS: number): number => SPEED * timeS + ANGLE_START;
/** m/s² pk: over the caution level of 5 from 6 s to 12 s. */
const amplitudeAt = (timeS: number): number => (timeS >= 6 && timeS < 12 ? 8 : 2);

/** Teeth with straight flanks of half a pitch; the tooth at position P − 1 is missing. */
function tachometerAt(angle: number): number {
  const pitches = angle * POSITIONS;
  const position = Math.round(pitches) % POSITIONS;
  const beside = pitches - Math.round(pitches);
  if (position === POSITIONS - 1) return -1;
  return beside >= -0.25 && beside <= 0.25 ? 4 * beside : -1;
}

function recording(): string {
  const rows = ["time,frame,tach"];
  for (let i = 0; i < SECONDS * RATE_HZ; i += 1) {
    const angle = angleAt(i / RATE_HZ);
    const turn = 2 * Math.PI * angle - (LAG_DEG * Math.PI) / 180;
    const value = amplitudeAt(i / RATE_HZ) * Math.cos(turn);
    rows.push(`${(i / RATE_HZ).toFixed(5)},${value.toFixed(6)},${tachometerAt(angle).toFixed(6)}`);
  }
  return written("wheel.csv", `${rows.join("\n")}\n`);
}

/** Times of the teeth as a list, with one missing a revolution unless told otherwise. */
function edgeList(name: string, isMissing: (position: number) => boolean): string {
  const times: string[] = [];
  for (
    let edge = Math.ceil(ANGLE_START * POSITIONS);
    edge < SECONDS * SPEED * POSITIONS;
    edge += 1
  ) {
    if (isMissing(edge % POSITIONS)) continue;
    times.push(((edge / POSITIONS - ANGLE_START) / SPEED).toFixed(9));
  }
  return written(name, `${times.join("\n")}\n`);
}

function profileOf(name: string, shaft: string): string {
  return written(
    `${name}.monitor.yaml`,
    `monitor: Bench
sample rate: 4 kHz
edge clock: 80 MHz
display period: 250 ms
channels:
  frame:
    transducer: charge
    measures: acceleration
    range: 900 m/s² pk
shafts:
  fan:
${shaft}
    lowest speed: 300 r/min
    highest speed: 7200 r/min
    greatest acceleration: 10 rev/s²
    time-out: 300 ms
    valid from: 360 r/min
filters:
  fan:
    bandwidth: 2 Hz
    level: m/s² pk
    display:
      step: 0.1
      top: 20
    caution:
      level: 5.0
      hysteresis: 0.5
      on-delay: 500 ms
      off-delay: 500 ms
`,
  );
}

const MISSING_TOOTH = profileOf("missing", "    positions: 12\n    index: missing tooth");
const OPTIONS: ReplayOptions = { speedSpan: "10 %", slope: "rising" };

async function replayed(path: string, options: Partial<ReplayOptions>) {
  const request = await replayRequest(path, { ...OPTIONS, ...options });
  return { request, outcome: await runReplay(request, new AbortController().signal) };
}

describe("replay with a profile", () => {
  const path = recording();

  it("[REPLAY-009] takes the profile's wheel for measured edges: phase counts from its index", async () => {
    const edges = edgeList("teeth.csv", (position) => position === POSITIONS - 1);
    for (const from of [{ tachometer: "tach", threshold: 0, hysteresis: 0.5 }, { edges }]) {
      const { outcome } = await replayed(path, { ...from, profile: MISSING_TOOTH });
      const [fan] = outcome.filters;
      expect(outcome.counters[0]!.edgesMissed[0]).toBe(0);
      expect(outcome.isPhaseRelative).toBe(false);
      expect(outcome.notes.join(" ")).toContain("Phase counts from the profile's index");
      // Samples and flanks are written to 1e-6: 3e-4 of a sample in the time of an edge, or 5e-4°.
      expect(fan!.trace.phaseLagDeg.at(-1)).toBeCloseTo(LAG_DEG, 1);
      expect(fan!.trace.level.at(-1)).toBeCloseTo(2, 3);
    }
  });

  it("[REPLAY-010] takes the profile's geared wheel as it stands, unless --positions says otherwise", async () => {
    // Twelve edges every two revolutions of the shaft: each second tooth of the same list.
    const edges = edgeList("geared.csv", (position) => position % 2 === 1);
    const geared = profileOf("geared", "    positions: 12\n    per revolutions: 2");
    const taken = await replayed(path, { edges, profile: geared });
    expect(taken.outcome.isPhaseRelative).toBe(true);
    expect(taken.outcome.filters[0]!.trace.speed.at(-1)).toBeCloseTo(SPEED, 4);
    expect(taken.outcome.filters[0]!.trace.level.at(-1)).toBeCloseTo(2, 3);
    const stated = await replayed(path, { edges, profile: MISSING_TOOTH, positions: 6 });
    expect(stated.request.speed.wheel).toEqual({ positions: 6, revolutions: 1, index: "none" });
    expect(stated.outcome.filters[0]!.trace.level.at(-1)).toBeCloseTo(2, 3);
  });

  it("[REPLAY-011] makes room for made edges where the profile's wheel has finer knots", async () => {
    // 52 positions have a knot every fourth, 13 a revolution; made edges have 12.
    const finest = profileOf("finest", "    positions: 52");
    const text = readFileSync(finest, "utf8").replace("time-out: 300 ms", "time-out: 38.5 ms");
    const profile = written("finest.monitor.yaml", text);
    const { outcome } = await replayed(path, { speed: "1200 r/min", profile });
    expect(outcome.filters[0]!.trace.level.at(-1)).toBeCloseTo(2, 3);
    expect(outcome.isPhaseRelative).toBe(true);
  });

  it("[REPLAY-017] says where whole numbers have no unit, and asks one unit of all channels", async () => {
    const wav = new WaveFile();
    const tone = Array.from({ length: RATE_HZ }, (_, i) =>
      Math.round(8192 * Math.cos(2 * Math.PI * angleAt(i / RATE_HZ))),
    );
    wav.fromScratch(1, RATE_HZ, "16", [tone]);
    const file = join(folder, "whole.wav");
    writeFileSync(file, wav.toBuffer());
    const text = readFileSync(MISSING_TOOTH, "utf8").replaceAll("frame", "channel 1");
    const profile = written("wav.monitor.yaml", text);
    const bare = await replayed(file, { speed: "1200 r/min", profile });
    expect(bare.outcome.notes.join(" ")).toContain("full scale is taken as 1 SI unit");
    const stated = await replayed(file, { speed: "1200 r/min", profile, fileUnit: "20 m/s²" });
    expect(stated.outcome.notes.join(" ")).not.toContain("SI unit");
    // A quarter of full scale, 20 m/s².
    expect(stated.outcome.filters[0]!.trace.level.at(-1)).toBeCloseTo(5, 2);
    await expect(replayed(file, { speed: "20 rev/s", profile, fileUnit: "mm/s" })).rejects.toThrow(
      'is no acceleration, which channel "channel 1" measures',
    );
  });

  it.each([{ order: [2] }, { bandwidth: "1 Hz" }, { channel: ["frame"] }])(
    "[REPLAY-016] refuses what the profile says already: %o",
    async (options) => {
      const call = { tachometer: "tach", profile: MISSING_TOOTH, ...options };
      await expect(replayed(path, call)).rejects.toThrow(
        `--${Object.keys(options)[0]} goes without --profile`,
      );
    },
  );

  it("[REPLAY-014] draws number, amber region and caution, and lists events and exceedances", async () => {
    const { request, outcome } = await replayed(path, {
      tachometer: "tach",
      profile: MISSING_TOOTH,
      from: "2 s",
    });
    // Half of 2 Hz a side: tau = sqrt(sqrt 2 - 1) / (2 pi) s. A step to 8 from 2 passes 5 where
    // (1 + x) e^-x = 1/2, at x = 1.678 tau = 0.172 s after 6 s, with up to three revolutions of
    // 0.05 s for the triangle; then the display period of 0.25 s and, for the caution, its delay.
    expect(outcome.exceedances.length).toBe(1);
    const [one] = outcome.exceedances;
    expect(one!.onset).toBeGreaterThanOrEqual(6.17);
    expect(one!.onset).toBeLessThanOrEqual(6.17 + 0.15 + 0.25);
    expect(one!.peakShown).toBe(8);
    const on = outcome.events.find((event) => event.name === "caution-on");
    expect(on!.time).toBeCloseTo(one!.onset + 0.5, 9);
    expect(outcome.events.filter((event) => event.name === "caution-off").length).toBe(1);
    expect(outcome.notes.join(" ")).not.toContain("has no end");
    const view = replayView(path, { ...request, timingWords: "4000 Hz" }, outcome, "again");
    expect([view.timeStart, view.timeEnd]).toEqual([2, SECONDS]);
    const page = replayPage(view);
    expect(page).toContain("Number shown, display units");
    // Once on either sheet.
    expect(page.match(/class="amber-region"/g)?.length).toBe(2);
    expect(page).toContain("caution level and above");
    expect(page).toMatch(/<desc>Caution: off [^<]*timing on [^<]*on [^<]*timing off [^<]*off/);
    expect(page).not.toMatch(/NaN|undefined/);
  });

  it("[REPLAY-015] says where a stretch ends within an exceedance", async () => {
    const cut = { tachometer: "tach", profile: MISSING_TOOTH, until: "9 s" };
    const { outcome } = await replayed(path, cut);
    expect(outcome.exceedances).toEqual([]);
    expect(outcome.notes.join(" ")).toContain('the number of "fan" stands at its caution level');
  });
});
