// Samples of a functional test or of a failed transducer leave the poles as a start does: until then
// the number is not computed.
import { describe, expect, test } from "vitest";
import * as L from "../../shared/layout.ts";
import * as U from "../../shared/units.ts";
import { type Field, STAGE_BUILDS } from "./kit/stage.ts";
import { levelOf, openStep } from "./kit/step-stage.ts";

const QUIET = [0, 1, -1, 1, -1, 1, -1, 1];
const SPIKE = [0, 1, -1, 500, -1, 1, -1, 1];
const bit = (first: number, index = 0): number => 1 << (first + index);

describe.each(STAGE_BUILDS)("spoiled samples, %s build", async (build) => {
  const stage = await openStep(build);

  // One display period of 8 samples at 8 kHz is 1 ms; τ is 1 ms, or one cycle: 6.64 τ is 7 of either.
  const poles = (bandwidth: number): Field[] => [
    [L.GLOBAL_CLOCK_HZ, "u32", 80_000],
    [L.GLOBAL_TICKS_PER_SAMPLE, "u32", 10],
    [L.CONFIG_FILTERS + L.FILTER_BANDWIDTH, "u32", bandwidth],
    [L.CONFIG_FILTERS + L.FILTER_POLE, "f32", bandwidth === U.BANDWIDTH_FIXED ? 0.001 : 1],
    [L.CONFIG_SHAFTS + L.SHAFT_REVOLUTIONS, "u32", 1],
  ];
  /** Causes of filter 0 on steps with one more cycle each, the inputs as given, then none. */
  const causes = (stepCount: number, inputs: number[][]): number[] =>
    Array.from({ length: stepCount }, (_, i) => {
      for (const bits of inputs[i] ?? [0]) stage.run.inputsSet(bits);
      stage.tracked(0, { revolution: 100 + i });
      return levelOf(stage.step(), 0).cause;
    });
  // The step after the test still counts as spoiled; three cycles on the first clean vector; then 7.
  const settlingSteps = 1 + 3 + 7 - 1;

  test.each([
    ["seconds", U.BANDWIDTH_FIXED],
    ["cycles", U.BANDWIDTH_PROPORTIONAL],
  ])("[LEVEL-060] after a functional test a filter settles again, poles in %s", (_name, kind) => {
    stage.configure(poles(kind));
    const found = causes(3 + settlingSteps + 2, [[0], [bit(L.INPUT_TEST)], [bit(L.INPUT_TEST)]]);
    expect(found).toEqual([
      U.CAUSE_NONE,
      U.CAUSE_FUNCTIONAL_TEST,
      U.CAUSE_FUNCTIONAL_TEST,
      ...Array.from({ length: settlingSteps }, () => U.CAUSE_SETTLING),
      U.CAUSE_NONE,
      U.CAUSE_NONE,
    ]);
  });

  test("[LEVEL-061] a test between two steps spoils what was tracked as well", () => {
    stage.configure(poles(U.BANDWIDTH_FIXED));
    const found = causes(3 + settlingSteps, [[0], [bit(L.INPUT_TEST), 0]]);
    expect(found).toEqual([
      U.CAUSE_NONE,
      ...Array.from({ length: settlingSteps }, () => U.CAUSE_SETTLING),
      U.CAUSE_NONE,
      U.CAUSE_NONE,
    ]);
  });

  test("[LEVEL-062] after a transducer's fault its filters settle again, the others go on", () => {
    stage.configure(poles(U.BANDWIDTH_FIXED));
    const all = [QUIET, SPIKE, ...Array.from({ length: settlingSteps + 1 }, () => QUIET)];
    const found = all.map((samples, i) => {
      stage.samples(0, i === 0 ? [0, ...samples] : samples);
      for (const f of [0, 1, 2]) stage.tracked(f, { revolution: 100 + i });
      const records = stage.step();
      return [levelOf(records, 0).cause, levelOf(records, 1).cause];
    });
    expect(found.map(([own]) => own)).toEqual([
      U.CAUSE_NONE,
      U.CAUSE_TRANSDUCER,
      ...Array.from({ length: settlingSteps }, () => U.CAUSE_SETTLING),
      U.CAUSE_NONE,
    ]);
    expect(found.map(([, other]) => other)).toEqual(found.map(() => U.CAUSE_NONE));
  });

  test("[LEVEL-063] a reference lost in between starts everything anew", () => {
    stage.configure(poles(U.BANDWIDTH_FIXED));
    causes(3, [[0], [bit(L.INPUT_TEST)], [0]]);
    stage.shaft(0, { isLocked: false });
    expect(levelOf(stage.step(), 0).cause).toBe(U.CAUSE_STOPPED);
    stage.shaft(0, {});
    stage.tracked(0, { revolution: 2 });
    expect(levelOf(stage.step(), 0).cause).toBe(U.CAUSE_NONE);
  });

  test("[LEVEL-065] a reference lost and found again between two steps starts everything anew", () => {
    stage.configure(poles(U.BANDWIDTH_FIXED));
    stage.tracked(0, { revolution: 100_000 });
    stage.run.inputsSet(bit(L.INPUT_TEST));
    expect(levelOf(stage.step(), 0).cause).toBe(U.CAUSE_FUNCTIONAL_TEST);
    stage.run.inputsSet(0);
    stage.tracked(0, { revolution: 100_001 });
    stage.step();
    // The shaft is locked at both steps, and its cycles are counted from 0 again.
    stage.tracked(0, { revolution: 2, acquisition: 2 });
    expect(levelOf(stage.step(), 0).cause).toBe(U.CAUSE_NONE);
  });

  test("[LEVEL-064] a caution does not come on from what a functional test has left behind", () => {
    stage.configure(poles(U.BANDWIDTH_FIXED));
    const states = Array.from({ length: 2 + settlingSteps }, (_, i) => {
      stage.run.inputsSet(i === 1 ? bit(L.INPUT_TEST) : 0);
      stage.tracked(0, { revolution: 100 + i, levelPk: i === 0 ? 5 : 20 });
      return levelOf(stage.step(), 0).cautionState;
    });
    expect(states).toEqual(states.map(() => U.CAUTION_OFF));
  });

  test("[HEALTH-020] tracked against broadband waits while a filter settles after a test", () => {
    const channel = L.CONFIG_CHANNELS;
    stage.configure([
      ...poles(U.BANDWIDTH_FIXED),
      [channel + L.CHANNEL_HEALTH_MASK, "u32", 1 << U.HEALTH_BROADBAND],
      [channel + L.CHANNEL_BROADBAND_RATIO, "f32", 1.5],
    ]);
    // The tone of the test is still in the poles: far above the broadband of the samples.
    const run = (stepCount: number, testAt: number): number[] =>
      Array.from({ length: stepCount }, (_, i) => {
        stage.run.inputsSet(i === testAt ? bit(L.INPUT_TEST) : 0);
        stage.samples(0, stage.stepCount === 0 ? [0, ...QUIET] : QUIET);
        stage.tracked(0, { revolution: 100 + i, rawPk: 50 });
        stage.tracked(2, { revolution: 100 + i, rawPk: 0 });
        return levelOf(stage.step(), 0).cause;
      });
    expect(run(settlingSteps, 0)).not.toContain(U.CAUSE_TRANSDUCER);
    // Without a test before it the same at both ends of a period is a fault, and it is judged while
    // it stands.
    stage.run.stepReset();
    stage.stepCount = 0;
    const fault = U.CAUSE_TRANSDUCER;
    expect(run(3, -1)).toEqual([U.CAUSE_NONE, fault, fault]);
    stage.samples(0, QUIET);
    stage.tracked(0, { revolution: 103, rawPk: 1 });
    expect(levelOf(stage.step(), 0).cause).toBe(U.CAUSE_SETTLING);
  });
});
