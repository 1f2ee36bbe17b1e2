// The golden set of the numerics: what the firmware answers, to the bit. A change of one of these is
// explained in its commit and moves NUMERICS_VERSION. The waveforms are the same bits everywhere.
import { createHash } from "node:crypto";
import { describe, expect, it } from "vitest";
import { NUMERICS_VERSION } from "../../../shared/layout.ts";
import { playScene } from "../../kit/play-scene.ts";
import { suiteCases } from "../../kit/regression-suite.ts";

/** One digest for each file: SHA-256 over the records of all its cases, first 16 hex digits. */
const GOLDEN_NUMERICS_VERSION = 1;
const GOLDEN: [file: string, digest: string][] = [
  ["dwell/does-a-geared-tachometer-read-the-shaft.scenario.yaml", "6fce4af175a78dcb"],
  [
    "ramps/are-corners-of-the-speed-within-their-bound-at-one-edge-a-revolution.scenario.yaml",
    "fd22360314a49001",
  ],
  [
    "rotor/does-a-blade-that-binds-at-speed-show-as-a-step-of-the-vector.scenario.yaml",
    "86b4b62132ae5745",
  ],
  ["company/does-a-hum-that-the-speed-crosses-read-as-computed.scenario.yaml", "76c5236e88167579"],
  ["tracking/are-eight-filters-at-once-each-right.scenario.yaml", "9382ebe839d6a1bb"],
  ["steps/does-a-slow-turn-of-the-vector-stay-in-phase.scenario.yaml", "56b3f874b729248f"],
  [
    "disturbance/does-a-coarse-converter-cost-no-more-than-its-step.scenario.yaml",
    "633b291cab042e7c",
  ],
  ["caution/does-a-caution-without-delay-come-and-go-at-once.scenario.yaml", "3d5f22b417c9545c"],
  ["tachometer/are-missed-edges-bridged-at-one-a-revolution.scenario.yaml", "4d37c90e2d0e1943"],
  [
    "transducer/are-samples-that-are-no-numbers-counted-and-dropped.scenario.yaml",
    "6631a2e2cd76bea6",
  ],
  ["validity/does-a-caution-end-or-hold-when-the-number-goes.scenario.yaml", "7c45ae5ae45e477d"],
  ["inputs/do-inhibit-and-acknowledge-together-keep-apart.scenario.yaml", "af1569246ee9c40a"],
];

async function digestOf(file: string, build: "release" | "debug"): Promise<string> {
  const hash = createHash("sha256");
  for (const made of suiteCases(file)) hash.update((await playScene(made, { build })).records);
  return hash.digest("hex").slice(0, 16);
}

describe.each(["release", "debug"] as const)("golden set on the %s build", (build) => {
  it(`[CORE-060] ${build} belongs to the numerics version that it was frozen for`, () => {
    expect(NUMERICS_VERSION).toBe(GOLDEN_NUMERICS_VERSION);
  });

  it.each(GOLDEN)("[CORE-061] %s gives the frozen bytes", async (file, digest) => {
    expect(await digestOf(file, build)).toBe(digest);
  });
});
