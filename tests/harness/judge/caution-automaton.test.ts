import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import * as U from "../../../shared/units.ts";
import type { CautionProfile } from "../../../harness/scene/scene.ts";
import type { CautionInput } from "../../../harness/judge/caution-automaton.ts";
import { CautionAutomaton } from "../../../harness/judge/caution-automaton.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const PROFILE: CautionProfile = {
  levelCounts: 50,
  hysteresisCounts: 4,
  onDelaySteps: 2,
  offDelaySteps: 1,
  delayRunsUnderInhibit: false,
  whenInvalid: "end",
};

function input(low: number, high = low, over: Partial<CautionInput> = {}): CautionInput {
  return { low, high, isValid: true, isHeld: false, isInhibited: false, ...over };
}

/** The names of the states that are possible after each step. */
function statesOf(profile: CautionProfile, inputs: CautionInput[]): number[] {
  const automaton = new CautionAutomaton(profile);
  return inputs.map((one) => {
    automaton.step(one);
    return automaton.states;
  });
}

const bit = (state: number): number => 1 << state;
const OFF = bit(U.CAUTION_OFF);
const TIMING_ON = bit(U.CAUTION_TIMING_ON);
const ON = bit(U.CAUTION_ON);
const TIMING_OFF = bit(U.CAUTION_TIMING_OFF);
const HELD = bit(U.CAUTION_HELD);
const INHIBITED = bit(U.CAUTION_INHIBITED);
const INVALID = input(0, 0, { isValid: false });
const HELD_INVALID = input(0, 0, { isValid: false, isHeld: true });

describe("the table of states", () => {
  it.each<[string, Partial<CautionProfile>, CautionInput[], number[]]>([
    [
      "on after the delay, held by hysteresis, off after the delay",
      {},
      [50, 50, 50, 49, 46, 45, 45].map((count) => input(count)),
      [TIMING_ON, TIMING_ON, ON, HELD, HELD, TIMING_OFF, OFF],
    ],
    [
      "at once where the delays are 0",
      { onDelaySteps: 0, offDelaySteps: 0 },
      [49, 50, 46, 45].map((count) => input(count)),
      [OFF, ON, HELD, OFF],
    ],
    [
      "a step that breaks the condition restarts its delay",
      {},
      [50, 50, 49, 50, 50, 50, 45, 46, 45, 45].map((count) => input(count)),
      [TIMING_ON, TIMING_ON, OFF, TIMING_ON, TIMING_ON, ON, TIMING_OFF, HELD, TIMING_OFF, OFF],
    ],
    [
      "no hysteresis: under the level is at once under its end",
      { hysteresisCounts: 0, offDelaySteps: 0 },
      [50, 50, 50, 49].map((count) => input(count)),
      [TIMING_ON, TIMING_ON, ON, OFF],
    ],
    [
      "an invalid number ends it at once",
      {},
      [input(50), input(50), input(50), HELD_INVALID, input(50)],
      [TIMING_ON, TIMING_ON, ON, OFF, TIMING_ON],
    ],
    [
      "an invalid number breaks the on-delay",
      {},
      [input(50), input(50), HELD_INVALID, input(50)],
      [TIMING_ON, TIMING_ON, OFF, TIMING_ON],
    ],
    [
      "a held number keeps it on where the policy says so, a blank one ends it",
      { whenInvalid: "hold", onDelaySteps: 0 },
      [input(50), HELD_INVALID, HELD_INVALID, INVALID],
      [ON, ON, ON, OFF],
    ],
    [
      "a held number never brings it on",
      { whenInvalid: "hold", onDelaySteps: 0 },
      [input(45), HELD_INVALID, input(45)],
      [OFF, OFF, OFF],
    ],
    [
      "an inhibit holds back a caution that is on, and gives it back",
      { onDelaySteps: 0 },
      [input(50), input(50, 50, { isInhibited: true }), input(50)],
      [ON, INHIBITED, ON],
    ],
    [
      "under an inhibit the on-delay stands at its start",
      {},
      [
        ...[1, 2, 3, 4].map(() => input(50, 50, { isInhibited: true })),
        ...[1, 2, 3].map(() => input(50)),
      ],
      [TIMING_ON, TIMING_ON, TIMING_ON, TIMING_ON, TIMING_ON, TIMING_ON, ON],
    ],
    [
      "under an inhibit the on-delay runs on where it is said to",
      { delayRunsUnderInhibit: true },
      [...[1, 2, 3, 4].map(() => input(50, 50, { isInhibited: true })), input(50)],
      [TIMING_ON, TIMING_ON, INHIBITED, INHIBITED, ON],
    ],
    [
      "an inhibited caution still ends by its number",
      { onDelaySteps: 0, offDelaySteps: 0 },
      [input(50), input(45, 45, { isInhibited: true }), input(46)],
      [ON, OFF, OFF],
    ],
  ])("[JUDGE-030] %s", (_, over, inputs, expected) => {
    expect(statesOf({ ...PROFILE, ...over }, inputs)).toEqual(expected);
  });

  it("[JUDGE-031] leaves open exactly what an interval leaves open", () => {
    const inputs = [input(49, 50), input(50), input(50), input(50), input(44, 47), input(45)];
    expect(statesOf(PROFILE, inputs)).toEqual([
      OFF | TIMING_ON,
      TIMING_ON,
      TIMING_ON | ON,
      ON,
      HELD | TIMING_OFF,
      OFF | TIMING_OFF,
    ]);
  });
});

/** Every sequence of counts inside the intervals, through the table one by one. */
function enumerated(profile: CautionProfile, inputs: CautionInput[]): number[] {
  const possible = inputs.map(() => 0);
  const walk = (at: number, counts: CautionInput[]): void => {
    if (at === inputs.length) {
      statesOf(profile, counts).forEach((states, i) => (possible[i]! |= states));
      return;
    }
    const one = inputs[at]!;
    for (let count = one.low; count <= one.high; count += 1) {
      walk(at + 1, [...counts, { ...one, low: count, high: count }]);
    }
  };
  walk(0, []);
  return possible;
}

describe("laws of the automaton", () => {
  const profiles = fc.record({
    levelCounts: fc.constant(5),
    hysteresisCounts: fc.integer({ min: 0, max: 2 }),
    onDelaySteps: fc.integer({ min: 0, max: 3 }),
    offDelaySteps: fc.integer({ min: 0, max: 3 }),
    delayRunsUnderInhibit: fc.boolean(),
    whenInvalid: fc.constantFrom("end" as const, "hold" as const),
  });
  const inputs = fc.array(
    fc
      .record({
        low: fc.integer({ min: 2, max: 6 }),
        width: fc.integer({ min: 0, max: 2 }),
        isValid: fc.boolean(),
        isHeld: fc.boolean(),
        isInhibited: fc.boolean(),
      })
      .map(({ width, ...one }) => ({ ...one, high: one.low + width })),
    { minLength: 1, maxLength: 6 },
  );

  it("[JUDGE-032] the states it keeps are those of all sequences inside the intervals", () => {
    fc.assert(
      fc.property(profiles, inputs, (profile, steps) => {
        expect(statesOf(profile, steps)).toEqual(enumerated(profile, steps));
      }),
      { seed: TEST_SEED, numRuns: 300 },
    );
  });

  it("[JUDGE-033] a wider interval leaves open no less", () => {
    fc.assert(
      fc.property(profiles, inputs, (profile, steps) => {
        const wider = steps.map((one) => ({ ...one, low: one.low - 1, high: one.high + 1 }));
        const narrow = statesOf(profile, steps);
        statesOf(profile, wider).forEach((states, i) => {
          expect(states & narrow[i]!).toBe(narrow[i]);
        });
      }),
      { seed: TEST_SEED, numRuns: 500 },
    );
  });
});
