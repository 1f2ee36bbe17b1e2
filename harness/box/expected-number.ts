// What a box should show at each display step of a scenario: the truth of its filter, in display units.
import { releaseCorePath } from "../../host/package-root.ts";
import { Core } from "../../host/core.ts";
import { VALID } from "../../shared/units.ts";
import { makePlainJudge } from "../judge/streaming-judge.ts";
import { CASE_PARTS } from "../run/case-parts.ts";
import { runCase } from "../run/run-case.ts";
import type { FilterProfile, Scene } from "../scene/scene.ts";
import { CoreTarget } from "../target/core-target.ts";
import type { DeviceSpecification } from "./device-file.ts";

/** Full width of the truth where the box's own is not known: quick, so that it follows the input. */
const QUICK_WIDTH_HZ = 4;

export interface ExpectedStep {
  timeS: number;
  /** False where nothing is known: start, drop-out, settling of the truth. */
  isKnown: boolean;
  /** Display units. */
  number: number;
  tolerance: number;
  speedRevPerS: number;
  speedTolerance: number;
  /** What the caution may be by the profile's own delays: 0 off, 1 on, 2 either. */
  caution: 0 | 1 | 2;
}

/** Display units per level unit at a speed: straight between rows, held at the ends. */
export function scaleAt({ display }: FilterProfile, speedRevPerS: number): number {
  const { scale } = display;
  const after = scale.findIndex((row) => row.speedRevPerS > speedRevPerS);
  if (after === 0) return scale[0]!.factor;
  if (after < 0) return scale.at(-1)!.factor;
  const [a, b] = [scale[after - 1]!, scale[after]!];
  const share = (speedRevPerS - a.speedRevPerS) / (b.speedRevPerS - a.speedRevPerS);
  return a.factor + share * (b.factor - a.factor);
}

/** The scene with the box's own filter in place of the profile's, and nothing that smooths. */
function boxScene(scene: Scene, { filter }: DeviceSpecification): Scene {
  const fullWidthHz = filter?.fullWidthHz ?? QUICK_WIDTH_HZ;
  return {
    ...scene,
    profile: {
      ...scene.profile,
      filters: scene.profile.filters.map((one) => ({
        ...one,
        bandwidth: { kind: "fixed", fullWidthHz },
        display: { ...one.display, smoothingS: 0, source: { kind: "own" } },
      })),
    },
    expectation: { eitherShare: 1 },
  };
}

/**
 * The expected number of every filter, step by step. Where the recursion starts is within what the
 * definition allows; the built-in core says where.
 *
 * Errors    of the run; AbortError
 */
export async function expectedNumbers(
  scene: Scene,
  device: DeviceSpecification,
  signal: AbortSignal,
): Promise<ExpectedStep[][]> {
  const made = boxScene(scene, device);
  const all: ExpectedStep[][] = made.profile.filters.map(() => []);
  await runCase(made, new CoreTarget(Core.fromFile(releaseCorePath())), signal, {
    ...CASE_PARTS,
    makeJudge: (one, truth) =>
      makePlainJudge(one, truth, ({ filter, timeS, truth: step, cautionAllowed }) => {
        const speed = step.speedNowRevPerS;
        const scale = scaleAt(one.profile.filters[filter]!, speed);
        all[filter]!.push({
          timeS,
          isKnown: step.isJudged && step.allowed.every(({ validity }) => validity === VALID),
          number: step.level * scale,
          tolerance: step.levelTol * scale,
          speedRevPerS: speed,
          speedTolerance: step.speedNowTolRevPerS ?? step.speedTolRevPerS,
          caution: cautionAllowed,
        });
      }),
  });
  return all;
}
