// What a display does beside its number: its step, its top, and whether it was silent.
import { describe, expect, it } from "vitest";
import fc from "fast-check";
import type { Reading } from "../../../harness/adapter/adapter.ts";
import { StepCheck, findSilence } from "../../../harness/box/box-display.ts";
import type { TimedReading } from "../../../harness/box/box-judge.ts";
import { readDeviceFile } from "../../../harness/box/device-file.ts";
import { TEST_SEED } from "../../kit/seed.ts";
import { ANALOG_DEVICE, boxScene, judgeBox } from "../../kit/simulated-box.ts";

const DEVICE = readDeviceFile(ANALOG_DEVICE);
const STEP = boxScene(
  "steps",
  ["{ at: 0 s, amplitude: 0.8 in/s pk }", "{ at: 6 s, amplitude: 2.4 in/s pk }"],
  { duration: "16 s" },
);
/** Settling 2 s, latency 0.25 s and an update, one and a half times: silence before and after a burst. */
const TAIL_S = 5 * (2 + 0.25 + 0.125);
const fromS = (readings: Reading[]): number => readings.at(-1)!.timeS - TAIL_S - 16;

describe("the step of a display", () => {
  const check = (numbers: readonly number[], steady?: number) => {
    const step = new StepCheck(DEVICE, 10);
    for (const [i, shown] of numbers.entries()) {
      step.take({ timeS: i, sceneS: i, standardS: 0, filter: "fan", shown }, steady);
    }
    return step.finish();
  };
  const counted = (length: number, by: number) => Array.from({ length }, (_, i) => (i * by) / 10);

  it("[BOX-060] a display of 0.2 that is stated as 0.1 is told by what it shows", async () => {
    const { box, check: of } = await judgeBox(STEP, { settings: { displayStep: 0.2 } });
    expect(of("shown")).toMatchObject({ decision: "outside", isRight: false });
    expect(of("shown").why).toMatch(/moves by 0\.2 at least, where 0\.1 is stated \(\d+ different/);
    expect(box.decision).toBe("outside");
    expect((await judgeBox(STEP, {})).check("shown").decision).toBe("inside");
  });

  it.each([
    ["by one", counted(12, 1), 1],
    ["by two", counted(12, 2), 2],
    ["by two, on odd ones", counted(12, 2).map((one) => one + 0.1), 2],
    ["by three", counted(12, 3).map((one) => one / 1.5), 2],
    ["by two and once by one", [...counted(12, 2), 0.3], 1],
    ["by two, too few to tell", counted(10, 2), 0],
    ["not at all", [2, 2, 2], 0],
  ] as const)("[BOX-061] numbers that move %s", (_name, numbers, by) => {
    expect(check(numbers)).toMatchObject({ off: 0, coarseBy: by });
  });

  it("[BOX-061] where the truth itself stands on the coarser grid nothing is told of it", () => {
    const step = new StepCheck(DEVICE, 10);
    for (let i = 0; i < 40; i += 1) {
      const shown = i / 5;
      step.take({ timeS: i, sceneS: i, standardS: 0, filter: "fan", shown }, shown);
    }
    expect(step.finish()).toMatchObject({ coarseBy: 0, evidence: 0 });
  });

  it("[BOX-062] numbers between steps, and beyond the top, are told with the first time", () => {
    expect(check([0.1, 0.25, 0.3])).toMatchObject({ off: 1, beyondTop: 0, firstS: 1 });
    expect(check([9.9, 10, 10.2])).toMatchObject({ off: 0, beyondTop: 1, firstS: 2 });
  });
});

describe("a silent box", () => {
  const at = (times: readonly number[]): TimedReading[] =>
    times.map((timeS) => ({ timeS, sceneS: timeS, standardS: 0, filter: "fan", shown: 1 }));
  const every = (periodS: number, fromTime: number, untilTime: number): number[] =>
    Array.from(
      { length: Math.floor((untilTime - fromTime) / periodS) + 1 },
      (_, i) => fromTime + i * periodS,
    );

  it.each([
    ["its first half", (s: number) => s >= 0 && s < 8],
    ["its last half", (s: number) => s >= 8 && s <= 16],
    ["the middle", (s: number) => s >= 4 && s < 12],
  ] as const)("[BOX-063] through %s of a passage is told, with how long", async (_name, isLost) => {
    const { box, check, verdict } = await judgeBox(STEP, {
      change: (readings) => readings.filter((one) => !isLost(one.timeS - fromS(readings))),
    });
    expect(check("events")).toMatchObject({ decision: "outside", isRight: false, wrongCount: 1 });
    expect(check("events").why).toMatch(/the longest silence, 8\.\d+ s from .* may be 0\.38 s/);
    expect([box.decision, verdict.isRight]).toEqual(["outside", false]);
    expect(check("level").decision).toBe("inside");
  });

  it("[BOX-064] updates within a period and the latency's span are never silence", () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0, max: 0.25, noNaN: true }), { minLength: 200, maxLength: 200 }),
        fc.double({ min: 1, max: 3, noNaN: true }),
        (latencies, quicker) => {
          const times = latencies
            .map((late, i) => i / (8 * quicker) + late)
            .toSorted((a, b) => a - b);
          expect(findSilence(at(times), DEVICE, 8).late).toBe(0);
        },
      ),
      { seed: TEST_SEED },
    );
  });

  it.each([
    ["one update more than the span", [...every(0.125, -1, 4), ...every(0.125, 4.51, 12)], 1],
    ["within the span", [...every(0.125, -1, 4), ...every(0.125, 4.37, 12)], 0],
    ["7 Hz in place of 8 Hz", every(1 / 7, -1, 12), 3],
    ["10 ppm too slow", every(0.125 * (1 + 1e-5), -1, 4000), 0],
    ["only before the scenario", [...every(0.125, -9, -5), ...every(0.125, -1, 12)], 0],
    ["only after the scenario", [...every(0.125, -1, 10.5), 14, 15], 0],
    ["from the beginning on", every(0.125, 3, 12), 1],
    ["up to the end", every(0.125, -1, 7), 1],
  ] as const)("[BOX-064] %s", (_name, times, least) => {
    const { late } = findSilence(at(times), DEVICE, 10);
    if (least === 0) expect(late).toBe(0);
    else expect(late).toBeGreaterThanOrEqual(least);
  });
});

describe("the top of a display", () => {
  // 2 to 13.75 display units; the display ends at 10.
  const HIGH = boxScene(
    "steps",
    ["{ at: 0 s, amplitude: 0.8 in/s pk }", "{ at: 6 s, amplitude: 5.5 in/s pk }"],
    { duration: "16 s" },
  );
  const ended =
    (top: number) =>
    (readings: Reading[]): Reading[] =>
      readings.map((one) => ({ ...one, shown: Math.min(one.shown, top) }));

  it("[BOX-065] readings at the top are right where the truth is above it", async () => {
    const { box, check } = await judgeBox(HIGH, { change: ended(10) });
    expect(check("level")).toMatchObject({ decision: "inside" });
    expect(box).toMatchObject({ decision: "inside", outside: 0 });
    expect(box.inside).toBeGreaterThan(90);
  });

  it.each([
    ["stops early", 9, undefined, "stands still at 9, below its top, where more is due"],
    ["stops early by its own file", 10, 12, "stands still at 10, below its top"],
  ])("[BOX-066] one that %s is told as such", async (_name, top, displayTop, said) => {
    const device = displayTop === undefined ? {} : { displayTop };
    const { box, check } = await judgeBox(HIGH, { change: ended(top), device });
    expect(box.decision).toBe("outside");
    expect(check("level").why).toContain(said);
    expect(check("level").why).toMatch(/\(\d+ readings, from 6\.\d+ s on\)/);
  });

  it("[BOX-066] one that stands at the top where the truth is well below is outside", async () => {
    const { check } = await judgeBox(STEP, {
      change: (readings) =>
        readings.map((one) => {
          const sceneS = one.timeS - fromS(readings);
          return sceneS > 10 && sceneS < 16 ? { ...one, shown: 10 } : one;
        }),
    });
    expect(check("level").decision).toBe("outside");
    expect(check("level").why).toMatch(/shows 10, should 6\b/);
  });

  it("[BOX-066] one that goes beyond its top is told", async () => {
    const { check } = await judgeBox(HIGH, {});
    expect(check("shown").decision).toBe("outside");
    expect(check("shown").why).toContain("lie beyond the display's top");
  });
});
