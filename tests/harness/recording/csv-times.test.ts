// The time column of a CSV: what its digits say of the sample rate, and where it is not even.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { BandLine } from "../../../harness/recording/band-line.ts";
import { openCsv } from "../../../harness/recording/csv-reader.ts";
import { sampleRateWords } from "../../../harness/recording/sample-rate-words.ts";
import { lastDigit, WrittenStep } from "../../../harness/recording/written-step.ts";
import { randomStream, uniformOf } from "../../../harness/random/stream.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline-times-"));
afterAll(() => rmSync(folder, { recursive: true }));

const COUNT = 20_000;

/** A recording whose times are as given; `a` counts its rows. */
async function opened(times: string[], head = "time,a") {
  const rows = times.map((time, i) => `${time},${i}`);
  const path = join(folder, "times.csv");
  writeFileSync(path, `${head}\n${rows.join("\n")}\n`);
  const recording = await openCsv(path);
  let count = 0;
  for await (const run of recording.runs()) count += run[0]!.length;
  return { recording, count, fault: recording.fault?.message ?? "" };
}

const timesOf = (text: (i: number) => string, count = COUNT): string[] =>
  Array.from({ length: count }, (_, i) => text(i));

describe("sample rate from a time column", () => {
  /** How times are written: rate, text of a time, and the last digit at the end in seconds. */
  const WRITERS: [name: string, rateHz: number, text: (t: number) => string, lastS: number][] = [
    ["4 decimals", 12_800, (t) => t.toFixed(4), 1e-4],
    ["3 decimals", 12_800, (t) => t.toFixed(3), 1e-3],
    ["3 decimals, cut", 12_800, (t) => (Math.floor(t * 1e3) / 1e3).toFixed(3), 1e-3],
    ["2 decimals, a hundred rows alike", 12_800, (t) => t.toFixed(2), 1e-2],
    ["6 digits", 2100, (t) => String(Number(t.toPrecision(6))), 1e-5],
    ["6 digits from an offset", 2000, (t) => String(Number((t + 995).toPrecision(6))), 1e-2],
    ["exponents", 44_100, (t) => t.toExponential(5), 1e-6],
    ["24-bit floats in full", 10_000, (t) => String(Math.fround(t)), 2 ** -23],
    ["24-bit floats in 9 digits", 10_000, (t) => Math.fround(t).toPrecision(9), 2 ** -23],
    ["all digits", 44_100, String, 2 ** -52],
    ["a jitter of the clock", 1000, (t) => (t + 4e-6 * Math.sin(t * t * 1e6)).toFixed(9), 8e-6],
  ];
  it.each(WRITERS)(
    "[REC-030] %s: of all rows, true within the stated uncertainty, which the digits bound",
    async (_, rateHz, text, lastS) => {
      const { recording, count, fault } = await opened(timesOf((i) => text(i / rateHz)));
      expect([count, fault]).toEqual([COUNT, ""]);
      const uncertaintyHz = recording.sampleRateUncertaintyHz!;
      expect(Math.abs(recording.sampleRateHz! - rateHz)).toBeLessThanOrEqual(
        uncertaintyHz + 1e-12 * rateHz,
      );
      // Either end is off by half a last digit at most, whether rounded or cut, and by the jitter.
      const lengthS = (COUNT - 1) / rateHz;
      expect(uncertaintyHz).toBeLessThanOrEqual((rateHz * lastS * 1.02) / (lengthS - lastS));
    },
  );

  it("[REC-031] one and all: a column in quotes, further right, in ms, over several reads", async () => {
    const rows = timesOf((i) => `"${i},5","${(i * 0.078125).toFixed(1)}",7,12345678`, 60_000);
    const path = join(folder, "quotes.csv");
    writeFileSync(path, `"a, b","t [ms]",c,d\n\n${rows.join("\n")}\n`);
    const { sampleRateHz, sampleRateUncertaintyHz, channelNames } = await openCsv(path);
    expect(channelNames).toEqual(["a, b", "c", "d"]);
    expect(Math.abs(sampleRateHz! - 12_800)).toBeLessThanOrEqual(sampleRateUncertaintyHz!);
    expect(sampleRateUncertaintyHz).toBeLessThan(0.3);
  });

  const GAP = 5000;
  const UNEVEN: [name: string, text: (i: number) => string, told: string][] = [
    ["a gap of one row", (i) => ((i + +(i >= GAP)) / 12_800).toFixed(6), "steps by 1.997"],
    ["a gap that few digits show", (i) => ((i + 50 * +(i >= GAP)) / 12_800).toFixed(3), "steps by"],
    ["a row twice", (i) => ((i - +(i >= GAP)) / 12_800).toFixed(6), "steps by 0.000 sample"],
    ["a step back", (i) => ((i - 100 * +(i >= GAP)) / 12_800).toFixed(5), "goes back by 0.0077"],
    ["a single odd time", (i) => ((i + 0.1 * +(i === GAP)) / 12_800).toFixed(7), "steps by 1.1"],
  ];
  it.each(UNEVEN)(
    "[REC-032] %s is told with its row, and ends the samples",
    async (_, text, told) => {
      const { recording, count, fault } = await opened(timesOf(text));
      expect(fault).toContain(`times.csv:${GAP + 2}:1: time ${told}`);
      expect(count).toBe(GAP);
      // What stands before it has a rate of its own.
      const offHz = Math.abs(recording.sampleRateHz! - 12_800);
      expect(offHz).toBeLessThanOrEqual(recording.sampleRateUncertaintyHz!);
    },
  );

  it("[REC-032] an odd first step is told as such; times that never move are no rate", async () => {
    await expect(opened(timesOf((i) => String(i === 0 ? 0 : i + 4)))).rejects.toThrow(
      ":3:1: time steps by 5.000 sample periods",
    );
    await expect(opened(timesOf(() => "0.0"))).rejects.toThrow(":3:1: time does not ascend: 20000");
    await expect(opened(timesOf((i) => String(-i)))).rejects.toThrow(":3:1: time does not ascend");
  });

  it("[REC-033] a clock that drifts is no gap: the mean rate is taken, and the drift told", async () => {
    // The period grows by 1e-5 of itself from start to end.
    const times = timesOf((i) => ((i + (1e-5 * i * i) / (2 * COUNT)) / 10_000).toFixed(9));
    const { recording, count, fault } = await opened(times);
    expect([count, fault]).toEqual([COUNT, ""]);
    // At the ends the rate is 5e-6 off the mean; only a stretch of some length shows it.
    const told = /drifts by (\S+) % or more/.exec(recording.notes.join(" "));
    expect(Number(told![1]) / 100).toBeGreaterThan(1e-6);
    expect(Number(told![1]) / 100).toBeLessThanOrEqual(5e-6);
    expect(recording.sampleRateHz! / (10_000 * (1 - 5e-6))).toBeCloseTo(1, 8);
    const even = await opened(timesOf((i) => (i / 10_000).toFixed(9)));
    expect(even.recording.notes).toEqual([]);
  });

  it("[REC-034] says the rate with the digits that its uncertainty leaves", () => {
    const words = ([hz, uncertainty]: [number, number | undefined]): string =>
      sampleRateWords(hz, uncertainty);
    const rates: [number, number | undefined][] = [
      [12_800.0358, 0.0371],
      [12_800.6, 0.6],
      [999.99999927, 0.0101],
      [10, 0.96],
      [12_785.1, 14.8],
      [48_000, undefined],
      [44_100.00000000001, 5e-12],
    ];
    expect(rates.map(words)).toEqual([
      "12800.04 Hz ± 0.05 Hz",
      "12800.6 Hz ± 0.6 Hz",
      "1000.00 Hz ± 0.02 Hz",
      "10.0 Hz ± 1.0 Hz",
      "12790 Hz ± 20 Hz",
      "48000 Hz",
      "44100 Hz",
    ]);
  });
});

describe("digits of a written number", () => {
  it.each([
    ["0.25", 0.01],
    ["3", 1],
    ["-1.50", 0.01],
    ["3e2", 100],
    ["1.25E-03", 1e-5],
    ["0x10", 0],
  ])("[REC-035] the last digit of %s stands for %f", (text, step) => {
    expect(lastDigit(text)).toBeCloseTo(step, 12);
  });

  it("[REC-035] zeros that a writer drops do not make a number coarse", () => {
    const written = new WrittenStep();
    const steps = ["1.0625", "1.5", "2", "12.25", "13", "0"].map((text) =>
      written.take(Number(text), text),
    );
    const expected = [1e-4, 1e-4, 1e-4, 1e-2, 1e-2, 1e-4];
    for (const [i, step] of steps.entries()) expect(step).toBeCloseTo(expected[i]!, 12);
  });
});

describe("lines through bands", () => {
  it("[REC-036] bounds the slope as all pairs of bands do, and refuses what no line passes", () => {
    const stream = randomStream(TEST_SEED, 0);
    let refused = 0;
    for (let trial = 0; trial < 200; trial += 1) {
      const line = new BandLine();
      const bands: [number, number][] = [];
      const slope = uniformOf(stream) - 0.5;
      for (let at = 0; at < 60; at += 1) {
        const middle = slope * at + uniformOf(stream);
        const half = 0.4 + 0.3 * uniformOf(stream);
        const band: [number, number] = [middle - half, middle + half];
        const all = [...bands, band];
        let [least, most] = [-Infinity, Infinity];
        for (let k = 1; k < all.length; k += 1) {
          for (let j = 0; j < k; j += 1) {
            most = Math.min(most, (all[k]![1] - all[j]![0]) / (k - j));
            least = Math.max(least, (all[k]![0] - all[j]![1]) / (k - j));
          }
        }
        const isTaken = line.take(...band);
        if (Math.abs(most - least) < 1e-12) break;
        expect(isTaken).toBe(least <= most);
        if (!isTaken) {
          refused += 1;
          break;
        }
        bands.push(band);
        if (bands.length < 2) continue;
        expect(line.slopeMost).toBeCloseTo(most, 12);
        expect(line.slopeLeast).toBeCloseTo(least, 12);
      }
    }
    // Bands that often lie off the line, and often not.
    expect(refused).toBeGreaterThan(20);
    expect(refused).toBeLessThan(180);
  });
});
