// Drives the caution stage of an open stage as a test reads it.
import * as L from "../../../shared/layout.ts";
import type { ModelAnswer, ModelInput, ModelProfile } from "./caution-model.ts";
import { type Stage, writeFields } from "./stage.ts";

// The stage's bits for what a step is told (assembly/caution.ts).
export const NUMBER_VALID = 1;
export const NUMBER_HELD = 2;
export const INHIBIT_STANDS = 4;
export const ACKNOWLEDGE_ROSE = 8;

export function configureCaution(stage: Stage, profile: ModelProfile): void {
  const flags =
    L.DISPLAY_FLAG_CAUTION |
    (profile.delayRunsUnderInhibit ? L.DISPLAY_FLAG_DELAY_UNDER_INHIBIT : 0) |
    (profile.whenInvalid === "hold" ? L.DISPLAY_FLAG_HOLD_CAUTION : 0);
  writeFields(stage.view, stage.run.addressDisplay(), [
    [L.DISPLAY_FLAGS, "u32", flags],
    [L.DISPLAY_CAUTION_COUNTS, "i32", profile.levelCounts],
    [L.DISPLAY_HYSTERESIS_COUNTS, "i32", profile.hysteresisCounts],
    [L.DISPLAY_ON_STEPS, "u32", profile.onDelaySteps],
    [L.DISPLAY_OFF_STEPS, "u32", profile.offDelaySteps],
  ]);
  stage.run.stageReset();
}

/** The order in which a step's events are recorded. */
const EVENT_ORDER = [14, 15, 13, 10, 11, 12];

/** One step of the stage. A held number carries the value that it last had. */
export function cautionStep(stage: Stage, input: ModelInput, heldCounts = 0): ModelAnswer {
  const isValid = typeof input.number === "number";
  const told =
    (isValid ? NUMBER_VALID : 0) |
    (input.number === "held" ? NUMBER_HELD : 0) |
    (input.isInhibited ? INHIBIT_STANDS : 0) |
    (input.acknowledgeRose ? ACKNOWLEDGE_ROSE : 0);
  const shown = typeof input.number === "number" ? input.number : heldCounts;
  const bits = stage.run.stageCaution(shown, told);
  const marks = stage.run.stageCautionMarks();
  return {
    isAtLevel: (marks & L.STATUS_AT_LEVEL) !== 0,
    isOn: (marks & L.STATUS_CAUTION) !== 0,
    isAcknowledged: (marks & L.STATUS_ACKNOWLEDGED) !== 0,
    state: stage.run.stageCautionState(),
    events: EVENT_ORDER.filter((code) => (bits & (1 << code)) !== 0),
  };
}

/** A step with a valid number and quiet inputs. */
export function quiet(number: ModelInput["number"]): ModelInput {
  return { number, isInhibited: false, acknowledgeRose: false };
}
