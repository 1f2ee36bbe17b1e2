import { describe, expect, test } from "vitest";
import * as L from "../../shared/layout.ts";
import * as U from "../../shared/units.ts";
import { openStage, STAGE_BUILDS, writeFields } from "./kit/stage.ts";

// The stage's facts (assembly/validity.ts).
const TEST = 1;
const TRANSDUCER = 2;
const LOCKED = 4;
const HAS_BEEN_LOCKED = 8;
const EVIDENCE = 16;
const COMPUTED = 32;
const RESPONSE_LOW = 64;
const SETTLED = 128;
const GOOD = LOCKED | HAS_BEEN_LOCKED | COMPUTED | SETTLED;

const name = (validity: number, cause: number): number => (validity << 8) | cause;
const VALID = name(U.VALID, U.CAUSE_NONE);
const BELOW = name(U.NO_COMPUTED_DATA, U.CAUSE_BELOW_MINIMUM_SPEED);
const SETTLING = name(U.NO_COMPUTED_DATA, U.CAUSE_SETTLING);
const RESPONSE = name(U.NO_COMPUTED_DATA, U.CAUSE_RESPONSE);
const STOPPED = name(U.NO_COMPUTED_DATA, U.CAUSE_STOPPED);
const NO_REFERENCE = name(U.NO_COMPUTED_DATA, U.CAUSE_NO_REFERENCE);
const LOST = name(U.FAILURE, U.CAUSE_REFERENCE_LOST);
const FAILED = name(U.FAILURE, U.CAUSE_TRANSDUCER);
const TESTING = name(U.FUNCTIONAL_TEST, U.CAUSE_FUNCTIONAL_TEST);

const SPEED_MIN = 20;
const HYSTERESIS = 4;
const FAST = 100;
const SLOW = 10;

describe.each(STAGE_BUILDS)("validity, %s build", async (build) => {
  const { run, view } = await openStage(build);
  const configure = (steps: number): void => {
    writeFields(view, run.addressShaft(), [
      [L.SHAFT_VALID_SPEED, "f32", SPEED_MIN],
      [L.SHAFT_VALID_HYSTERESIS, "f32", HYSTERESIS],
      [L.SHAFT_VALID_STEPS, "u32", steps],
    ]);
    run.stageReset();
  };
  const once = (facts: number, speed: number): number => {
    configure(0);
    return run.stageValidity(0, facts, speed);
  };

  test.each([
    ["all is well", GOOD, FAST, VALID],
    ["nothing found yet", 0, 0, NO_REFERENCE],
    ["nothing found yet, but it turns", EVIDENCE, 0, LOST],
    ["the reference went, nothing shows turning", HAS_BEEN_LOCKED, 0, STOPPED],
    ["the reference went, the shaft turns", HAS_BEEN_LOCKED | EVIDENCE, 0, LOST],
    ["found, no vector yet", LOCKED | HAS_BEEN_LOCKED, 0, SETTLING],
    ["a vector, not settled", GOOD & ~SETTLED, FAST, SETTLING],
    ["response too low", GOOD | RESPONSE_LOW, FAST, RESPONSE],
    ["response too low, no vector made", LOCKED | HAS_BEEN_LOCKED | RESPONSE_LOW, 0, RESPONSE],
    ["slow", GOOD, SLOW, BELOW],
    ["a transducer failed", GOOD | TRANSDUCER, FAST, FAILED],
    ["the functional test runs", GOOD | TEST, FAST, TESTING],
  ])("[LEVEL-030] %s", (_name, facts, speed, expected) => {
    expect(once(facts, speed)).toBe(expected);
  });

  test("[LEVEL-031] of several causes the first in the order of precedence is told", () => {
    const worst = TEST | TRANSDUCER | EVIDENCE | HAS_BEEN_LOCKED | RESPONSE_LOW | COMPUTED;
    expect(once(worst, SLOW)).toBe(TESTING);
    expect(once(worst & ~TEST, SLOW)).toBe(FAILED);
    expect(once(worst & ~TEST & ~TRANSDUCER, SLOW)).toBe(LOST);
    const turning = LOCKED | HAS_BEEN_LOCKED | RESPONSE_LOW | COMPUTED;
    expect(once(turning, SLOW)).toBe(BELOW);
    expect(once(turning, FAST)).toBe(RESPONSE);
    expect(once(turning & ~RESPONSE_LOW, FAST)).toBe(SETTLING);
  });

  test("[LEVEL-032] only one of all 256 sets of facts in each evidence state is valid", () => {
    for (let facts = 0; facts < 256; facts++) {
      const isGood =
        (facts & (TEST | TRANSDUCER | RESPONSE_LOW)) === 0 &&
        (facts & (LOCKED | COMPUTED | SETTLED)) === (LOCKED | COMPUTED | SETTLED);
      expect(once(facts, FAST) === VALID, `facts ${facts}`).toBe(isGood);
    }
  });

  test("[LEVEL-033] a valid number outlasts a dip below minimum speed shorter than the delay", () => {
    configure(2);
    const speeds = [FAST, SLOW, SLOW, FAST, SLOW, SLOW, SLOW];
    const found = speeds.map((speed) => run.stageValidity(0, GOOD, speed));
    expect(found).toEqual([VALID, VALID, VALID, VALID, VALID, VALID, BELOW]);
  });

  test("[LEVEL-034] below minimum speed ends at minimum plus hysteresis, at once", () => {
    configure(0);
    const speeds = [FAST, 20, 19.99, 20, 23.99, 24, 20, 19.99];
    const found = speeds.map((speed) => run.stageValidity(0, GOOD, speed));
    expect(found).toEqual([VALID, VALID, BELOW, BELOW, BELOW, VALID, VALID, BELOW]);
  });

  test("[LEVEL-035] no delay before the first valid number: it counts from the first speed on", () => {
    configure(5);
    expect(run.stageValidity(0, GOOD & ~SETTLED, SLOW)).toBe(BELOW);
    expect(run.stageValidity(0, GOOD, 23)).toBe(BELOW);
    expect(run.stageValidity(0, GOOD, 24)).toBe(VALID);
    // Lost and found again: the same.
    run.stageValidity(0, HAS_BEEN_LOCKED, 0);
    expect(run.stageValidity(0, GOOD, SLOW)).toBe(BELOW);
  });

  test("[LEVEL-036] acquired between minimum and minimum plus hysteresis the number is valid", () => {
    configure(0);
    expect(run.stageValidity(0, GOOD, 21)).toBe(VALID);
  });

  const greatest = (facts: number[], sources: number): number => {
    configure(0);
    writeFields(view, run.addressDisplay(), [
      [L.DISPLAY_SOURCE, "u32", U.SOURCE_GREATEST],
      [L.DISPLAY_SCALE_COUNT, "u32", 1],
      [L.DISPLAY_SOURCES, "u32", sources],
    ]);
    let valid = 0;
    facts.forEach((one, f) => {
      if (run.stageValidity(f, one, FAST) === VALID) valid |= 1 << f;
    });
    return run.stageShownValidity(0, run.stageSource(0, facts.length, valid), facts.length);
  };

  test.each([
    ["one of two is valid", [GOOD | TRANSDUCER, GOOD], 0b11, VALID],
    ["all failed", [GOOD | TRANSDUCER, EVIDENCE], 0b11, name(U.FAILURE, U.CAUSE_NO_SOURCE)],
    [
      "one failed, one not computed",
      [GOOD | TRANSDUCER, LOCKED],
      0b11,
      name(U.NO_COMPUTED_DATA, U.CAUSE_NO_SOURCE),
    ],
    ["only a filter that is no source is valid", [GOOD, LOCKED], 0b10, name(1, U.CAUSE_NO_SOURCE)],
    ["the functional test runs", [GOOD | TEST, GOOD | TEST], 0b11, TESTING],
  ])("[LEVEL-037] greatest of several: %s", (_name, facts, sources, expected) => {
    expect(greatest(facts, sources)).toBe(expected);
  });

  test.each([
    ["itself valid", GOOD, LOCKED, VALID],
    ["failed, the other serves", GOOD | TRANSDUCER, GOOD, VALID],
    ["failed, the other not valid either: its own cause", GOOD | TRANSDUCER, LOCKED, FAILED],
  ])("[LEVEL-038] substitute: %s", (_name, own, other, expected) => {
    configure(0);
    writeFields(view, run.addressDisplay(), [
      [L.DISPLAY_SOURCE, "u32", U.SOURCE_SUBSTITUTE],
      [L.DISPLAY_SOURCES, "u32", 1],
    ]);
    let valid = 0;
    if (run.stageValidity(0, own, FAST) === VALID) valid |= 1;
    if (run.stageValidity(1, other, FAST) === VALID) valid |= 2;
    expect(run.stageShownValidity(0, run.stageSource(0, 2, valid), 2)).toBe(expected);
  });

  // IEEE 754, check value D-39: every comparison with NaN is false.
  test("[LEVEL-039] a speed that is no number neither sets nor clears the minimum-speed state", () => {
    configure(0);
    expect(run.stageValidity(0, GOOD, NaN)).toBe(VALID);
    run.stageValidity(0, GOOD, SLOW);
    expect(run.stageValidity(0, GOOD, NaN)).toBe(BELOW);
  });

  // Three cycles after the step that came after the last spoiled one; before the first vector four.
  test.each([
    ["with a vector", GOOD, 3],
    ["before the first vector", LOCKED | HAS_BEEN_LOCKED, 4],
  ])("[LEVEL-074] samples are clean so many cycles after the test: %s", (_name, facts, cycles) => {
    configure(0);
    run.stageSpoiled(0, facts | TEST, 7, 0, true);
    expect(run.stageValidity(0, facts | TEST, FAST)).toBe(TESTING);
    const spoiledAt = (revolution: number): boolean => {
      const isSpoiled = run.stageSpoiled(0, facts, revolution, 0, true) !== 0;
      run.stageValidity(0, facts, FAST);
      return isSpoiled;
    };
    const found = Array.from({ length: 6 }, (_, i) => spoiledAt(10 + i));
    expect(found).toEqual(Array.from({ length: 6 }, (_, i) => i < cycles));
  });

  test("[LEVEL-040] a speed that is long below its minimum stays below, its steps at their top", () => {
    configure(2 ** 32 - 2);
    expect(run.stageValidity(0, GOOD, FAST)).toBe(VALID);
    expect(run.stageValidity(0, GOOD, SLOW)).toBe(VALID);
    view.setUint32(run.addressBelowSteps(), 2 ** 32 - 1, true);
    expect(run.stageValidity(0, GOOD, SLOW)).toBe(BELOW);
  });
});
