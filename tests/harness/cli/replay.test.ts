import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { CallError } from "../../../harness/cli/command-errors.ts";
import { replayRequest } from "../../../harness/cli/replay.ts";
import { replayLevels } from "../../../harness/cli/replay-levels.ts";
import { replayLines, replayView } from "../../../harness/cli/replay-words.ts";
import type { ReplayOptions } from "../../../harness/cli/replay-wish.ts";
import { runReplay } from "../../../harness/run/replay-run.ts";
import { replayPage } from "../../../harness/report/replay-page.ts";
import { CAUTION_SENTENCE } from "../../../host/caution-sentence.ts";
import { InputError } from "../../../host/input-error.ts";
import { ROOT } from "../../repo/source-files.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline-replay-"));
afterAll(() => rmSync(folder, { recursive: true }));

const RATE_HZ = 2000;
const SPEED = 20;
const AMPLITUDE = 3;
const LAG_DEG = 50;

function written(name: string, content: string): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

/** Ten seconds of a tone at shaft speed, a pulse a revolution at whole angles, and a second tone. */
function recorded(name: string, withTime = true): string {
  const rows = [withTime ? "time,a,b,tach" : "a,b,tach"];
  for (let i = 0; i < 10 * RATE_HZ; i += 1) {
    const angle = (SPEED * i) / RATE_HZ + 0.3;
    const a = AMPLITUDE * Math.cos(2 * Math.PI * angle - (LAG_DEG * Math.PI) / 180);
    const b = 2 * Math.cos(4 * Math.PI * angle);
    // A pulse whose flank is straight: it crosses 0 upwards where the angle is whole.
    const phase = ((angle + 0.5) % 1) - 0.5;
    const tach = Math.max(-1, Math.min(1, phase * 20)) * (phase > 0.25 ? -1 : 1);
    const cells = [a.toFixed(6), b.toFixed(6), tach.toFixed(6)];
    rows.push([...(withTime ? [(i / RATE_HZ).toFixed(4)] : []), ...cells].join(","));
  }
  return written(name, `${rows.join("\n")}\n`);
}

const OPTIONS: ReplayOptions = {
  speedSpan: "10 %",
  slope: "rising",
  bandwidth: "1 Hz",
};

async function replayed(path: string, options: Partial<ReplayOptions>) {
  const request = await replayRequest(path, { ...OPTIONS, ...options });
  return { request, outcome: await runReplay(request, new AbortController().signal) };
}

describe("replay of a recording", () => {
  const path = recorded("made.csv");

  it("[REPLAY-001] reads level and phase from a tachometer channel", async () => {
    const { outcome } = await replayed(path, { tachometer: "tach" });
    expect(outcome.filters.map((filter) => filter.name)).toEqual(["a order 1", "b order 1"]);
    // The flank is sampled a hundred times a revolution and is straight: rounding to 1e-6 remains.
    expect(outcome.filters[0]!.median).toBeCloseTo(AMPLITUDE, 3);
    expect(outcome.filters[1]!.median).toBeCloseTo(0, 3);
    expect(outcome.isPhaseRelative).toBe(false);
    expect(outcome.notes[0]).toMatch(/^channel "tach", rising through \S+, hysteresis 0\.\d+: /);
    expect(outcome.filters[0]!.trace.phaseLagDeg.at(-1)).toBeCloseTo(LAG_DEG, 1);
  });

  it("[REPLAY-002] reads the same level from edge times, a constant, a table and a search", async () => {
    const edges = Array.from({ length: 199 }, (_, m) => ((m + 0.7) / SPEED).toFixed(9));
    const edgeFile = written("edges.csv", edges.join("\n"));
    const tableFile = written("speed.csv", "0,1200\n5,1200\n10,1200\n");
    for (const options of [
      { edges: edgeFile },
      { speed: "1200 r/min" },
      { speed: tableFile },
      { speedNear: "19.5 Hz" },
    ]) {
      const { outcome } = await replayed(path, { ...options, order: [1, 2], channel: ["a", "b"] });
      const levels = outcome.filters.map((filter) => filter.median);
      expect(levels[0], JSON.stringify(options)).toBeCloseTo(AMPLITUDE, 2);
      expect(levels[3], JSON.stringify(options)).toBeCloseTo(2, 2);
      expect(Math.max(levels[1]!, levels[2]!)).toBeLessThan(0.01);
    }
  });

  it("[REPLAY-012] reads the units in the heads of edge and speed tables", async () => {
    const milliseconds = Array.from({ length: 199 }, (_, m) =>
      (((m + 0.7) * 1000) / SPEED).toFixed(6),
    );
    const edges = written("edges-ms.csv", `edge [ms]\n${milliseconds.join("\n")}`);
    const speed = written("speed-min.csv", "time [min],speed [rev/s]\n0,20\n1,20\n");
    const samples = written(
      "speed-samples.csv",
      "time [samples],speed [rev/sample]\n0,0.01\n9,0.01\n",
    );
    for (const options of [{ edges }, { speed }, { speed: samples }]) {
      const { outcome } = await replayed(path, { ...options, channel: ["a"] });
      expect(outcome.filters[0]!.median, JSON.stringify(options)).toBeCloseTo(AMPLITUDE, 2);
    }
    const days = written("edges-days.csv", "edge [days]\n1\n2\n3\n");
    await expect(replayed(path, { edges: days })).rejects.toThrow(
      'edges-days.csv:1:1: unit "days" is not known here',
    );
  });

  it("[REPLAY-013] starts a speed table at the stretch", async () => {
    const table = written("ramp-past.csv", "0,600\n3,1200\n10,1200\n");
    const { outcome } = await replayed(path, { speed: table, from: "4 s", channel: ["a"] });
    expect(outcome.filters[0]!.median).toBeCloseTo(AMPLITUDE, 2);
    expect(outcome.counters[0]!.edgesIrregular[0]).toBe(0);
  });

  it("[REPLAY-003] says how sure a found speed is and that phase means nothing", async () => {
    const { outcome } = await replayed(path, { speedNear: "19.5 Hz", channel: ["a"] });
    expect(outcome.isPhaseRelative).toBe(true);
    expect(outcome.notes[0]).toMatch(
      /found from the signal: 20\.0000 rev\/s .* within .* % \(95 %\)/,
    );
    expect(outcome.notes.join(" ")).toContain("phase means nothing");
  });

  it("[REPLAY-004] counts samples where nobody knows the rate", async () => {
    const bare = recorded("bare.csv", false);
    const { request, outcome } = await replayed(bare, {
      speed: "0.01 rev/sample",
      channel: ["a"],
      bandwidth: "2 %",
      from: "2000 samples",
      until: "18000 samples",
    });
    expect(request.timeUnit).toBe("sample");
    expect(outcome.sampleCount).toBe(16_000);
    expect(outcome.filters[0]!.median).toBeCloseTo(AMPLITUDE, 2);
  });

  it("[REPLAY-005] takes more filters than one pass holds in several", async () => {
    const { outcome } = await replayed(path, { speed: "20 rev/s", order: [1, 2, 3, 4, 5] });
    expect(outcome.filters.length).toBe(15);
    expect(outcome.filters[0]!.median).toBeCloseTo(AMPLITUDE, 2);
    expect(outcome.filters[6]!.median).toBeCloseTo(2, 2);
  });

  const WRONG: [title: string, options: Partial<ReplayOptions>, complaint: string][] = [
    ["no speed", {}, "nothing says how fast the shaft turns"],
    ["two speeds", { speed: "1 rev/s", tachometer: "tach" }, "several options say"],
    ["a channel it lacks", { speed: "20 rev/s", channel: ["c"] }, 'names channel "c", which'],
    ["a tachometer it lacks", { tachometer: "t" }, 'it has 1 "a", 2 "b", 3 "tach"'],
    ["a speed without unit", { speed: "1200" }, "needs a unit"],
    ["a rate against the file", { speed: "20 rev/s", rate: "1 kHz" }, "--rate says 1000 Hz"],
    ["a bandwidth of zero", { speed: "20 rev/s", bandwidth: "0 Hz" }, "must be over 0"],
    ["a stretch backwards", { speed: "20 rev/s", from: "5 s", until: "4 s" }, "must come after"],
    ["a unit that is none", { speed: "20 rev/s", fileUnit: "r/min" }, "--file-unit must be in"],
  ];
  it.each(WRONG)("[REPLAY-006] refuses %s in a plain sentence", async (_, options, complaint) => {
    const error = await replayed(path, options).catch((thrown: unknown) => thrown);
    expect(error).toBeInstanceOf(CallError);
    expect((error as Error).message).toContain(complaint);
  });

  it("[REPLAY-007] says where a table of speeds or edges is wrong", async () => {
    const edges = written("bad-edges.csv", "0.1\n0.2\n0.15\n");
    const table = written("bad-speed.csv", "0,1200\n0,1300\n");
    const resting = written("resting.csv", "a\n1\n1\n1\n1\n1\n");
    for (const [options, file, complaint] of [
      [{ edges }, path, "bad-edges.csv:3:1: this edge does not come after the edge before"],
      [{ speed: table }, path, "bad-speed.csv:2:1: this time does not come after the time before"],
      [
        { tachometer: "a", channel: ["a"] as string[], rate: "10 Hz" },
        resting,
        "the tachometer channel does not move",
      ],
    ] as const) {
      const error = await replayed(file, options).catch((thrown: unknown) => thrown);
      expect(error).toBeInstanceOf(InputError);
      expect((error as Error).message).toContain(complaint);
    }
  });

  it("[REPLAY-008] page and terminal say that nothing is judged, and end with the caution", async () => {
    const made = await replayed(path, { tachometer: "tach", channel: ["a"] });
    const request = { ...made.request, timingWords: "2000 Hz" };
    const view = replayView("<b>made.csv", request, made.outcome, "npx amberline replay x");
    const page = replayPage(view);
    expect(page).toContain("nothing is judged");
    expect(page).toContain("&lt;b&gt;made.csv");
    expect(page).not.toContain("<b>made");
    expect(page).toContain("default-src 'none'");
    expect(page).toContain(CAUTION_SENTENCE);
    expect(page).not.toMatch(/NaN|undefined/);
    const [filter] = made.outcome.filters;
    const small = { ...filter!, median: 1.5294e-7, secondHalfMedian: 1.2294e-7 };
    const outcome = { ...made.outcome, filters: [small] };
    expect(replayLines(view, outcome, "out/x").join("\n")).toContain(" 1.53 × 10⁻⁷ 1.23 × 10⁻⁷ ");
    const lines = replayLines(view, made.outcome, "out/x");
    expect(lines.filter((line) => line.length > 80)).toEqual([]);
    expect(lines.join(" ")).toContain("An engineering and teaching model");
  });
});

describe("replay of recorded levels", () => {
  const profile = join(ROOT, "harness", "demo", "survey-twin-fan.monitor.yaml");
  const rows = Array.from({ length: 400 }, (_, i) => {
    const level = i >= 100 && i < 250 ? 6 : 2;
    const speed = i < 240 ? 5400 : 4000;
    return `${i * 0.5},${level},${speed},${i < 240 ? 31_000 : 28_000}`;
  });
  const table = written(
    "levels.csv",
    `time [s],level,speed [r/min],altitude [ft]\n${rows.join("\n")}\n`,
  );

  it("[REPLAY-020] lists each caution with onset, end, peak and what changed before it cleared", () => {
    const { review, page, lines } = replayLevels(table, { profile }, "out/x", "again");
    expect(review.cautions.length).toBe(1);
    const [caution] = review.cautions;
    // On at row 100 and three seconds later; off at row 250 and five seconds later.
    expect(caution!.onsetS).toBe(50 + review.onDelayS);
    expect(caution!.endS).toBe(125 + review.offDelayS);
    expect(caution!.peakLevel).toBe(6);
    expect(caution!.peakSpeedRpm).toBe(5400);
    expect(caution!.peakAltitude).toBe(31_000);
    expect(caution!.changes.map((change) => [change.what, change.from, change.to])).toEqual([
      ["level", 6, 2],
      ["speed", 5400, 4000],
      ["altitude", 31_000, 28_000],
    ]);
    expect(lines.join(" ")).toContain("no evidence that nothing is broken");
    expect(lines.filter((line) => line.length > 80)).toEqual([]);
    expect(page).toContain("altitude 31000 to 28000 ft");
  });

  it("[REPLAY-024] tells a cut and a return in the minute before a caution cleared", () => {
    // Both ends of the minute have the same speed: only what lies between differs.
    const flight = Array.from({ length: 300 }, (_, i) => {
      const isCut = i >= 150 && i < 170;
      return `${1000 + i},${i >= 20 && i < 150 ? 6 : 2},${isCut ? 1800 : 5400}`;
    });
    const path = written("cut.csv", `time,level,speed\n${flight.join("\n")}\n`);
    const { review, page, lines } = replayLevels(path, { profile }, "out/x", "again");
    const speed = review.cautions[0]!.changes.find((change) => change.what === "speed");
    expect(speed).toMatchObject({ from: 5400, to: 1800, least: 1800, greatest: 5400 });
    const late = flight.map((row, i) => (i >= 152 ? row.replace(/,1800$/, ",5400") : row));
    const back = written("cut-back.csv", `time,level,speed\n${late.join("\n")}\n`);
    const returned = replayLevels(back, { profile }, "out/x", "again");
    expect(returned.lines.join(" ").replaceAll(/\s+/g, " ")).toContain(
      "speed 5400 to 5400 r/min, down to 1800",
    );
    expect(returned.lines.join(" ")).toContain("no evidence that nothing is broken");
    // Table and picture count time alike.
    expect(lines.join(" ")).toContain(`caution 1: ${1020 + review.onDelayS} s`);
    expect(page).toContain(">1050</text>");
  });

  it("[REPLAY-025] finds the peak within the on-delay, too", () => {
    const spike = Array.from({ length: 100 }, (_, i) => `${i},${i === 20 ? 9 : i > 20 ? 6 : 2}`);
    const path = written("spike.csv", `time,level\n${spike.join("\n")}\n`);
    const [caution] = replayLevels(path, { profile }, "out/x", "again").review.cautions;
    expect(caution).toMatchObject({ onsetS: 23, peakS: 20, peakLevel: 9, timeAboveS: 80 });
  });

  it.each([
    [0.25, 1, 1, 2],
    [1, 1, 3, 5],
    [4, 1, 12, 20],
    [8, 1, 24, 40],
    [8, 8, 24, 40],
  ])(
    "[REPLAY-026] takes levels at %f Hz, held for %i rows: on after %i rows, off after %i",
    (rateHz, held, onRows, offRows) => {
      // Delays of 3 s and 5 s in whole rows, rounded up; 4.6 is the end setting and not below it.
      const levels = [2, 5, 4.9, 5, 5, 5, 5, 4.6, 4.6, 4.5, 4.5, 4.5, 2, 3, 2, 3];
      const seconds = Math.max(4, 1 / rateHz);
      const told: string[] = [];
      for (let i = 0; i < levels.length * seconds * rateHz; i += 1) {
        const at = Math.floor(i / held) * held;
        const jitter = held > 1 ? (Math.floor(i / held) % 2) * 0.01 : 0;
        told.push(`${i / rateHz},${levels[Math.floor(at / (seconds * rateHz))]! + jitter}`);
      }
      const path = written("rate.csv", `time,level\n${told.join("\n")}\n`);
      const { review } = replayLevels(path, { profile }, "out/x", "again");
      // From 5 for good at the fourth level; below 4.6 for good at the tenth; 4 s of level 5 before
      // are long enough for the on-delay where it is under 4 s.
      const first = (at: number): number => at * seconds;
      const on = review.onDelayS < seconds ? first(1) : first(3);
      const cautions = review.cautions.map((one) => [one.onsetS, one.endS]);
      expect(cautions).toEqual([[on + onRows / rateHz, first(9) + offRows / rateHz]]);
      expect(review.notes.join(" ").includes("Each level stands for 8 rows")).toBe(held === 8);
    },
  );

  it("[REPLAY-021] knows held samples as such", () => {
    const held = Array.from({ length: 400 }, (_, i) => `${i * 0.25},${Math.floor(i / 4) % 7}`);
    const path = written("held.csv", `time,level\n${held.join("\n")}\n`);
    const { review } = replayLevels(path, { profile }, "out/x", "again");
    expect(review.notes.join(" ")).toContain("Each level stands for 4 rows");
  });

  it.each([
    ["no level column", "time,speed\n0,1\n1,2\n", 'needs a column "level"'],
    ["uneven time", "time,level\n0,1\n1,1\n3,1\n", "even steps"],
    ["a negative level", "time,level\n0,1\n1,-1\n", "levels-bad.csv:3:2: a level may not be"],
    [
      "a level that is no display unit",
      "time,level [in/s pk]\n0,1\n1,1\n",
      'levels-bad.csv:1:2: unit "in/s pk" is not known here; units, display units are',
    ],
    ["an unknown unit", "time [days],level\n0,1\n1,1\n", 'unit "days" is not known'],
    ["text in a number", "time,level\n0,1\n1,x\n", 'levels-bad.csv:3:2: "x" is not a number'],
    ["one row", "time,level\n0,1\n", "two rows at least"],
  ])("[REPLAY-022] refuses %s with its place", (_, text, complaint) => {
    const path = written("levels-bad.csv", text);
    expect(() => replayLevels(path, { profile }, "out/x", "again")).toThrow(complaint);
  });

  it("[REPLAY-023] needs a profile, and a filter that has a caution", () => {
    expect(() => replayLevels(table, {}, "out/x", "again")).toThrow(CallError);
    expect(() => replayLevels(table, { profile, filter: "none" }, "out/x", "again")).toThrow(
      "is none of the profile's",
    );
  });
});
