import { xoroshiro128plus } from "pure-rand/generator/xoroshiro128plus";
import { describe, expect, test } from "vitest";
import { TEST_SEED } from "../kit/seed.ts";
import { CautionModel, type ModelInput, type ModelProfile } from "./kit/caution-model.ts";
import { cautionStep, configureCaution } from "./kit/caution-stage.ts";
import { openStage, STAGE_BUILDS } from "./kit/stage.ts";

const PROFILES = 200;
const STEPS = 500; // 100,000 steps in all

describe.each(STAGE_BUILDS)("caution against its model, %s build", async (build) => {
  const stage = await openStage(build);

  test("[CAUT-020] equals an independent table of states on 100,000 steps", () => {
    const source = xoroshiro128plus(TEST_SEED);
    const below = (n: number): number => (source.next() >>> 0) % n;
    const seen = new Set<number>();
    for (let p = 0; p < PROFILES; p++) {
      const levelCounts = 1 + below(60);
      const profile: ModelProfile = {
        levelCounts,
        hysteresisCounts: below(Math.min(levelCounts, 8)),
        onDelaySteps: [0, 1, 2, 3, 12][below(5)]!,
        offDelaySteps: [0, 1, 2, 5, 20][below(5)]!,
        delayRunsUnderInhibit: below(2) === 1,
        whenInvalid: below(2) === 1 ? "hold" : "end",
      };
      configureCaution(stage, profile);
      const model = new CautionModel(profile);
      let counts = levelCounts;
      let missing = 0;
      let isInhibited = false;
      for (let step = 0; step < STEPS; step++) {
        counts = Math.max(0, Math.min(levelCounts + 10, counts + below(7) - 3));
        if (below(3) === 0) counts = levelCounts - below(2) * (profile.hysteresisCounts + 1);
        missing = missing > 0 ? missing - 1 : below(40) === 0 ? 1 + below(6) : 0;
        if (below(25) === 0) isInhibited = !isInhibited;
        const input: ModelInput = {
          number: missing === 0 ? counts : missing > 2 ? "held" : "blank",
          isInhibited,
          acknowledgeRose: below(10) === 0,
        };
        const wanted = model.step(input);
        const found = cautionStep(stage, input, counts);
        for (const code of found.events) seen.add(code);
        expect(found, `profile ${JSON.stringify(profile)}, step ${step}`).toEqual(wanted);
      }
    }
    // Every event of a caution occurred, or the comparison would have passed over it.
    expect([...seen].toSorted((a, b) => a - b)).toEqual([10, 11, 12, 13, 14, 15]);
  });
});
