// Times that are not sure: a part of the uncertainty, never of what is allowed.
import { describe, expect, it } from "vitest";
import { clockStandardS } from "../../../harness/box/drift.ts";
import { type Expectation, decideWithin } from "../../../harness/box/limits.ts";
import { TruthWindows } from "../../../harness/box/truth-window.ts";
import { boxScene, judgeBox } from "../../kit/simulated-box.ts";

/** Steps of a truth 0.1 s apart. */
const truth = (of: (timeS: number) => number, isKnown = (_timeS: number) => true) =>
  new TruthWindows(
    Array.from({ length: 101 }, (_, i) => {
      const timeS = i / 10;
      const number = of(timeS);
      const one = { timeS, number, tolerance: 0, speedRevPerS: 40, speedTolerance: 0.5 };
      return { ...one, isKnown: isKnown(timeS) };
    }),
  );

describe("the truth between two times", () => {
  it("[BOX-070] ends where the times do, not a step further on either side", () => {
    const { isKnown, number } = truth((timeS) => 2 * timeS).between(3.02, 4.57);
    expect(isKnown).toBe(true);
    expect(number.low).toBeCloseTo(6.04, 12);
    expect(number.high).toBeCloseTo(9.14, 12);
    expect(number.tolerance).toBeCloseTo(0, 12);
  });

  it("[BOX-070] holds a peak between its ends, and a single time", () => {
    const peak = truth((timeS) => 7 - Math.abs(timeS - 5));
    expect(peak.between(4.5, 5.75).number).toMatchObject({ low: 6.25, high: 7 });
    const { low, high } = peak.between(4.25, 4.25).number;
    expect([low, high]).toEqual([expect.closeTo(6.25, 12), expect.closeTo(6.25, 12)]);
    expect(peak.between(4, 5).speed).toMatchObject({ low: 40, high: 40, tolerance: 0.5 });
  });

  it("[BOX-070] is not known beyond the truth's own times, nor where any of it is not", () => {
    const known = truth(
      (timeS) => timeS,
      (timeS) => timeS < 6,
    );
    expect(known.between(1, 5.85).isKnown).toBe(true);
    expect(known.between(1, 5.95).isKnown).toBe(false);
    expect(known.between(-0.01, 5).isKnown).toBe(false);
    expect(truth((timeS) => timeS).between(9, 10.01).isKnown).toBe(false);
  });

  it("[BOX-071] tells how far the straight line between steps may be off", () => {
    // Of c·t² the line over h is off by c·h²/4 in its middle, the most there is.
    const parabola = truth((timeS) => 3 * timeS * timeS);
    const { low, tolerance } = parabola.between(4.05, 4.05).number;
    expect(tolerance).toBeCloseTo((3 * 0.1 ** 2) / 4, 9);
    expect(low - 3 * 4.05 ** 2).toBeCloseTo(tolerance, 9);
  });
});

describe("a time that is not sure", () => {
  /** A truth of the slope 4 a second at time 5; latency 0 to 0.2 s; times off by ± 0.1 s, k = 2. */
  const ramp = truth((timeS) => 4 * timeS);
  const reach = (byS: number) => ramp.between(4.8 + byS, 5 + byS).number;
  const expectation = (offS: number): Expectation => ({
    reach: reach(0),
    early: reach(-offS),
    late: reach(offS),
    wide: ramp.between(4.8 - offS, 5 + offS).number,
    accuracyAt: () => 0.5,
    termsAt: () => [],
    rounding: 0,
    top: Infinity,
  });
  const rule = { rule: "guarded acceptance", guardFactor: 1 } as const;

  // 19.2 to 20 is open, ± 0.5 is allowed; slope times time is 4 · 0.1 = 0.4 (JCGM 100:2008, 5.1.2):
  // accepted to 20.1, rejected from 20.9 on (JCGM 106:2012, 8.3).
  it.each([
    [20.09, 0.1, "inside"],
    [20.11, 0.1, "within the guard band"],
    [20.49, 0.1, "within the guard band"],
    [20.89, 0.1, "within the guard band"],
    [20.91, 0.1, "outside"],
    [19.11, 0.1, "inside"],
    [19.09, 0.1, "within the guard band"],
    [18.31, 0.1, "within the guard band"],
    [18.29, 0.1, "outside"],
    [20.49, 0, "inside"],
    [20.51, 0, "outside"],
  ] as const)("[BOX-072] %f where times are off by %f s is %s", (value, offS, decided) => {
    const { decision, side } = decideWithin(value, expectation(offS), rule);
    expect(decision).toBe(decided);
    expect(side.expandedUncertainty).toBeCloseTo(4 * offS, 9);
    const time = side.terms.find(({ name }) => name === "time")!;
    expect(time.standard).toBeCloseTo(2 * offS, 9);
  });

  it("[BOX-072] never allows more by simple acceptance", () => {
    const simple = { rule: "simple acceptance", guardFactor: 1 } as const;
    expect(decideWithin(20.51, expectation(0.1), simple).decision).toBe("outside");
    expect(decideWithin(20.49, expectation(0.1), simple).decision).toBe("inside");
  });

  it("[BOX-073] each burst weighs by its distance", () => {
    // JCGM 100:2008, 5.1.2: at a burst its own, in the middle half of each, √(0.3² + 0.4²) = 0.5.
    const bursts = [
      { timeS: 10, standardS: 0.6 },
      { timeS: 30, standardS: 0.8 },
    ] as const;
    const fit = { drift: 0, driftUncertainty: 0, offsetS: 0, bursts };
    expect(clockStandardS(fit, 10)).toBeCloseTo(0.6, 12);
    expect(clockStandardS(fit, 30)).toBeCloseTo(0.8, 12);
    expect(clockStandardS(fit, 20)).toBeCloseTo(0.5, 12);
  });
});

describe("a box whose times are not sure", () => {
  const STEP = boxScene(
    "steps",
    ["{ at: 0 s, amplitude: 0.8 in/s pk }", "{ at: 6 s, amplitude: 2.4 in/s pk }"],
    { duration: "16 s" },
  );
  // Late by 0.35 s, where 0.25 s is stated: too much, and by the host's clock it shows.
  const settings = { latencyS: 0.35 };

  it("[BOX-074] is less surely outside, and never inside for it", async () => {
    const sure = await judgeBox(STEP, { settings });
    expect(sure.box.decision).toBe("outside");
    const stimulus = { share: 0.006, timeS: 0.5, coverageFactor: 2 };
    const unsure = await judgeBox(STEP, { settings, device: { stimulus } });
    expect(unsure.box.decision).toBe("within the guard band");
    expect(unsure.box.clocks[0]!.timeUncertaintyS).toBeGreaterThan(0.5);
    const right = await judgeBox(STEP, { device: { stimulus } });
    expect(right.box.decision).toBe("within the guard band");
    const simple = { rule: "simple acceptance", guardFactor: 1 } as const;
    const alone = await judgeBox(STEP, { settings, device: { stimulus, decision: simple } });
    expect(alone.box.decision).toBe("outside");
  });

  // From 0.4 to 3.6 in/s: 8 display units in 3 s, early in the passage. The box is exact, and late by
  // 0.01 s, later by 0.24 s, where 0 to 0.25 s are stated; or the other way.
  const RAMP = boxScene(
    "lines",
    [
      "{ at: 0 s, amplitude: 0.4 in/s pk }",
      "{ at: 1 s, amplitude: 0.4 in/s pk }",
      "{ at: 4 s, amplitude: 3.6 in/s pk }",
    ],
    { duration: "16 s" },
  );
  it.each([
    ["grows", 0.01, 0.24, "guarded acceptance"],
    ["grows", 0.01, 0.24, "simple acceptance"],
    ["shrinks", 0.24, 0.01, "guarded acceptance"],
    ["shrinks", 0.24, 0.01, "simple acceptance"],
  ] as const)(
    "[BOX-092] a latency that %s from %f to %f s is no drift of the clock that plays, by %s",
    async (_word, first, last, rule) => {
      const changing = (timeS: number): number =>
        first + (last - first) * Math.min(1, Math.max(0, (timeS - 14) / 5));
      const { box } = await judgeBox(RAMP, {
        settings: { latencyS: 0 },
        device: { decision: { rule, guardFactor: 1 } },
        change: (readings) =>
          readings.map((one) => ({ ...one, timeS: one.timeS + changing(one.timeS) })),
      });
      expect(box).toMatchObject({ decision: "inside", guardBand: 0, outside: 0 });
      expect(box.inside).toBeGreaterThan(100);
      expect(Math.abs(box.clocks[0]!.driftPpm)).toBe(0);
      expect(box.notes.join(" ")).not.toContain("ppm");
    },
  );

  it("[BOX-092] a drift that no stated latency explains is put right by the host's clock, too", async () => {
    const { box } = await judgeBox(RAMP, { settings: { clock: "host", drift: 0.01 } });
    expect(box.decision).toBe("inside");
    const [{ driftPpm, driftUncertaintyPpm }] = box.clocks as [(typeof box.clocks)[0]];
    expect(Math.abs(driftPpm - 10_000)).toBeLessThanOrEqual(driftUncertaintyPpm);
    const told = `A drift of ${driftPpm.toFixed(0)} ppm is taken out of the times of fan, and with it a latency`;
    expect(box.notes.join(" ")).toContain(told);
  });

  it("[BOX-074] by its own clock judges how its latency changes, and says so", async () => {
    const own = { clock: "own", drift: 80e-6, offsetS: 0.35 };
    const { box } = await judgeBox(STEP, { settings: { ...settings, ...own } });
    expect(box.decision).toBe("inside");
    expect(box.notes.join(" ")).toContain("judged is how the latency changes, not how great it is");
  });
});
