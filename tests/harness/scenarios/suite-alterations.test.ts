// The suite must be able to fail: each case judged again with altered records.
import { describe, expect, it } from "vitest";
import { judgeAlterations } from "../../../harness/judge/alteration-run.ts";
import { ALTERATIONS } from "../../../harness/judge/alterations.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { makeTruth } from "../../../harness/truth/truth.ts";
import { loadCore, playScene } from "../../kit/play-scene.ts";
import { suiteCases, suiteFiles } from "../../kit/regression-suite.ts";

/**
 * Longer flights are left out: each alteration judges a flight again at up to sixteen places, and
 * what these flights ask is asked of shorter ones, too.
 */
const DURATION_S_MAX = 120;

const isAltered = (scene: Scene): boolean =>
  scene.expectation.canary === undefined && scene.durationS <= DURATION_S_MAX;
const files = suiteFiles().filter((file) => suiteCases(file).some(isAltered));

const core = loadCore();
const applied = new Map<string, number>();

describe("altered records", () => {
  it.each(files)("[SUITE-020] every alteration of %s turns the verdict wrong", async (file) => {
    for (const scene of suiteCases(file)) {
      if (scene.expectation.canary !== undefined || scene.durationS > DURATION_S_MAX) continue;
      const { records, counters } = await playScene(scene, { core });
      const reports = judgeAlterations(scene, makeTruth(scene), records, counters);
      expect(reports.length).toBe(ALTERATIONS.length);
      for (const report of reports) {
        if (report.notApplicable !== undefined) {
          expect(report.placeCount, report.notApplicable).toBe(0);
          continue;
        }
        applied.set(report.name, (applied.get(report.name) ?? 0) + report.triedCount);
        expect(report.notCaught, `${scene.name}: ${report.name}`).toEqual([]);
        expect(report.caughtCount, `${scene.name}: ${report.name}`).toBe(report.triedCount);
      }
    }
  });

  it("[SUITE-021] every alteration applied to some case", () => {
    const never = ALTERATIONS.map((one) => one.name).filter((name) => !applied.has(name));
    expect(never).toEqual([]);
  });
});
