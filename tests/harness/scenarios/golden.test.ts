// What the firmware answers to the suite, to the bit (golden.json). A change of one of these is
// explained in its commit and moves NUMERICS_VERSION. The waveforms are the same bits everywhere.
import { describe, expect, it } from "vitest";
import { NUMERICS_VERSION } from "../../../shared/layout.ts";
import { digestOfFile, goldenSet } from "../../kit/golden-set.ts";
import { suiteFiles } from "../../kit/regression-suite.ts";

const GOLDEN = goldenSet();

describe.each(["release", "debug"] as const)("golden set on the %s build", (build) => {
  it(`[CORE-060] ${build} belongs to the numerics version that it was frozen for`, () => {
    expect(NUMERICS_VERSION).toBe(GOLDEN.numericsVersion);
    expect(Object.keys(GOLDEN.digests)).toEqual(suiteFiles());
  });

  it.each(suiteFiles())("[CORE-061] %s gives the frozen bytes", async (file) => {
    expect(await digestOfFile(file, build)).toBe(GOLDEN.digests[file]);
  });
});
