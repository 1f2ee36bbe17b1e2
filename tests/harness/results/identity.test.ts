import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { canonicalJson } from "../../../harness/results/canonical-json.ts";
import { caseIdentity } from "../../../harness/results/identity.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { scene as builtScene } from "../../kit/scene-builder.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const CORE = { kind: "core", identity: "0011223344556677" };

describe("identity of a case", () => {
  it("[RES-001] is 16 hex digits and the same for the same work, however its keys are ordered", () => {
    const scene = builtScene();
    const turned = Object.fromEntries(Object.entries(scene).toReversed()) as unknown as Scene;
    expect(caseIdentity(scene, CORE)).toMatch(/^[0-9a-f]{16}$/);
    expect(caseIdentity(turned, CORE)).toBe(caseIdentity(scene, CORE));
  });

  const changes: [string, (scene: Scene) => void][] = [
    ["the seed", (scene) => (scene.seed += 1)],
    ["the profile", (scene) => (scene.profile.filters[0]!.display.step *= 2)],
    ["the speed", (scene) => (scene.shafts[0]!.speed[0]!.revPerS += 1e-12 + 1e-9)],
    ["the expectation", (scene) => (scene.expectation.eitherShare = 0.5)],
    ["the name", (scene) => (scene.name += "x")],
  ];
  it.each(changes)("[RES-002] moves with %s", (_name, change) => {
    const scene = builtScene();
    const before = caseIdentity(scene, CORE);
    change(scene);
    expect(caseIdentity(scene, CORE)).not.toBe(before);
  });

  it("[RES-003] moves with the core and with the kind of target", () => {
    const scene = builtScene();
    const ids = [
      caseIdentity(scene, CORE),
      caseIdentity(scene, { ...CORE, identity: "0011223344556678" }),
      caseIdentity(scene, { ...CORE, kind: "serial" }),
    ];
    expect(new Set(ids).size).toBe(3);
  });

  it("[RES-004] canonical text reads back as the value, for any plain data", () => {
    fc.assert(
      fc.property(fc.jsonValue(), (value) => {
        expect(JSON.parse(canonicalJson(value))).toEqual(JSON.parse(JSON.stringify(value)));
      }),
      { seed: TEST_SEED },
    );
  });

  it("[RES-005] tells infinities and NaN apart, which JSON would not", () => {
    const texts = [Infinity, -Infinity, Number.NaN, null].map((value) => canonicalJson([value]));
    expect(new Set(texts).size).toBe(4);
  });
});
