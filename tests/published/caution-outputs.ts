// The caution's output step by step: the firmware's stage in both builds, and the judge's automaton,
// which must agree.
import { beforeAll, expect } from "vitest";
import { CautionAutomaton } from "../../harness/judge/caution-automaton.ts";
import type { ModelInput, ModelProfile } from "../assembly/kit/caution-model.ts";
import { cautionStep, configureCaution, quiet } from "../assembly/kit/caution-stage.ts";
import { openStage, STAGE_BUILDS } from "../assembly/kit/stage.ts";
import type { Stage } from "../assembly/kit/stage.ts";

export const stages: Stage[] = [];
beforeAll(async () => {
  // oxlint-disable-next-line no-await-in-loop
  for (const build of STAGE_BUILDS) stages.push(await openStage(build));
});

/** Level 4.0 and hysteresis 0.2 in counts of 0.01. */
export const CAUTION: ModelProfile = {
  levelCounts: 400,
  hysteresisCounts: 20,
  onDelaySteps: 0,
  offDelaySteps: 0,
  delayRunsUnderInhibit: false,
  whenInvalid: "end",
};

/** Whether the caution is on after each step: both builds, and the judge's automaton, agree. */
export function outputs(over: Partial<ModelProfile>, numbers: ModelInput["number"][]): number[] {
  const profile = { ...CAUTION, ...over };
  const automaton = new CautionAutomaton(profile);
  const judged = numbers.map((number) => {
    const isValid = typeof number === "number";
    const counts = isValid ? number : 0;
    const isHeld = number === "held";
    automaton.step({ low: counts, high: counts, isValid, isHeld, isInhibited: false });
    return automaton.mayBeLit && !automaton.mayBeDark ? 1 : 0;
  });
  for (const stage of stages) {
    configureCaution(stage, profile);
    expect(numbers.map((one) => (cautionStep(stage, quiet(one)).isOn ? 1 : 0))).toEqual(judged);
  }
  return judged;
}
