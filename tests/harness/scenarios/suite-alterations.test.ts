// The suite must be able to fail: each case judged again with altered records.
import { afterAll, describe, expect, it } from "vitest";
import { decodeRecords } from "../../../host/records.ts";
import { VALID } from "../../../shared/units.ts";
import { ALTERATIONS } from "../../../harness/judge/alterations.ts";
import { makeTruth } from "../../../harness/truth/truth.ts";
import type { AlterationReport } from "../../kit/judge-alterations.ts";
import { judgeAlterations } from "../../kit/judge-alterations.ts";
import { loadCore, playScene } from "../../kit/play-scene.ts";
import { suiteCases, suiteFiles } from "../../kit/regression-suite.ts";

const core = loadCore();

/** Of one alteration over the whole suite. */
interface Tally {
  appliedCount: number;
  triedCount: number;
  /** Cases it does not apply to, by reason. */
  without: Map<string, number>;
}

const tallies = new Map<string, Tally>(
  ALTERATIONS.map(({ name }) => [name, { appliedCount: 0, triedCount: 0, without: new Map() }]),
);

afterAll(() => {
  for (const [name, { appliedCount, triedCount, without }] of tallies) {
    const reasons = [...without].map(([why, count]) => `${count} cases: ${why}`).join("; ");
    const rest = reasons === "" ? "" : `; not in ${reasons}`;
    process.stdout.write(`${name}: tried ${triedCount} times in ${appliedCount} cases${rest}\n`);
  }
});

/** Alterations by which a number does not come, or not in time. */
const ABSENCES = ["never-computed", "computed-late", "valid-late"];

/**
 * Where the truth is at no step sure that the number must be valid by now: a check of the
 * transducer, a response or a reference may go one way or the other: no place for "valid-late".
 */
const NEVER_SURE: readonly string[] = [
  "transducer/is-a-clipped-signal-a-failed-transducer[a third over the range in flight]",
  "transducer/is-a-level-greater-than-the-whole-signal-a-fault",
  "transducer/is-a-saturated-converter-a-failed-transducer[a third over the range in flight]",
  "transducer/is-a-shaft-of-few-cycles-a-period-within-what-its-checks-may-say[broadband 1.2]",
  "transducer/is-a-shaft-of-few-cycles-a-period-within-what-its-checks-may-say[flat]",
  "transducer/is-the-level-of-a-clipped-sine-its-closed-form[a third over]",
  "transducer/is-the-level-of-a-clipped-sine-its-closed-form[twice over]",
  "transducer/is-the-level-of-a-clipped-sine-its-closed-form[just under]",
  "validity/does-the-other-shaft-show-turning[the core stands]",
  "validity/is-a-frequency-beyond-the-channel-refused",
];

function showsNumber(records: Uint8Array): boolean {
  return decodeRecords(records).some((one) => one.kind === "level" && one.validity === VALID);
}

/** Those of the named alterations that had no place. */
function missing(reports: AlterationReport[], names: string[]): string[] {
  return reports
    .filter((one) => names.includes(one.name) && one.notApplicable !== undefined)
    .map((one) => one.name);
}

describe("altered records", () => {
  it.each(suiteFiles())(
    "[SUITE-020] every alteration of %s turns the verdict wrong",
    async (file) => {
      for (const scene of suiteCases(file)) {
        // A canary's records are altered already.
        if (scene.expectation.canary !== undefined) continue;
        const { records, counters } = await playScene(scene, { core });
        const reports = judgeAlterations(scene, () => makeTruth(scene), records, counters);
        expect(reports.length).toBe(ALTERATIONS.length);
        // A case that shows a number must show it in time.
        if (showsNumber(records)) {
          const open = NEVER_SURE.includes(scene.name) ? ["valid-late"] : [];
          expect(missing(reports, ABSENCES), scene.name).toEqual(open);
        }
        for (const report of reports) {
          const told = `${scene.name}: ${report.name}`;
          const tally = tallies.get(report.name)!;
          const { notApplicable } = report;
          if (notApplicable !== undefined) {
            expect(report.placeCount, notApplicable).toBe(0);
            tally.without.set(notApplicable, (tally.without.get(notApplicable) ?? 0) + 1);
            continue;
          }
          tally.appliedCount += 1;
          tally.triedCount += report.triedCount;
          expect(report.triedCount, told).toBeGreaterThan(0);
          expect(report.notCaught, told).toEqual([]);
          expect(report.caughtCount, told).toBe(report.triedCount);
          // Each event is left out once, however many there are.
          if (report.name === "event-missing") expect(report.triedCount).toBe(report.placeCount);
        }
      }
    },
  );

  it("[SUITE-021] every alteration applied to some case", () => {
    const never = [...tallies].filter(([, tally]) => tally.appliedCount === 0);
    expect(never.map(([name]) => name)).toEqual([]);
  });
});
