// The build with SIMD against the golden set, which is frozen from the scalar one.
import { describe, expect, it } from "vitest";
import { builtInBuild, builtInCore } from "../../../host/built-in-core.ts";
import { coreIdentity } from "../../../host/core.ts";
import { readFileSync } from "node:fs";
import { releaseCorePath, simdCorePath } from "../../../host/package-root.ts";
import { digestOfFile, goldenSet } from "../../kit/golden-set.ts";
import { suiteFiles } from "../../kit/regression-suite.ts";

const GOLDEN = goldenSet();

describe("golden set on the build with SIMD", () => {
  it.each(suiteFiles())("[CORE-073] %s gives the frozen bytes", async (file) => {
    expect(await digestOfFile(file, "simd")).toBe(GOLDEN.digests[file]);
  });
});

describe("the built-in firmware", () => {
  it("[CORE-074] is the build with SIMD where the machine takes it, known by the scalar bytes", () => {
    const isTaken = WebAssembly.validate(readFileSync(simdCorePath()));
    expect(builtInBuild()).toBe(isTaken ? "simd" : "scalar");
    expect(builtInCore().identity).toBe(coreIdentity(readFileSync(releaseCorePath())));
  });
});
