// When a box's caution may come and go: by its accuracy, its latency, its update rate and the delays.
import { describe, expect, it } from "vitest";
import type { Reading } from "../../../harness/adapter/adapter.ts";
import { delayStandardS } from "../../../harness/box/caution-windows.ts";
import type { BoxCaution } from "../../../harness/judge/types.ts";
import { boxScene, judgeBox } from "../../kit/simulated-box.ts";

/** A caution of the box's own: at the level, below it less the hysteresis, each for a delay. */
function lit(readings: Reading[], level: number, delayS = 1): Reading[] {
  let isCaution = false;
  let sinceS = Infinity;
  return readings.map((one) => {
    const isDue = isCaution ? one.shown < level - 0.4 - 1e-9 : one.shown >= level - 1e-9;
    sinceS = isDue ? Math.min(sinceS, one.timeS) : Infinity;
    if (one.timeS - sinceS >= delayS - 1e-9) [isCaution, sinceS] = [!isCaution, Infinity];
    return { ...one, isCaution };
  });
}

// 4 to 6 display units in 40 s, and back: 0.05 a second.
const UP = boxScene(
  "lines",
  ["{ at: 0 s, amplitude: 1.6 in/s pk }", "{ at: 40 s, amplitude: 2.4 in/s pk }"],
  { duration: "44 s" },
);
const DOWN = boxScene(
  "lines",
  ["{ at: 0 s, amplitude: 2.4 in/s pk }", "{ at: 40 s, amplitude: 1.6 in/s pk }"],
  { duration: "44 s" },
);
const SLOPE = 0.05;
/** A ramp through two poles is late by both time constants, s; τ of 1 Hz between the −3 dB points. */
const LAG_S = (2 * Math.sqrt(Math.SQRT2 - 1)) / Math.PI;
const DELAY_S = 1;
/** The device's latency, and two updates at 8 Hz: one to see the level, one to count the delay. */
const LATEST_S = 0.25 + 2 / 8;
/** Times here stand on the truth's grid. */
const GRID_S = 0.06;

describe("a box's caution on a slow ramp", () => {
  // The number may be off by 3 % and 0.1, so that 5.0 is shown between 4.9/1.03 and 5.1/0.97; U of the
  // number there, k = 2, by its own three terms (JCGM 100:2008, 5.1.2): 0.6 % of it, the step's
  // 0.1/√12, and next to nothing of the truth.
  const atS = (number: number): number => (number - 4) / SLOPE + LAG_S + DELAY_S;
  const [earliest, latest] = [4.9 / 1.03, 5.1 / 0.97];
  const U = 2 * Math.hypot(0.003 * 5, 0.1 / Math.sqrt(12));

  it("[BOX-050] the times allowed are those of its accuracy, with a guard band of U on either side", async () => {
    const { box } = await judgeBox(UP, { change: (readings) => lit(readings, 5) });
    const [one] = box.cautions as [BoxCaution];
    expect(box.cautions).toHaveLength(1);
    expect(one).toMatchObject({ name: "fan", isOn: true, decision: "inside" });
    expect(Math.abs(one.fromS - atS(earliest))).toBeLessThan(GRID_S);
    expect(Math.abs(one.untilS - (atS(latest) + LATEST_S))).toBeLessThan(GRID_S);
    // The guard band of times is U over the slope, and the accuracy's share of it.
    for (const [told, plain, share] of [
      [one.earliestS, one.fromS, -1 / 1.03],
      [one.surelyFromS, one.fromS, 1 / 1.03],
      [one.surelyUntilS, one.untilS, -1 / 0.97],
      [one.latestS, one.untilS, 1 / 0.97],
    ] as const) {
      const expectedS = (share * U) / SLOPE;
      expect(Math.abs(told - plain - expectedS)).toBeLessThan(0.08 * Math.abs(expectedS));
    }
  });

  it.each([
    ["2 % above", { gain: 1.02 }, 5, UP],
    ["2 % below", { gain: 0.98 }, 5, UP],
    ["2 % above, on its way down", { gain: 1.02 }, 5, DOWN],
    ["2 % below, on its way down", { gain: 0.98 }, 5, DOWN],
  ])("[BOX-051] a number within its accuracy, %s, brings the caution in time", async (...row) => {
    const [, settings, level, scene] = row;
    const { box, check } = await judgeBox(scene, {
      settings,
      change: (readings) => lit(readings, level),
    });
    expect(check("caution")).toMatchObject({ decision: "inside", isRight: true });
    expect(check("caution").judgedCount).toBeGreaterThan(100);
    expect(box.decision).toBe("inside");
    const { isOn, foundS, decision } = box.cautions.at(-1)!;
    expect([isOn, decision]).toEqual([scene === UP, "inside"]);
    expect(foundS).not.toBeNull();
  });

  it.each([
    ["too soon", 4.55, "outside"],
    ["too late", 5.45, "outside"],
    ["before what is sure, on its way up", 4.75, "within the guard band"],
    ["never", 7, "outside"],
  ] as const)("[BOX-052] one that comes %s is told, with the times", async (...row) => {
    const [, level, decision] = row;
    const { box, check, verdict } = await judgeBox(UP, {
      change: (readings) => lit(readings, level),
    });
    expect(check("caution")).toMatchObject({ decision, isRight: false });
    expect(check("level").decision).toBe("inside");
    expect([box.decision, verdict.isRight]).toEqual([decision, false]);
    expect(check("caution").why).toMatch(
      /on may come from 16\.\d+ to 27\.\d+ s, (came at|did not)/,
    );
    expect(box.cautions[0]!.decision).toBe(decision);
    expect(check("caution").worstTimeS).toBeGreaterThan(10);
  });

  it("[BOX-053] one that goes too late on the way down is told, and what a burst brought on is not", async () => {
    const late = await judgeBox(DOWN, { change: (readings) => lit(readings, 5, 14) });
    expect(late.check("caution").decision).toBe("outside");
    expect(late.box.cautions.at(-1)).toMatchObject({ isOn: false, decision: "outside" });
    const early = late.verdict.filters[0]!.trace;
    expect(early.cautionState[0]).toBe(0);
  });

  it("[BOX-054] by simple acceptance the accuracy alone decides", async () => {
    const rule = { rule: "simple acceptance", guardFactor: 1 } as const;
    const { box } = await judgeBox(UP, {
      device: { decision: rule },
      change: (readings) => lit(readings, 4.8),
    });
    const [{ fromS, earliestS, surelyFromS, decision }] = box.cautions as [BoxCaution];
    expect([earliestS, surelyFromS, decision]).toEqual([fromS, fromS, "inside"]);
  });

  it("[BOX-093] comes at its level where the display ends below it", async () => {
    const ended = (readings: Reading[]): Reading[] =>
      readings.map((one) => ({ ...one, shown: Math.min(one.shown, 4.5) }));
    const judged = (level: number) =>
      judgeBox(UP, {
        device: { displayTop: 4.5 },
        change: (readings) => ended(lit(readings, level)),
      });
    const right = await judged(5);
    expect(right.check("caution")).toMatchObject({ decision: "inside", isRight: true });
    expect(right.box.cautions).toMatchObject([{ isOn: true, decision: "inside" }]);
    expect(right.check("level").decision).toBe("inside");
    expect((await judged(4.55)).check("caution").decision).toBe("outside");
    expect((await judged(7)).check("caution").decision).toBe("outside");
  });

  it("[BOX-055] a delay is as sure as the clock that counts it", () => {
    // 20 s by a clock known to 1000 ppm (k = 2): 10 ms standard; the grid of 20 ms, rectangular.
    const caution = { onDelaySteps: 200, offDelaySteps: 50 } as Parameters<
      typeof delayStandardS
    >[0];
    const grid = 0.01 / Math.sqrt(3);
    expect(delayStandardS(caution, 0.1, 0.02, 1e-3)).toBeCloseTo(Math.hypot(0.01, grid), 12);
    expect(delayStandardS(caution, 0.1, 0.02, 0)).toBeCloseTo(grid, 12);
  });
});
