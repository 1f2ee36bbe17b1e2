// The whole regression suite, on both builds, judged by the product's own way.
import { describe, expect, it } from "vitest";
import { runCase } from "../../../harness/run/run-case.ts";
import { CASE_PARTS } from "../../../harness/run/case-parts.ts";
import { CHECKS } from "../../../harness/scenario/expect-schema.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { CoreTarget } from "../../../harness/target/core-target.ts";
import { loadCore } from "../../kit/play-scene.ts";
import { suiteCases, suiteFiles } from "../../kit/regression-suite.ts";

const FILES_MIN = 60;
/** A tolerance over this share of the greatest level needs a reason in the file. */
const TOLERANCE_SHARE_MAX = 0.01;
const TOLERANCE_SHARE_NOISE_MAX = 0.05;

const files = suiteFiles();

function hasNoise(scene: Scene): boolean {
  return scene.channels.some((channel) => channel.components.some((one) => one.kind === "noise"));
}

describe("the regression suite", () => {
  it("[SUITE-001] has sixty scenarios or more, each named by its question", () => {
    expect(files.length).toBeGreaterThanOrEqual(FILES_MIN);
    const question =
      /\/(are|does|do|is|how|what|which|can|may|will|has|have)-[a-z0-9-]+\.scenario\.yaml$/;
    expect(files.filter((file) => !question.test(`/${file}`))).toEqual([]);
  });

  it("[SUITE-002] asks in each file, and gives each case a name of its own", () => {
    const scenes = files.flatMap(suiteCases);
    expect(scenes.filter((scene) => !scene.question.trim().endsWith("?"))).toEqual([]);
    const names = scenes.map((scene) => scene.name);
    expect(new Set(names).size).toBe(names.length);
  });

  it("[SUITE-003] has a canary for each check of a verdict", () => {
    const canaries = files.flatMap(suiteCases).map((scene) => scene.expectation.canary?.check);
    expect(CHECKS.filter((check) => !canaries.includes(check))).toEqual([]);
  });
});

describe.each(["release", "debug"] as const)("on the %s build", (build) => {
  const core = loadCore(build);

  it.each(files)("[SUITE-010] %s is judged right", async (file) => {
    for (const scene of suiteCases(file)) {
      const target = new CoreTarget(core);
      const signal = new AbortController().signal;
      const { verdict } = await runCase(scene, target, signal, CASE_PARTS);
      const wrong = verdict.checks.filter((check) => !check.isRight).map((check) => check.why);
      expect(verdict.isRight, `${scene.name}: ${wrong.join(" ")}`).toBe(true);
      const { canary, toleranceReason } = scene.expectation;
      if (canary !== undefined) {
        const found = verdict.checks.some((one) => one.check === canary.check && !one.isRight);
        expect(found, `${scene.name}: the canary's own check`).toBe(true);
      }
      const share = hasNoise(scene) ? TOLERANCE_SHARE_NOISE_MAX : TOLERANCE_SHARE_MAX;
      for (const filter of verdict.filters) {
        if (filter.toleranceShare <= share) continue;
        const told = `${scene.name}, ${filter.name}: ${(filter.toleranceShare * 100).toFixed(2)} %`;
        expect(toleranceReason, `${told} of the level needs a tolerance reason`).toBeTruthy();
      }
    }
  });
});
