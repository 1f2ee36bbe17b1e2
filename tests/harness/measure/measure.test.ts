// The built-in core measured, and firmware that is not what it says.
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { readProfileFile } from "../../../host/profile/profile-reader.ts";
import type { MonitorProfile } from "../../../host/profile/types.ts";
import { decodeRecords, encodeRecord } from "../../../host/records.ts";
import { RECORD_BYTES } from "../../../shared/layout.ts";
import { Bench } from "../../../harness/measure/bench.ts";
import {
  discreteGain,
  imageShare,
  poleDelayCycles,
  rampLagS,
} from "../../../harness/measure/closed-forms.ts";
import { measureAll } from "../../../harness/measure/measure.ts";
import type { MeasuredRow, Measurement } from "../../../harness/measure/measurement.ts";
import type { Line } from "../../../harness/run/line.ts";
import { CoreTarget } from "../../../harness/target/core-target.ts";
import { configurationBytes } from "../../../host/profile/configuration.ts";
import { loadCore } from "../../kit/play-scene.ts";
import { ROOT } from "../../repo/source-files.ts";

const PLAIN = readProfileFile(join(ROOT, "harness/scenario/templates/fan.monitor.yaml"));
const TWO = readProfileFile(join(ROOT, "harness/scenarios/board/two-shafts.monitor.yaml"));
const core = loadCore();

/** A target whose records pass a change, or which runs another profile than it was given. */
function lineOf(
  change: { level?: (level: number) => number; profile?: MonitorProfile } = {},
): Line {
  const target = (): CoreTarget => {
    const made = new CoreTarget(core);
    if (change.profile !== undefined) {
      const configure = made.configure.bind(made);
      made.configure = async (bytes) => {
        await configure(configurationBytes(change.profile!));
        return { bytes };
      };
    }
    const altered = (bytes: Uint8Array): Uint8Array => {
      if (change.level === undefined) return bytes;
      const out = bytes.slice();
      const view = new DataView(out.buffer);
      decodeRecords(bytes).forEach((record, i) => {
        if (record.kind !== "level") return;
        encodeRecord({ ...record, level: change.level!(record.level) }, view, i * RECORD_BYTES);
      });
      return out;
    };
    const feed = made.feed.bind(made);
    made.feed = async (batch) => altered(await feed(batch));
    return made;
  };
  return { target, async end() {} };
}

function measured(
  profile: MonitorProfile,
  filter: number,
  speed: number,
  line: Line = lineOf(),
  isCounts = false,
): Promise<Measurement[]> {
  const signal = new AbortController().signal;
  return measureAll(new Bench(profile, filter, speed, { line, signal, isCounts }));
}

const rowsOf = (all: readonly Measurement[]): MeasuredRow[] => all.flatMap(({ rows }) => rows);
const wrongOf = (all: readonly Measurement[]): string[] =>
  all.filter(({ rows }) => rows.some((row) => !row.isRight)).map(({ name }) => name);

describe("the built-in core, measured", () => {
  it.each([
    ["a wheel of 60, middle speed", PLAIN, 0, 65, false],
    ["low speed, in counts", PLAIN, 0, 20, true],
    ["a second shaft of one edge a revolution", TWO, 2, 80, true],
  ] satisfies [string, MonitorProfile, number, number, boolean][])(
    "[MEAS-001] agrees with every closed form: %s",
    async (...args) => {
      const [, profile, filter, speed, isCounts] = args;
      const all = await measured(profile, filter, speed, lineOf(), isCounts);
      const wrong = rowsOf(all).filter((row) => !row.isRight);
      expect(wrong).toEqual([]);
      expect(rowsOf(all).filter((row) => row.rule !== "told").length).toBeGreaterThan(15);
      expect(all.map(({ name }) => name)).toEqual([
        "Level",
        "Response against frequency offset",
        "Bandwidth",
        "Rejection of other whole orders",
        "Rejection near whole ratios",
        "Step",
        "Lag",
        "Linearity",
        "Speed range",
        "Settling",
      ]);
    },
  );
});

describe("a target that is not what it says", () => {
  const filters = (change: Partial<MonitorProfile["filters"][number]>): MonitorProfile => ({
    ...new Bench(PLAIN, 0, 65, {
      line: lineOf(),
      signal: new AbortController().signal,
      isCounts: false,
    }).profile,
    filters: PLAIN.filters.map((filter) => ({ ...filter, ...change })),
  });

  it("[MEAS-010] a bandwidth two per cent wider is found, and by how much", async () => {
    const profile = filters({ bandwidth: { kind: "fixed", fullWidthHz: 1.02 } });
    const all = await measured(PLAIN, 0, 65, lineOf({ profile }));
    expect(wrongOf(all)).toEqual(
      expect.arrayContaining(["Response against frequency offset", "Bandwidth", "Step", "Lag"]),
    );
    const width = rowsOf(all).find(({ what }) => what === "−3 dB full width")!;
    expect(width.measured / width.closed!).toBeCloseTo(1.02, 4);
  });

  it("[MEAS-011] a level that is off by a thousandth is found on the order", async () => {
    const all = await measured(PLAIN, 0, 65, lineOf({ level: (level) => level * 1.001 }));
    expect(wrongOf(all)).toEqual(expect.arrayContaining(["Level", "Linearity"]));
  });

  it("[MEAS-012] a level that bends with size is found by its linearity", async () => {
    const top = PLAIN.channels[0]!.range * PLAIN.filters[0]!.levelFactor;
    const bent = (level: number): number => level * (1 - 0.001 * (level / top) ** 2);
    const all = await measured(PLAIN, 0, 65, lineOf({ level: bent }));
    const linearity = all.find(({ name }) => name === "Linearity")!.rows;
    expect(linearity.map((row) => row.isRight)).toEqual([true, true, false, false, false]);
  });

  it("[MEAS-013] a narrower speed range is found", async () => {
    const profile: MonitorProfile = {
      ...filters({}),
      shafts: PLAIN.shafts.map((shaft) => ({ ...shaft, validSpeedRevPerS: 20 })),
    };
    expect(wrongOf(await measured(PLAIN, 0, 65, lineOf({ profile })))).toEqual(["Speed range"]);
  });

  it("[MEAS-014] a level that is no number is never right", async () => {
    const all = await measured(PLAIN, 0, 65, lineOf({ level: () => NaN }));
    const judged = rowsOf(all).filter(
      ({ rule, unit, what }) => rule !== "told" && unit !== "valid" && !what.includes("first"),
    );
    const kept = judged.filter(({ isRight, what }) => isRight && !what.startsWith("the same"));
    expect(kept).toEqual([]);
  });
});

describe("closed forms of a measurement", () => {
  it("[MEAS-020] the delay of both poles is that of the recursion, run", () => {
    for (const h of [0.01, 0.1, 0.7]) {
      const beta = Math.exp(-h);
      let [y1, y2, sum, delay] = [0, 0, 0, 0];
      for (let i = 0; i < 4000; i += 1) {
        const z = i === 0 ? 1 : 0;
        y2 = z + beta * (y2 - z + h * (y1 - z));
        y1 = z + beta * (y1 - z);
        sum += y2;
        delay += i * y2;
      }
      expect(sum).toBeCloseTo(1, 9);
      expect(poleDelayCycles(h)).toBeCloseTo(delay, 6);
    }
    // In the limit of a fast shaft two poles delay by two time constants.
    expect(rampLagS(1e-5, 0.2)).toBeCloseTo(0.4, 4);
  });

  it("[MEAS-021] the image of a tone is what is left of it at its negative frequency", () => {
    for (const [offset, order] of [
      [3, 1],
      [-2, 1],
      [5, 2],
    ] as const) {
      const [cycleS, tauS] = [1 / 40, 0.2];
      const image = discreteGain(-(offset + (2 * order) / cycleS), cycleS, tauS);
      const share = image / discreteGain(offset, cycleS, tauS);
      expect(imageShare(offset, cycleS, order)).toBeCloseTo(share, 9);
    }
  });
});
