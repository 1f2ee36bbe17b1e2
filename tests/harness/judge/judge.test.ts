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

  it("[JUDGE-003] says what was found, what was expected and when, in under 160 characters", () => {
    const one = cautionScene();
    const flight = fly(one, (filter, step) => ({
      ...CLIMB(filter, step),
      error: step === 123 ? 0.02 : 0,
    }));
    const level = named(judged(one, flight), "level");
    expect(level.isRight).toBe(false);
    expect(level.why).toBe(
      "fan order 1: level reads 5.54 in/s pk at 12.3 s, expected 5.52 ± 0.004; 1 of 299 steps wrong.",
    );
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
    expect(missing.why).toContain("no record at");
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
});
