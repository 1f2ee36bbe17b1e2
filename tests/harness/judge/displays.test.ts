import { describe, expect, it } from "vitest";
import * as L from "../../../shared/layout.ts";
import * as U from "../../../shared/units.ts";
import type { LevelRecord } from "../../../host/record-types.ts";
import type { CautionProfile, DisplayProfile, Scene } from "../../../harness/scene/scene.ts";
import { filterProfile, monitorProfile, scene } from "../../kit/scene-builder.ts";
import {
  CAUTION,
  CLIMB,
  cautionScene,
  eventsOf,
  inputRows,
  judged,
  named,
  notCaught,
  reportsOn,
  wrongOnes,
} from "./caution-flight.ts";
import type { Flight, Script, ScriptStep } from "./fake-flight.ts";
import { encode, fly } from "./fake-flight.ts";

const BASE = filterProfile().display;

function withCaution(over: Partial<CautionProfile>, display: Partial<DisplayProfile> = {}): Scene {
  const filter = filterProfile({
    display: { ...BASE, caution: { ...CAUTION, ...over }, ...display },
  });
  return cautionScene({ profile: monitorProfile({ filters: [filter] }) });
}

/** Three filters; the display of the first is made of the other two, or of itself and the second. */
function shared(source: DisplayProfile["source"]): Scene {
  const first = filterProfile({ name: "shared", display: { ...BASE, source, caution: CAUTION } });
  const others = ["left", "right"].map((name) => filterProfile({ name }));
  return scene({ profile: monitorProfile({ filters: [first, ...others] }), durationS: 30 });
}

/** The flight with some level records changed. */
function changed(
  flight: Flight,
  change: (record: LevelRecord) => Partial<LevelRecord>,
): Uint8Array {
  return encode(
    flight.records.map((record) =>
      record.kind === "level" ? { ...record, ...change(record) } : record,
    ),
  );
}

const LOST: Partial<ScriptStep> = { validity: U.FAILURE, cause: U.CAUSE_REFERENCE_LOST };
/** The number is lost on steps 100 to 119, during the caution. */
const LOSS: Script = (filter, step) => ({
  ...CLIMB(filter, step),
  ...(step >= 100 && step < 120 ? { ...LOST, isJudged: false } : {}),
});

describe("a number that is lost during a caution", () => {
  it("[JUDGE-050] ends the caution with an event of its own, is held, then blank", () => {
    const one = cautionScene();
    const verdict = judged(one, fly(one, LOSS));
    expect(wrongOnes(verdict)).toEqual([]);
    expect(eventsOf(verdict)).toContain("caution-ended-invalid");
    expect(verdict.filters[0]!.trace.shown).toContain(-1);
  });

  it("[JUDGE-051] keeps the caution while it is held where the policy says so", () => {
    const one = withCaution({ whenInvalid: "hold" });
    const flight = fly(one, LOSS);
    const verdict = judged(one, flight);
    expect(wrongOnes(verdict)).toEqual([]);
    const ended = verdict.events.find((event) => event.name === "caution-ended-invalid")!;
    expect(ended.timeS).toBeCloseTo(11, 9);
    // The same records are wrong under the other policy.
    expect(named(judged(cautionScene(), flight), "caution").isRight).toBe(false);
  });

  it("[JUDGE-052] is wrong where it is not marked, goes on changing, or never blanks", () => {
    const one = cautionScene();
    const flight = fly(one, LOSS);
    const step = (record: LevelRecord): number => Math.round(record.tick / 8_000_000);
    const unmarked = changed(flight, (record) =>
      step(record) === 100 ? { statusBits: record.statusBits & ~L.STATUS_HELD } : {},
    );
    expect(named(judged(one, flight, unmarked), "shown").why).toContain("marked live at 10 s");
    const moving = changed(flight, (record) => (step(record) === 103 ? { shownCounts: 56 } : {}));
    expect(named(judged(one, flight, moving), "shown").why).toContain("expected 5.5");
    const kept = changed(flight, (record) =>
      step(record) >= 110 && step(record) < 120
        ? { shownCounts: 55, statusBits: L.STATUS_HELD }
        : {},
    );
    expect(named(judged(one, flight, kept), "shown").why).toContain("expected blank");
  });

  it("[JUDGE-053] is found by every alteration, too", () => {
    for (const one of [cautionScene(), withCaution({ whenInvalid: "hold" })]) {
      const flight = fly(one, LOSS);
      expect(notCaught(reportsOn(one, flight))).toEqual([]);
    }
  });

  it("[JUDGE-054] may not say valid where the truth says lost", () => {
    const one = cautionScene();
    const flight = fly(one, LOSS);
    const healthy = fly(one, CLIMB);
    const validity = named(judged(one, { ...flight, bytes: healthy.bytes }), "validity");
    expect(validity.wrongCount).toBe(20);
    expect(validity.why).toBe(
      'fan order 1: validity is "valid" at 10 s, expected "failure (reference lost)"; ' +
        "20 of 299 steps wrong.",
    );
  });
});

describe("inputs from outside", () => {
  it.each([true, false])(
    "[JUDGE-055] an inhibit before and during a caution (delay runs on: %s) is followed",
    (delayRunsUnderInhibit) => {
      for (const [fromS, untilS] of [
        [4, 8],
        [6, 8],
        [14, 16],
      ] as const) {
        const inputs = inputRows([0, 0, 0], [fromS, 1, 0], [untilS, 0, 0]);
        const one = { ...withCaution({ delayRunsUnderInhibit }), inputs };
        const flight = fly(one, CLIMB);
        const verdict = judged(one, flight);
        expect(wrongOnes(verdict)).toEqual([]);
        expect(eventsOf(verdict)).toContain("inhibit-on");
        expect(notCaught(reportsOn(one, flight))).toEqual([]);
      }
    },
  );

  it("[JUDGE-056] an inhibit that is not heeded is wrong", () => {
    const inputs = inputRows([0, 0, 0], [6, 1, 0], [8, 0, 0]);
    const one = cautionScene();
    const flight = fly(one, CLIMB);
    const verdict = judged({ ...one, inputs }, flight);
    expect(named(verdict, "caution").why).toContain("the caution is on, must be off at 6 s");
    expect(named(verdict, "events").why).toContain(
      '"inhibit-on" expected at 6 s (inhibit set), none came',
    );
  });

  it("[JUDGE-057] an acknowledge counts while the caution is on, and only then", () => {
    const inputs = inputRows([0, 0, 0], [2, 0, 1], [3, 0, 0], [7, 0, 1], [8, 0, 0]);
    const one = cautionScene({ inputs });
    const flight = fly(one, CLIMB);
    const verdict = judged(one, flight);
    expect(wrongOnes(verdict)).toEqual([]);
    expect(eventsOf(verdict).filter((name) => name === "acknowledged")).toHaveLength(1);
    const unmarked = changed(flight, (record) => ({
      statusBits: record.statusBits & ~L.STATUS_ACKNOWLEDGED,
    }));
    expect(named(judged(one, flight, unmarked), "caution").why).toContain(
      '"acknowledged" is not set',
    );
  });
});

describe("a number made of several filters", () => {
  const levels: Script = (filter, step) => ({
    level: filter === 1 ? 4.02 : step >= 50 && step < 150 ? 5.52 : 3.02,
    levelTol: 0.004,
    ...(filter === 2 && step >= 100 && step < 120 ? LOST : {}),
  });

  it("[JUDGE-058] the greatest is that of the valid sources", () => {
    const one = shared({ kind: "greatest", filters: [1, 2] });
    const flight = fly(one, levels);
    const verdict = judged(one, flight);
    expect(wrongOnes(verdict)).toEqual([]);
    expect(eventsOf(verdict)).toContain("caution-off");
    expect(notCaught(reportsOn(one, flight))).toEqual([]);
  });

  it("[JUDGE-059] the greatest without a valid source is not valid, and says no source", () => {
    const one = shared({ kind: "greatest", filters: [1, 2] });
    const lost: Script = (filter, step) => ({
      ...levels(filter, step),
      ...(step >= 100 && step < 120
        ? { validity: U.NO_COMPUTED_DATA, cause: U.CAUSE_BELOW_MINIMUM_SPEED }
        : {}),
    });
    const flight = fly(one, lost);
    expect(wrongOnes(judged(one, flight))).toEqual([]);
    const own = changed(flight, (record) =>
      record.filter === 0 && record.cause === U.CAUSE_NO_SOURCE
        ? { cause: U.CAUSE_BELOW_MINIMUM_SPEED }
        : {},
    );
    expect(named(judged(one, flight, own), "validity").why).toContain("no source");
  });

  it("[JUDGE-060] a substitute serves while the filter itself is not valid, with an event", () => {
    const one = shared({ kind: "substitute", filter: 1 });
    const lost: Script = (filter, step) => ({
      level: filter === 0 ? 3.02 : 4.02,
      levelTol: 0.004,
      ...(filter === 0 && step >= 100 && step < 120 ? LOST : {}),
    });
    const flight = fly(one, lost);
    const verdict = judged(one, flight);
    expect(wrongOnes(verdict)).toEqual([]);
    expect(eventsOf(verdict)).toContain("substitute-on");
    expect(eventsOf(verdict)).toContain("substitute-off");
    const silent = changed(flight, (record) => ({
      statusBits: record.statusBits & ~L.STATUS_SUBSTITUTE,
    }));
    const validity = named(judged(one, flight, silent), "validity");
    expect(validity.why).toContain("no substitute serves a filter that is not valid");
  });
});

describe("what the truth leaves open", () => {
  it("[JUDGE-061] is undecidable beyond its share, and the terms of the tolerance are told", () => {
    const one = cautionScene();
    const straddling: Script = () => ({ level: 4.93, levelTol: 0.1 });
    const verdict = judged(one, fly(one, straddling));
    const decidable = named(verdict, "decidable");
    expect(decidable.isRight).toBe(false);
    expect(decidable.why).toContain("limit 2 %");
    expect(decidable.why).toContain("edge clock 0.095, single precision 0.005");
    expect(named(verdict, "caution").isRight).toBe(true);
    expect(verdict.filters[0]!.eitherShare).toBeGreaterThan(0.9);
    expect(verdict.filters[0]!.trace.cautionAllowed).toContain(2);
  });

  it("[JUDGE-062] allows a change inside it, and not one that the shown number rules out", () => {
    const one = cautionScene({ expectation: { eitherShare: 1 } });
    const late: Script = (_, step) => ({
      level: 4.95,
      levelTol: 0.1,
      error: step >= 60 && step < 160 ? 0.05 : -0.05,
    });
    const flight = fly(one, late);
    expect(wrongOnes(judged(one, flight))).toEqual([]);
    const dark = changed(flight, (record) => ({
      statusBits: record.statusBits & ~L.STATUS_CAUTION,
    }));
    const caution = named(judged(one, flight, dark), "caution");
    expect(caution.why).toContain("its own numbers say otherwise");
  });

  it("[JUDGE-063] leaves any number possible where the level is not judged", () => {
    const one = cautionScene({ expectation: { eitherShare: 1 } });
    const blind: Script = (_, step) => ({ level: 4.02, levelTol: 0.004, isJudged: step > 20 });
    const shown = named(judged(one, fly(one, blind)), "shown");
    expect(shown.isRight).toBe(true);
    // The number must still follow from the level of its own record.
    const flight = fly(one, blind);
    const off = changed(flight, (record) => (record.tick < 80_000_000 ? { shownCounts: 42 } : {}));
    expect(named(judged(one, flight, off), "shown").isRight).toBe(false);
  });
});

describe("a display without a caution", () => {
  it("[JUDGE-064] says nothing of one", () => {
    const one = scene({ durationS: 30 });
    const flight = fly(one, CLIMB);
    expect(wrongOnes(judged(one, flight))).toEqual([]);
    const lit = changed(flight, (record) => ({ statusBits: record.statusBits | L.STATUS_CAUTION }));
    expect(named(judged(one, flight, lit), "caution").why).toContain("none is configured");
  });
});
