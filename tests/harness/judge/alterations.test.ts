import { describe, expect, it } from "vitest";
import * as U from "../../../shared/units.ts";
import type { Expectation } from "../../../harness/scene/scene.ts";
import { ALTERATIONS } from "../../../harness/judge/alterations.ts";
import { makePlainJudge } from "../../../harness/judge/streaming-judge.ts";
import type { CounterTruth, EventTruth, SceneTruth } from "../../../harness/truth/types.ts";
import { filterProfile, monitorProfile, scene } from "../../kit/scene-builder.ts";
import { CLIMB, cautionScene, judged, notCaught, reportsOn } from "./caution-flight.ts";
import { fly } from "./fake-flight.ts";

const FOUND: EventTruth = {
  code: U.EVENT_REFERENCE_FOUND,
  source: 0,
  fromTick: 100,
  untilTick: 200,
  why: "three consistent revolutions",
};
const EDGES: CounterTruth = { name: "edges", index: 0, min: 799, max: 801, why: "80 a second" };
const DEVICE_EVENT = {
  kind: "event" as const,
  code: U.EVENT_REFERENCE_FOUND,
  source: 0,
  sequence: 0,
  tick: 150,
  revolution: 0,
  speedRevPerS: 80,
  re: 0,
  im: 0,
  level: 0,
  shownCounts: 0,
  detail: 0,
};
const LOST: EventTruth = { ...FOUND, code: U.EVENT_REFERENCE_LOST, why: "a drop-out" };
const LOST_EVENT = { ...DEVICE_EVENT, code: U.EVENT_REFERENCE_LOST, detail: U.LOST_GAP };
const EXTRA = {
  events: [FOUND, LOST],
  deviceEvents: [DEVICE_EVENT, LOST_EVENT],
  counters: [EDGES],
};

describe("alterations", () => {
  it("[JUDGE-020] are each found in a flight with everything in it", () => {
    const one = cautionScene();
    const flight = fly(one, CLIMB, EXTRA);
    const reports = reportsOn(one, flight);
    expect(reports.map((report) => report.name)).toEqual(ALTERATIONS.map(({ name }) => name));
    expect(notCaught(reports)).toEqual([]);
    expect(reports.filter((report) => report.notApplicable !== undefined)).toEqual([]);
    for (const report of reports) {
      expect(report.triedCount, report.name).toBeGreaterThan(0);
      expect(report.ownCount, report.name).toBe(report.triedCount);
    }
  });

  it("[JUDGE-021] that a case has no place for are listed as not applicable", () => {
    const one = scene({ profile: monitorProfile({ filters: [filterProfile()] }) });
    const flight = fly(one, CLIMB);
    const reports = reportsOn(one, flight);
    const without = reports.filter((report) => report.notApplicable !== undefined);
    const names = without.map((report) => report.name);
    expect(names).toContain("caution-edge");
    expect(names).toContain("exceedance-peak");
    expect(names).toContain("counter");
    for (const report of without) expect(report.triedCount).toBe(0);
  });

  it("[JUDGE-022] that are smaller than the tolerance are not found, and that is told", () => {
    const one = cautionScene();
    // The phase's tolerance is 0.1 degrees; a truth that allows 100 lets any turn pass.
    const flight = fly(one, CLIMB);
    const blind = (): SceneTruth => {
      const truth = flight.truth();
      const step = truth.step.bind(truth);
      truth.step = (filter, at) => ({ ...step(filter, at), phaseTolDeg: 180 });
      return truth;
    };
    const reports = reportsOn(one, flight, blind);
    const phase = reports.find((report) => report.name === "phase")!;
    expect(phase.caughtCount).toBe(0);
    expect(phase.notCaught[0]).toContain("299 of 299 places");
  });

  it("[JUDGE-028] of an event that the truth leaves open are left out, and counted", () => {
    const one = cautionScene();
    const open = { ...FOUND, isOptional: true };
    const flight = fly(one, CLIMB, { ...EXTRA, events: [open, LOST] });
    const reports = reportsOn(one, flight);
    const missing = reports.find((report) => report.name === "event-missing")!;
    expect(missing.openCount).toBe(1);
    expect(missing.placeCount).toBe(4);
    expect(notCaught(reports)).toEqual([]);
  });

  it("[JUDGE-023] of a caution's edge are found though the truth leaves the edge open", () => {
    // Level and tolerance straddle the caution level for long: either is allowed, but the caution
    // must follow the number that its own records show.
    const one = cautionScene({ expectation: { eitherShare: 1 } });
    const flight = fly(one, (_, step) => ({
      level: step >= 50 && step < 150 ? 4.96 : 4.45,
      levelTol: 0.6,
    }));
    const reports = reportsOn(one, flight);
    const edge = reports.find((report) => report.name === "caution-edge")!;
    expect(edge.triedCount).toBe(4);
    expect(edge.ownCount).toBe(4);
  });
});

describe("a canary", () => {
  const canary = (
    check: NonNullable<Expectation["canary"]>["check"],
    plant?: string,
  ): Expectation => ({
    eitherShare: 0.02,
    canary: { check },
    ...(plant === undefined ? {} : { plant: { alteration: plant, amount: 2 } }),
  });

  it.each(ALTERATIONS.map(({ name, check }) => [name, check] as const))(
    "[JUDGE-024] with %s planted is right because %s finds it",
    (name, check) => {
      const one = cautionScene({ expectation: canary(check, name) });
      const flight = fly(one, CLIMB, EXTRA);
      const plain = makePlainJudge(cautionScene(), flight.truth());
      plain.take(flight.bytes);
      expect(plain.finish(flight.counters).isRight).toBe(true);
      const verdict = judged(one, flight);
      expect(verdict.isCanary).toBe(true);
      expect(verdict.isRight).toBe(true);
      expect(verdict.checks.some((one2) => one2.check === check && !one2.isRight)).toBe(true);
    },
  );

  it("[JUDGE-025] that nothing finds is wrong", () => {
    const one = cautionScene({ expectation: canary("speed", "level") });
    expect(judged(one, fly(one, CLIMB)).isRight).toBe(false);
    const bare = cautionScene({ expectation: canary("level") });
    expect(judged(bare, fly(bare, CLIMB)).isRight).toBe(false);
  });

  it("[JUDGE-026] whose check is wrong without it proves nothing, nor does an unknown alteration", () => {
    const one = cautionScene({ expectation: canary("level", "level") });
    const off = fly(one, (filter, step) => ({ ...CLIMB(filter, step), error: 0.1 }));
    const verdict = judged(one, off);
    expect(verdict.isRight).toBe(false);
    expect(verdict.checks.at(-1).why).toContain("wrong without the planted error");
    const unknown = cautionScene({ expectation: canary("level", "magic") });
    const said = judged(unknown, fly(unknown, CLIMB));
    expect(said.isRight).toBe(false);
    expect(said.checks.at(-1).why).toContain('no alteration is called "magic"; there are level,');
  });

  it("[JUDGE-027] of a statement or of the share that is open needs nothing planted", () => {
    const never: Expectation = { ...canary("expectation"), cautionNever: [{ filter: 0 }] };
    const one = cautionScene({ expectation: never });
    expect(judged(one, fly(one, CLIMB)).isRight).toBe(true);
    const open = cautionScene({ expectation: canary("decidable") });
    const straddling = fly(open, () => ({ level: 4.95, levelTol: 0.6 }));
    expect(judged(open, straddling).isRight).toBe(true);
  });
});
