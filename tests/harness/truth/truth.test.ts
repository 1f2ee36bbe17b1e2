import { describe, expect, it } from "vitest";
import type { Envelope } from "../../../harness/scene/scene.ts";
import { knotsPerCycle } from "../../../harness/truth/edge-jitter.ts";
import { randomFactor, SUITE_CASES } from "../../../harness/truth/random-factor.ts";
import { ReferenceTruth } from "../../../harness/truth/reference.ts";
import { MotionTruth } from "../../../harness/truth/shaft-motion.ts";
import { makeTruth } from "../../../harness/truth/truth.ts";
import { allowedOf } from "../../../harness/truth/validity-truth.ts";
import type { ValidityFacts } from "../../../harness/truth/validity-truth.ts";
import * as U from "../../../shared/units.ts";
import { suiteCases, suiteFiles } from "../../kit/regression-suite.ts";
import * as kit from "../../kit/scene-builder.ts";

const CLOCK_HZ = 80_000_000;

/** Boundaries of the builder's dwell: 80 rev/s from an angle of 0.123 rev. */
function boundaryTick(c: number): number {
  return Math.floor(((c - 0.123) / 80) * CLOCK_HZ);
}

describe("truth of a scene", () => {
  it("[TRUTH-050] judges nothing before an acquisition, and allows it only by the rules", () => {
    const truth = makeTruth(kit.scene());
    expect(truth.step(0, 1).isJudged).toBe(false);
    // Three cycles from the first edge lock; two more make the first vector.
    expect(truth.acquired(0, 2, boundaryTick(5), 3).isAllowed).toBe(false);
    const late = makeTruth(kit.scene());
    expect(late.acquired(0, 60, boundaryTick(470), 2).isAllowed).toBe(false);
    // The same one, told a step after its first vector stood.
    const told = makeTruth(kit.scene());
    expect(told.acquired(0, 2, boundaryTick(16), 11)).toEqual({
      isAllowed: false,
      why: "but the level stood at the step before",
    });
    const right = makeTruth(kit.scene());
    expect(right.acquired(0, 1, boundaryTick(8), 3).isAllowed).toBe(true);
    const step = right.step(0, 1);
    expect(step.isJudged).toBe(true);
    expect(step.level).toBeCloseTo(10 / (2 * Math.PI * 80) / 0.0254, 9);
    // A velocity from acceleration reads 90° more.
    expect(step.phaseLagDeg).toBeCloseTo(120, 6);
    expect(step.speedRevPerS).toBeCloseTo(80, 9);
  });

  it("[TRUTH-051] refuses an acquisition beside the index", () => {
    const profile = kit.monitorProfile({
      shafts: [kit.shaftProfile({ positions: 60, index: "missing-tooth" })],
    });
    const truth = makeTruth(kit.scene({ profile }));
    const beside = boundaryTick(12) + Math.round(CLOCK_HZ / 80 / 60);
    expect(truth.acquired(0, 2, beside, 5)).toEqual({
      isAllowed: false,
      why: "but that is 1 positions beside the index",
    });
  });

  it("[TRUTH-052] takes the record's own revolution where two may count, else covers both", () => {
    // 80 rev/s from an angle at which a boundary passes one sample before step 10.
    const limitS = (10 * 1280 - 1) / 12_800;
    const startAngleRev = 1 - ((limitS * 80) % 1);
    const lines: Envelope = {
      kind: "lines",
      rows: [
        { timeS: 0, amplitudePk: 1, phaseLagRad: 0 },
        { timeS: 10, amplitudePk: 50, phaseLagRad: 0 },
      ],
    };
    const made = (): ReturnType<typeof makeTruth> => {
      const truth = makeTruth(
        kit.scene({
          shafts: [kit.shaftMotion({ startAngleRev })],
          channels: [kit.channelSignal([kit.orderWith(lines)])],
        }),
      );
      const at = Math.ceil(startAngleRev + 0.15 * 80);
      const tick = Math.floor(((at - startAngleRev) / 80) * CLOCK_HZ);
      expect(truth.acquired(0, 2, tick, 7).isAllowed).toBe(true);
      return truth;
    };
    const tickOf = (timeS: number): number => Math.floor(timeS * CLOCK_HZ);
    const both = made().step(0, 10);
    const newer = made().step(0, 10, tickOf(limitS));
    const older = made().step(0, 10, tickOf(limitS - 1 / 80));
    expect(newer.level).toBeGreaterThan(older.level + 1e-4);
    expect(both.levelTol).toBeGreaterThanOrEqual(newer.level - older.level);
    expect(newer.levelTol).toBeLessThan(1e-4);
  });

  it("[TRUTH-053] names every term, and their sum is the tolerance", () => {
    const truth = makeTruth(
      kit.scene({
        channels: [kit.channelSignal([kit.orderComponent(1, 10), { kind: "noise", rms: 1 }])],
      }),
    );
    truth.acquired(0, 2, boundaryTick(12), 7);
    const { levelTol, terms = [] } = truth.step(0, 2);
    const sum = terms.reduce((all, term) => all + term.value, 0);
    expect(Math.abs(levelTol - sum)).toBeLessThan(levelTol * 1e-12);
    expect(new Set(terms.map((term) => term.name)).size).toBe(terms.length);
    expect(terms.map((term) => term.name)).toContain("edge clock");
    expect(terms.map((term) => term.name)).toContain("white noise");
    // 2·A·n/fclk in the channel's quantity, over ω and in in/s.
    const clock = (2 * 10 * 80) / CLOCK_HZ / (2 * Math.PI * 80) / 0.0254;
    expect(terms.find((term) => term.name === "edge clock")?.value).toBeCloseTo(clock, 12);
  });

  it("[TRUTH-054] A-25: the factor on random terms leaves a suite wrong once in 10⁵ runs", () => {
    const factor = randomFactor(60, 0.25, 1);
    const looks = 60 * 4 * SUITE_CASES;
    // The suite that ships is no larger than the one that the factor is for.
    expect(suiteFiles().flatMap(suiteCases).length).toBeLessThanOrEqual(SUITE_CASES);
    expect(looks * Math.exp(-0.5 * factor * factor)).toBeCloseTo(1e-5, 12);
    expect(factor).toBeGreaterThan(6);
    expect(factor).toBeLessThan(7);
  });

  it("[TRUTH-055] says found and lost with their windows for a drop-out", () => {
    const profile = kit.monitorProfile({ shafts: [kit.shaftProfile({ positions: 6 })] });
    const motion = kit.shaftMotion({
      wheel: kit.fittedWheel({ positions: 6 }),
      faults: [{ kind: "drop-out", fromS: 4, untilS: 6 }],
    });
    const scene = kit.scene({ profile, shafts: [motion] });
    const reference = new ReferenceTruth(scene, 0, new MotionTruth(motion));
    expect(reference.spans).toHaveLength(2);
    const lastEdgeS = (Math.floor((4 * 80 + 0.123) * 6) / 6 - 0.123) / 80;
    expect(reference.spans[0]!.lostFromS).toBeCloseTo(lastEdgeS + 0.35, 5);
    expect(reference.at(5)).toBe("no");
    expect(reference.at(3)).toBe("yes");
    expect(reference.at(6.01)).toBe("no");
    expect(reference.at(6.2)).toBe("yes");
    const codes = makeTruth(scene)
      .events()
      .map(({ code, isOptional }) => `${code}${isOptional === true ? "?" : ""}`);
    const [found, lost] = [U.EVENT_REFERENCE_FOUND, U.EVENT_REFERENCE_LOST];
    expect(codes).toEqual([`${found}`, `${lost}`, `${found}`]);
  });

  it("[TRUTH-056] knots: the fewest, at least 12, that divide the wheel; else every edge", () => {
    expect([1, 6, 11, 12, 13, 36, 52, 60, 120].map(knotsPerCycle)).toEqual([
      1, 6, 11, 12, 13, 12, 13, 12, 12,
    ]);
  });

  it("[TRUTH-057] refuses to make a component that would have to be integrated", () => {
    const profile = kit.monitorProfile({
      channels: [kit.channelProfile({ quantity: "velocity" })],
    });
    expect(() => makeTruth(kit.scene({ profile }))).toThrow(/cannot be made/);
  });
});

describe("validities that are right", () => {
  const good: ValidityFacts = {
    test: "no",
    transducer: "no",
    reference: "yes",
    hasBeenFound: "yes",
    evidence: "no",
    belowMinimum: "no",
    responseLow: "no",
    settled: "yes",
  };
  const rows: [string, Partial<ValidityFacts>, [number, number][]][] = [
    ["all is well", {}, [[U.VALID, U.CAUSE_NONE]]],
    [
      "a test outranks a failed transducer",
      { test: "yes", transducer: "yes" },
      [[U.FUNCTIONAL_TEST, U.CAUSE_FUNCTIONAL_TEST]],
    ],
    [
      "a reference lost with evidence of turning is a failure",
      { reference: "no", evidence: "yes" },
      [[U.FAILURE, U.CAUSE_REFERENCE_LOST]],
    ],
    [
      "lost without evidence is a standstill",
      { reference: "no" },
      [[U.NO_COMPUTED_DATA, U.CAUSE_STOPPED]],
    ],
    [
      "never found is no reference",
      { reference: "no", hasBeenFound: "no" },
      [[U.NO_COMPUTED_DATA, U.CAUSE_NO_REFERENCE]],
    ],
    [
      "perhaps failed leaves both open",
      { transducer: "maybe" },
      [
        [U.FAILURE, U.CAUSE_TRANSDUCER],
        [U.VALID, U.CAUSE_NONE],
      ],
    ],
    [
      "perhaps below the minimum, surely not settled",
      { belowMinimum: "maybe", settled: "no" },
      [
        [U.NO_COMPUTED_DATA, U.CAUSE_BELOW_MINIMUM_SPEED],
        [U.NO_COMPUTED_DATA, U.CAUSE_SETTLING],
      ],
    ],
  ];
  it.each(rows)("[TRUTH-058] %s", (_, facts, expected) => {
    const found = allowedOf({ ...good, ...facts });
    expect(found.map(({ validity, cause }) => [validity, cause])).toEqual(expected);
  });
});
