// Identity of a case: the same work has the same id on every machine and in every shard.
import { createHash } from "node:crypto";
import type { Scene } from "../scene/scene.ts";
import { canonicalJson } from "./canonical-json.ts";
import { RESULTS_VERSION } from "./types.ts";

/** First 16 hex digits of SHA-256 over profile, scenario, seed, core, target kind, version. */
export function caseIdentity(scene: Scene, target: { kind: string; identity: string }): string {
  const { profile, seed, ...scenario } = scene;
  const work = {
    profile,
    scenario,
    seed,
    core: target.identity,
    targetKind: target.kind,
    resultsVersion: RESULTS_VERSION,
  };
  return createHash("sha256").update(canonicalJson(work)).digest("hex").slice(0, 16);
}
