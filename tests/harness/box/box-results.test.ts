// What was decided about a box, as a result tells it.
import { describe, expect, it } from "vitest";
import { CAUTION_OFF, CAUTION_ON, NO_COMPUTED_DATA, VALID } from "../../../shared/units.ts";
import { findSilence } from "../../../harness/box/box-display.ts";
import { type Tally, BoxJudge, emptyTally } from "../../../harness/box/box-judge.ts";
import {
  type BoxRow,
  boxCautions,
  boxChecks,
  boxFilter,
} from "../../../harness/box/box-results.ts";
import { readDeviceFile } from "../../../harness/box/device-file.ts";
import { TruthWindows } from "../../../harness/box/truth-window.ts";
import { ANALOG_DEVICE, boxScene } from "../../kit/simulated-box.ts";

const DEVICE = readDeviceFile(ANALOG_DEVICE);

const SCENE = boxScene("steps", ["{ at: 0 s, amplitude: 0.8 in/s pk }"], { duration: "1 s" });

const row = (timeS: number, one: Partial<BoxRow> = {}): BoxRow => ({
  timeS,
  shown: 2,
  expected: 2,
  accuracy: 0.16,
  speedRevPerS: 40,
  cautionState: CAUTION_OFF,
  cautionAllowed: 2,
  saysCaution: true,
  validity: VALID,
  ...one,
});

describe("a box in a result", () => {
  it("[BOX-087] of ten hours at 8 Hz is told as one of a minute is", () => {
    const rows = Array.from({ length: 288_000 }, (_, i) =>
      row(i / 8, { shown: 1 + (i % 30) / 10 }),
    );
    const told = boxFilter(SCENE, 0, rows);
    expect(told.shownRange).toEqual({ least: 1, most: 3.9 });
    expect(told.toleranceShare).toBeCloseTo(0.08, 12);
    expect(told.trace.timeS).toHaveLength(2000);
  });

  it("[BOX-088] ranges over the numbers that were shown as valid, and no others", () => {
    const rows = [row(0), row(1, { shown: 9.9, validity: NO_COMPUTED_DATA }), row(2, { shown: 3 })];
    const { shownRange, trace } = boxFilter(SCENE, 0, rows);
    expect(shownRange).toEqual({ least: 2, most: 3 });
    expect(trace.shown).toEqual([2, -1, 3]);
  });

  it("[BOX-089] has no change of a caution where a reading does not say it", () => {
    const [isOn, unsaid] = [{ cautionState: CAUTION_ON }, { saysCaution: false }];
    const rows = [row(0), row(1, isOn), row(2, unsaid), row(3, isOn), row(4, unsaid), row(5)];
    const told = boxCautions("fan", 0, rows).map(({ name, timeS }) => [name, timeS]);
    expect(told).toEqual([
      ["caution-on", 1],
      ["caution-off", 5],
    ]);
  });
});

describe("what a check of a box says", () => {
  const why = (name: "events" | "speed", times: number[], speed: Partial<Tally> = {}): string => {
    const readings = times.map((timeS) => ({
      timeS,
      sceneS: timeS,
      standardS: 0,
      filter: "fan",
      shown: 1,
    }));
    const found = {
      levels: { level: emptyTally(), speed: { ...emptyTally(), ...speed } },
      step: { judged: 0, off: 0, beyondTop: 0, firstS: 0, coarseBy: 0, evidence: 0 },
      silence: findSilence(readings, DEVICE, times.at(-1)!),
      caution: undefined,
    };
    return boxChecks(0, "fan", found, DEVICE).find(({ check }) => check === name)!.why;
  };
  const every = (periodS: number): number[] =>
    Array.from({ length: Math.ceil(12 / periodS) }, (_, i) => i * periodS);

  it("[BOX-090] of updates that come too slowly, where no silence is too long alone", () => {
    const said = why("events", every(1 / 7));
    expect(said).toMatch(/the longest silence, 0\.14 s from .* is within the 0\.38 s of one: /);
    expect(why("events", [...every(1 / 8), 15])).toMatch(/3\.\d+ s from .* may be 0\.38 s$/);
  });

  it("[BOX-090] of a speed, where it is worst", () => {
    const speed = { inside: 5, outside: 2, worstRatio: 3, worstS: 7 };
    expect(why("speed", [0, 1], speed)).toContain("2 outside, the worst at 7.00 s");
  });

  it("[BOX-091] where no error is allowed, and there is none, tells the nearest to a limit", () => {
    // 5 % of nothing, then 5 % of 2: at 0.08 of 0.1.
    const steps = Array.from({ length: 101 }, (_, i) => ({
      timeS: i / 10,
      number: i < 50 ? 0 : 2,
      tolerance: 0,
      speedRevPerS: 40,
      speedTolerance: 0,
      isKnown: true,
    }));
    const device = {
      ...DEVICE,
      accuracy: { share: 0.05, units: 0 },
      latency: { fromS: 0, toS: 0 },
      decision: { rule: "simple acceptance", guardFactor: 1 } as const,
    };
    const judge = new BoxJudge(device, new TruthWindows(steps), 10);
    for (const [timeS, shown] of [
      [1, 0],
      [2, 0],
      [8, 2.08],
    ] as const) {
      judge.take({ timeS, sceneS: timeS, standardS: 0, filter: "fan", shown });
    }
    const { level, worst } = judge.finish();
    expect(level).toMatchObject({ inside: 3, guardBand: 0, outside: 0 });
    expect(worst).toMatchObject({ timeS: 8 });
    expect(worst!.ratio).toBeCloseTo(0.8, 9);
  });
});
