import { describe, expect, it } from "vitest";
import * as U from "../../../shared/units.ts";
import { makeJudge } from "../../../harness/judge/judge.ts";
import { CLIMB, cautionScene, judged, named } from "./caution-flight.ts";
import type { Script } from "./fake-flight.ts";
import { fly } from "./fake-flight.ts";

describe("a flight judged", () => {
  it("[JUDGE-001] is right where every record, event and exceedance is", () => {
    const one = cautionScene();
    const verdict = judged(one, fly(one, CLIMB));
    expect(verdict.checks.filter((check) => !check.isRight)).toEqual([]);
    expect(verdict.isRight).toBe(true);
    expect(named(verdict, "level").judgedCount).toBe(299);
    expect(verdict.events.map((event) => event.name)).toEqual([
      "valid",
      "caution-on",
      "caution-off",
    ]);
    expect(verdict.exceedances).toHaveLength(1);
  });

  it("[JUDGE-002] gives the same verdict however the bytes are cut", () => {
    const one = cautionScene();
    const flight = fly(one, CLIMB);
    const judge = makeJudge(one, flight.truth());
    for (let at = 0, size = 1; at < flight.bytes.length; at += size, size = (size * 7) % 197) {
      judge.take(flight.bytes.subarray(at, at + size));
    }
    expect(judge.finish(flight.counters)).toEqual(judged(one, flight));
  });

  it("[JUDGE-003] says what was found and expected, when, by how much, in 160 characters", () => {
    const one = cautionScene();
    const flight = fly(one, (filter, step) => ({
      ...CLIMB(filter, step),
      error: step === 123 ? 0.02 : 0,
    }));
    const level = named(judged(one, flight), "level");
    expect(level.isRight).toBe(false);
    expect(level.why).toBe(
      "fan order 1: level reads 5.54 in/s pk at 12.3 s, expected 5.52 ± 0.004: 0.02 too high, " +
        "5 × the tolerance; 1 of 299 steps wrong.",
    );
    expect(level.why.length).toBeLessThan(160);
    expect(level.worstRatio).toBeCloseTo(5, 3);
    expect(level.worstTimeS).toBeCloseTo(12.3, 9);
  });

  it("[JUDGE-004] counts NaN as wrong", () => {
    const one = cautionScene();
    const flight = fly(one, (filter, step) => ({
      ...CLIMB(filter, step),
      error: step === 7 ? Number.NaN : 0,
    }));
    const level = named(judged(one, flight), "level");
    expect(level.isRight).toBe(false);
    expect(level.why).toContain("reads not a number");
  });

  it("[JUDGE-005] states the smallest constant error that could not have passed", () => {
    const one = cautionScene();
    const error = 0.001;
    const steady: Script = () => ({ level: 4.02, levelTol: 0.004, error });
    const { smallestCaught } = named(judged(one, fly(one, steady)), "level");
    // tolerance + |error|: the shift that pushes the value out on the far side
    expect(smallestCaught).toBeCloseTo(0.005, 6);
    const pushed = (by: number): boolean =>
      named(
        judged(
          one,
          fly(one, () => ({ level: 4.02, levelTol: 0.004, error: error + by })),
        ),
        "level",
      ).isRight;
    expect(pushed(-(smallestCaught * 0.999))).toBe(true);
    expect(pushed(-(smallestCaught * 1.001))).toBe(false);
    expect(pushed(smallestCaught * 1.001)).toBe(false);
  });

  it("[JUDGE-006] judges nothing where the truth does not", () => {
    const one = cautionScene();
    const flight = fly(one, (filter, step) => ({
      ...CLIMB(filter, step),
      error: step < 10 ? 1 : 0,
      isJudged: step >= 10,
    }));
    expect(named(judged(one, flight), "level").isRight).toBe(true);
    expect(named(judged(one, flight), "level").judgedCount).toBe(290);
  });

  it("[JUDGE-007] finds a judged step without a record, a step too many, and one told twice", () => {
    const one = cautionScene();
    const flight = fly(one, CLIMB);
    const record = flight.bytes.subarray(64 * 20, 64 * 21);
    const without = new Uint8Array([
      ...flight.bytes.subarray(0, 64 * 20),
      ...flight.bytes.subarray(64 * 21),
    ]);
    const twice = new Uint8Array([...flight.bytes.subarray(0, 64 * 21), ...record]);
    const missing = named(judged(one, flight, without), "level");
    expect(missing.wrongCount).toBe(1);
    expect(missing.why).toContain("a record was expected at 2 s, none came");
    expect(missing).toMatchObject({ worstRatio: null, worstError: null, worstTolerance: 0 });
    const doubled = named(judged(one, flight, twice), "level");
    expect(doubled.why).toContain("it comes twice");
  });

  it("[JUDGE-008] finds bytes that are no record", () => {
    const one = cautionScene();
    const flight = fly(one, CLIMB);
    const bytes = flight.bytes.slice();
    bytes[0] = 99;
    expect(named(judged(one, flight, bytes), "events").why).toContain("kind 99 is not known");
    const cut = named(judged(one, flight, flight.bytes.subarray(0, 1000)), "events");
    expect(cut.why).toContain("left over");
  });

  it("[JUDGE-009] keeps at most 2,000 points of a long flight, the extremes among them", () => {
    const one = cautionScene({ durationS: 3600 });
    const flight = fly(one, (_, step) => ({
      level: step === 20_001 ? 4.5 : 4.02,
      levelTol: 0.004,
    }));
    const { trace } = judged(one, flight).filters[0]!;
    expect(trace.timeS.length).toBeLessThanOrEqual(2000);
    expect(Math.max(...trace.level)).toBeCloseTo(4.5, 6);
    expect(trace.timeS).toEqual(trace.timeS.toSorted((a, b) => a - b));
  });

  it("[JUDGE-010] keeps a caution's change in a thinned trace", () => {
    const one = cautionScene({ durationS: 3600 });
    const flight = fly(one, (_, step) => ({
      level: step >= 20_000 && step < 20_010 ? 5.52 : 4.02,
      levelTol: 0.004,
    }));
    const { trace } = judged(one, flight).filters[0]!;
    expect(trace.cautionState).toContain(U.CAUTION_TIMING_ON);
    expect(trace.cautionState.some((state) => state === U.CAUTION_ON)).toBe(true);
  });

  it("[JUDGE-011] keeps the step nearest to its limit, not the widest, and what makes it up", () => {
    const one = cautionScene();
    // Widest at step 200 with nothing off; nearest at step 123 with half of a narrow tolerance off.
    const flight = fly(one, (_, step) => ({
      level: 4.02,
      levelTol: step === 200 ? 0.1 : 0.004,
      error: step === 123 ? -0.002 : 0.0001,
    }));
    const verdict = judged(one, flight);
    const { nearest, toleranceShare } = verdict.filters[0]!;
    expect(nearest).toMatchObject({ step: 123, tolerance: 0.004 });
    expect(nearest?.timeS).toBeCloseTo(12.3, 9);
    expect(nearest?.error).toBeCloseTo(-0.002, 6);
    expect(nearest?.timeS).toBe(named(verdict, "level").worstTimeS);
    const sum = nearest?.terms.reduce((all, term) => all + term.value, 0);
    expect(sum).toBeCloseTo(0.004, 9);
    expect(toleranceShare).toBeCloseTo(0.1 / 4.02, 9);
  });

  it("[JUDGE-012] has no nearest step where nothing is judged, and no error where no number", () => {
    const one = cautionScene();
    const never = judged(
      one,
      fly(one, () => ({ level: 4.02, levelTol: 0.004, isJudged: false })),
    );
    expect(never.filters[0]!.nearest).toBeUndefined();
    const flight = fly(one, (_, step) => ({
      level: 4.02,
      levelTol: 0.004,
      error: step === 7 ? Number.NaN : 0,
    }));
    const verdict = judged(one, flight);
    expect(verdict.filters[0]!.nearest).toMatchObject({ step: 7, error: null });
    expect(named(verdict, "level")).toMatchObject({ worstRatio: null, worstError: null });
    expect(JSON.parse(JSON.stringify(named(verdict, "level")))).toEqual(named(verdict, "level"));
  });

  it("[JUDGE-013] keeps the least and the greatest number that was shown as valid", () => {
    const one = cautionScene({ durationS: 3600 });
    const flight = fly(one, (_, step) => ({
      level: step === 20_001 ? 4.52 : step === 20_002 ? 3.32 : 4.02,
      levelTol: 0.004,
    }));
    const { shownRange } = judged(one, flight).filters[0]!;
    expect(shownRange?.least).toBeCloseTo(3.3, 9);
    expect(shownRange?.most).toBeCloseTo(4.5, 9);
  });
});
