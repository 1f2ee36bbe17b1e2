import { describe, expect, test } from "vitest";
import {
  CAUTION_HELD,
  CAUTION_INHIBITED,
  CAUTION_OFF,
  CAUTION_ON,
  CAUTION_TIMING_OFF,
  CAUTION_TIMING_ON,
  EVENT_ACKNOWLEDGED,
  EVENT_CAUTION_ENDED_INVALID,
  EVENT_CAUTION_OFF,
  EVENT_CAUTION_ON,
  EVENT_INHIBIT_OFF,
  EVENT_INHIBIT_ON,
} from "../../shared/units.ts";
import type { ModelInput, ModelProfile } from "./kit/caution-model.ts";
import { cautionStep, configureCaution, quiet } from "./kit/caution-stage.ts";
import { openStage, STAGE_BUILDS } from "./kit/stage.ts";

const plain: ModelProfile = {
  levelCounts: 50,
  hysteresisCounts: 4,
  onDelaySteps: 0,
  offDelaySteps: 0,
  delayRunsUnderInhibit: false,
  whenInvalid: "end",
};
const inhibited = (number: ModelInput["number"]): ModelInput => ({
  ...quiet(number),
  isInhibited: true,
});
const acknowledging = (number: ModelInput["number"]): ModelInput => ({
  ...quiet(number),
  acknowledgeRose: true,
});

describe.each(STAGE_BUILDS)("caution, %s build", async (build) => {
  const stage = await openStage(build);
  const states = (profile: Partial<ModelProfile>, inputs: ModelInput[]): number[] => {
    configureCaution(stage, { ...plain, ...profile });
    return inputs.map((input) => cautionStep(stage, input, 60).state);
  };
  const outputs = (profile: Partial<ModelProfile>, numbers: number[]): number[] => {
    configureCaution(stage, { ...plain, ...profile });
    return numbers.map((number) => (cautionStep(stage, quiet(number)).isOn ? 1 : 0));
  };
  const events = (profile: Partial<ModelProfile>, inputs: ModelInput[]): number[][] => {
    configureCaution(stage, { ...plain, ...profile });
    return inputs.map((input) => cautionStep(stage, input, 60).events);
  };

  // Definition of a Schmitt trigger, check values; counts of 0.01.
  const schmitt = [390, 400, 410, 399, 400, 420, 430, 390, 385, 375, 370, 381, 370, 360, 350, 450];
  test("[CAUT-001] comes on at the level and goes off under level minus hysteresis (A-16)", () => {
    const on = outputs({ levelCounts: 400, hysteresisCounts: 20 }, schmitt);
    expect(on).toEqual([0, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 1]);
  });

  test("[CAUT-002] with delays of two steps needs three in a row, both ways (A-17)", () => {
    const profile = { levelCounts: 400, hysteresisCounts: 20, onDelaySteps: 2, offDelaySteps: 2 };
    const on = outputs(profile, schmitt);
    expect(on).toEqual([0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0]);
  });

  // Common practice, check value P-03: one step under the level is normal, at it is a caution.
  test("[CAUT-003] one display step under the level is no caution, at the level it is (P-03)", () => {
    expect(outputs({ levelCounts: 40, hysteresisCounts: 2 }, [39, 40])).toEqual([0, 1]);
  });

  test("[CAUT-004] hysteresis of 0 goes off one step under the level", () => {
    expect(outputs({ hysteresisCounts: 0 }, [50, 49, 50, 50, 49])).toEqual([1, 0, 1, 1, 0]);
  });

  test("[CAUT-005] delays of 0, 1 and 300 steps hold for exactly so many steps after the first", () => {
    for (const delay of [0, 1, 300]) {
      const above = Array.from({ length: delay + 2 }, () => 50);
      const under = Array.from({ length: delay + 2 }, () => 45);
      const on = outputs({ onDelaySteps: delay, offDelaySteps: delay }, [...above, ...under]);
      expect(on.indexOf(1)).toBe(delay);
      expect(on.lastIndexOf(1)).toBe(above.length + delay - 1);
    }
  });

  test("[CAUT-006] a step that breaks the condition restarts its delay", () => {
    const on = outputs({ onDelaySteps: 2, offDelaySteps: 2 }, [50, 50, 49, 50, 50, 50, 45, 45, 46]);
    expect(on).toEqual([0, 0, 0, 0, 0, 1, 1, 1, 1]);
    expect(outputs({ offDelaySteps: 2 }, [50, 45, 45, 46, 45, 45, 45])).toEqual([
      1, 1, 1, 1, 1, 1, 0,
    ]);
  });

  test("[CAUT-007] the state says why number and caution differ", () => {
    const profile = { onDelaySteps: 1, offDelaySteps: 1 };
    expect(states(profile, [49, 50, 50, 48, 45, 45, 50].map(quiet))).toEqual([
      CAUTION_OFF,
      CAUTION_TIMING_ON,
      CAUTION_ON,
      CAUTION_HELD,
      CAUTION_TIMING_OFF,
      CAUTION_OFF,
      CAUTION_TIMING_ON,
    ]);
  });

  test("[CAUT-008] never comes on from a number that is not valid, and its delay starts anew", () => {
    const inputs = [quiet(50), quiet("held"), quiet("blank"), quiet(50), quiet(50)];
    expect(states({ onDelaySteps: 1 }, inputs)).toEqual([
      CAUTION_TIMING_ON,
      CAUTION_OFF,
      CAUTION_OFF,
      CAUTION_TIMING_ON,
      CAUTION_ON,
    ]);
    const whole = Array.from({ length: 50 }, () => quiet("held"));
    expect(states({ whenInvalid: "hold" }, whole)).toEqual(whole.map(() => CAUTION_OFF));
  });

  test("[CAUT-009] a caution that ends by lost validity is told by an event of its own", () => {
    expect(events({}, [quiet(50), quiet("held"), quiet("blank")])).toEqual([
      [EVENT_CAUTION_ON],
      [EVENT_CAUTION_ENDED_INVALID],
      [],
    ]);
    expect(events({ whenInvalid: "hold" }, [quiet(50), quiet("held"), quiet("blank")])).toEqual([
      [EVENT_CAUTION_ON],
      [],
      [EVENT_CAUTION_ENDED_INVALID],
    ]);
  });

  test("[CAUT-010] a caution kept over a held number restarts its off-delay when valid again", () => {
    const inputs = [50, 45, "held", 45, 45, 45].map((n) => quiet(n as ModelInput["number"]));
    expect(states({ whenInvalid: "hold", offDelaySteps: 1 }, inputs)).toEqual([
      CAUTION_ON,
      CAUTION_TIMING_OFF,
      CAUTION_ON,
      CAUTION_TIMING_OFF,
      CAUTION_OFF,
      CAUTION_OFF,
    ]);
  });

  test("[CAUT-011] an inhibit holds back the output and tells both edges of it", () => {
    const inputs = [quiet(50), inhibited(50), inhibited(45), inhibited(50), quiet(50)];
    expect(states({ offDelaySteps: 5 }, inputs)).toEqual([
      CAUTION_ON,
      CAUTION_INHIBITED,
      CAUTION_INHIBITED,
      CAUTION_INHIBITED,
      CAUTION_ON,
    ]);
    expect(events({ offDelaySteps: 5 }, inputs)).toEqual([
      [EVENT_CAUTION_ON],
      [EVENT_INHIBIT_ON, EVENT_CAUTION_OFF],
      [],
      [],
      [EVENT_INHIBIT_OFF, EVENT_CAUTION_ON],
    ]);
  });

  test("[CAUT-012] the on-delay runs under inhibit where the profile says so", () => {
    const inputs = [inhibited(50), inhibited(50), inhibited(50), quiet(50)];
    expect(states({ onDelaySteps: 1, delayRunsUnderInhibit: true }, inputs)).toEqual([
      CAUTION_TIMING_ON,
      CAUTION_INHIBITED,
      CAUTION_INHIBITED,
      CAUTION_ON,
    ]);
  });

  test("[CAUT-013] otherwise the on-delay starts when the inhibit ends", () => {
    const inputs = [inhibited(50), inhibited(50), quiet(50), quiet(50)];
    expect(states({ onDelaySteps: 1 }, inputs)).toEqual([
      CAUTION_TIMING_ON,
      CAUTION_TIMING_ON,
      CAUTION_TIMING_ON,
      CAUTION_ON,
    ]);
    expect(states({}, [inhibited(50), inhibited(48), quiet(48), quiet(50)])).toEqual([
      CAUTION_INHIBITED,
      CAUTION_OFF,
      CAUTION_OFF,
      CAUTION_ON,
    ]);
  });

  test("[CAUT-014] an acknowledge marks this occurrence and switches nothing off", () => {
    configureCaution(stage, plain);
    const inputs = [quiet(50), acknowledging(50), quiet(50), quiet(45), quiet(50)];
    const answers = inputs.map((input) => cautionStep(stage, input));
    expect(answers.map((a) => a.isOn)).toEqual([true, true, true, false, true]);
    expect(answers.map((a) => a.isAcknowledged)).toEqual([false, true, true, false, false]);
    expect(answers[1]?.events).toEqual([EVENT_ACKNOWLEDGED]);
    expect(answers[3]?.events).toEqual([EVENT_CAUTION_OFF]);
  });

  test("[CAUT-015] an acknowledge that rose before the caution came on marks nothing", () => {
    configureCaution(stage, plain);
    const answers = [acknowledging(49), acknowledging(50), quiet(50)].map((input) =>
      cautionStep(stage, input),
    );
    expect(answers.map((a) => a.isAcknowledged)).toEqual([false, false, false]);
    expect(answers[1]?.events).toEqual([EVENT_CAUTION_ON]);
  });

  test("[CAUT-016] a display without a caution has none, whatever the number", () => {
    configureCaution(stage, plain);
    stage.view.setUint32(stage.run.addressDisplay() + 24, 0, true);
    const answer = cautionStep(stage, { number: 99, isInhibited: true, acknowledgeRose: true });
    expect(answer).toEqual({
      isAtLevel: false,
      isOn: false,
      isAcknowledged: false,
      state: CAUTION_OFF,
      events: [],
    });
  });

  test("[CAUT-017] a count of steps stays at its top instead of beginning anew", () => {
    configureCaution(stage, { ...plain, onDelaySteps: 2 ** 32 - 2 });
    expect(cautionStep(stage, quiet(50)).isOn).toBe(false);
    // Eight years and more at 20 steps a second: written where it would stand.
    stage.view.setUint32(stage.run.addressOnSteps(), 2 ** 32 - 1, true);
    const answers = [quiet(50), quiet(50)].map((input) => cautionStep(stage, input));
    expect(answers.map((a) => a.isOn)).toEqual([true, true]);
  });
});
