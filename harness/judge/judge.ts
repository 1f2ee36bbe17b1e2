// The judge of one case: of the records as they stand, or with what the scene asks to be planted.
import type { Scene } from "../scene/scene.ts";
import type { SceneTruth } from "../truth/types.ts";
import { PlantingJudge } from "./planting-judge.ts";
import type { Judge } from "./streaming-judge.ts";
import { makePlainJudge } from "./streaming-judge.ts";

export type { Judge } from "./streaming-judge.ts";

/**
 * A judge that takes a case's records in pieces of any size and gives its verdict at the end.
 *
 * Effect    calls the truth once for each filter and display step; memory does not grow with the
 *           flight, except where an error is to be planted (a canary, kept whole)
 */
export function makeJudge(scene: Scene, truth: SceneTruth): Judge {
  const isPlanted = scene.expectation.plant !== undefined;
  return isPlanted ? new PlantingJudge(scene, truth) : makePlainJudge(scene, truth);
}
